"""What a person can mend: the one error that commands and panels show as it is."""

from __future__ import annotations

__all__ = ["Refusal"]

_LONGEST_MESSAGE = 600


class Refusal(ValueError):  # noqa: N818 - nothing went wrong in here
    r"""What a person can mend, in one sentence.

    What the sentence quotes of theirs can't break its line or command a terminal.

    Examples
    --------
    >>> print(Refusal("no plan in two\nlines"))
    no plan in two\nlines
    """

    def __init__(self, message: str) -> None:
        shown = "".join(c if c.isprintable() else ascii(c)[1:-1] for c in message)
        if len(shown) > _LONGEST_MESSAGE:
            shown = f"{shown[: _LONGEST_MESSAGE // 2]} … {shown[-_LONGEST_MESSAGE // 2 :]}"
        super().__init__(shown)
