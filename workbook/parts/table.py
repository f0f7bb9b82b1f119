"""The numbers behind a figure, as a table."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

__all__ = ["Table"]


@dataclass(frozen=True, kw_only=True)
class Table:
    """Heads and rows of finished words; the first column names the row.

    Examples
    --------
    >>> print(Table(caption="Hours", head=("Sub", "L & R"), rows=(("1 min", "2 h"),)).to_html())
    <table class="expo-table"><caption>Hours</caption><thead><tr><th scope="col">Sub</th><th scope="col">L &amp; \
R</th></tr></thead><tbody><tr><th scope="row">1 min</th><td>2 h</td></tr></tbody></table>
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def to_html(self) -> str:
        """The table as HTML, every word escaped."""
        head = "".join(f'<th scope="col">{escape(word)}</th>' for word in self.head)
        rows = "".join(
            f'<tr><th scope="row">{escape(first)}</th>{"".join(f"<td>{escape(word)}</td>" for word in rest)}</tr>'
            for first, *rest in self.rows
        )
        return (
            f'<table class="expo-table"><caption>{escape(self.caption)}</caption>'
            f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
        )
