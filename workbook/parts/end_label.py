"""Words at a curve's end: a filter, what it takes, and whose hours these are."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from expocalc.budget.row import Row

__all__ = ["end_label", "label_gap"]

_LETTERS = 26
"""Longest line: more of them would leave a narrow picture no room for its curves."""


def end_label(row: Row, said: str, whose: str = "") -> str:
    r"""The filter of a row with its hours in words, and below it whose they are; in short lines.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> row = SimpleNamespace(filter_shown="Dual 6 nm", light="O III", target_e_s=0.1)
    >>> end_label(row, "3.4 h", "for O III in green")
    'Dual 6 nm: 3.4 h\nfor O III in green'
    """
    if row.light is None or not row.target_e_s:
        said, whose = "no light", ""
    *above, last = textwrap.wrap(row.filter_shown, _LETTERS - 1, max_lines=2, placeholder="…")
    together = len(f"{last}: {said}") <= _LETTERS
    return "\n".join(
        [*above, *([f"{last}: {said}"] if together else [f"{last}:", said]), *textwrap.wrap(whose, _LETTERS)]
    )


def label_gap(labels: Sequence[str], line: float) -> float:
    """Room that labels below each other need, as a share of the figure's height; less where they are many.

    Parameters
    ----------
    labels : sequence of str
    line : float
        Height of a line of words, as a share of the figure's.
    """
    lines = max((label.count("\n") + 1 for label in labels), default=1)
    return min(line * lines, 1 / max(len(labels), 1))
