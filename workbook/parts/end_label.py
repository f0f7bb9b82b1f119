"""Words at a curve's end: a filter, what it takes, and whose hours these are."""

from __future__ import annotations

from collections.abc import Sequence

from expocalc.budget.row import Row

__all__ = ["end_label", "label_gap"]

_GAP = {1: 0.08, 2: 0.15}
"""Room of a label of so many lines, as a share of the figure's height."""


def end_label(row: Row, said: str, whose: str = "") -> str:
    r"""The filter of a row with its hours in words, and on a line of its own whose they are.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> row = SimpleNamespace(filter_shown="Dual 6 nm", light="O III", target_e_s=0.1)
    >>> end_label(row, "3.4 h", "for O III in green")
    'Dual 6 nm: 3.4 h\nfor O III in green'
    """
    if row.light is None or not row.target_e_s:
        return f"{row.filter_shown}: no light"
    return f"{row.filter_shown}: {said}\n{whose}".rstrip()


def label_gap(labels: Sequence[str]) -> float:
    """Room that labels beside each other need, as a share of the figure's height; less where they are many."""
    lines = max((label.count("\n") + 1 for label in labels), default=1)
    return min(_GAP[lines], 1 / max(len(labels), 1))
