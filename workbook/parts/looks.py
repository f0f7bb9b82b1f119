"""Colours, letters, dashes and hatches: one look for each quantity, and one for each filter of a plan.

References
----------
.. [okabe] Okabe, M. & Ito, K. 2008, Color Universal Design: a palette for all kinds of colour vision.
.. [tol] Tol, P. 2021, Colour schemes, SRON/EPS/TN/09-002 issue 3.2: the scheme "muted".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

__all__ = ["FILTERS", "INK", "LETTER_PX", "PAPER", "QUANTITIES", "Look", "filter_look"]

INK = "#333333"
"""Axes, labels and bounds."""
PAPER = "#ffffff"
"""Ground of every figure; the dark theme inverts ground and ink together."""
LETTER_PX = 6.9
"""Room that a letter of the words in a figure needs."""


@dataclass(frozen=True)
class Look:
    """How one thing is drawn, so that it can be told without its colour."""

    colour: str
    dash: str
    hatch: str = " "
    marker: str = "circle"
    hatch_words: str = "plain"


QUANTITIES: Mapping[str, Look] = MappingProxyType(
    {
        "target": Look("#0072B2", "solid", " "),
        "sky": Look("#009E73", "dashed", "dot"),
        "dark": Look("#797979", "dotted", "horizontal_line"),
        "read noise": Look("#D55E00", "dotdash", "right_diagonal_line"),
        "calibration": Look("#CC79A7", "dashdot", "cross"),
    }
)
"""The five quantities of every noise budget, in the one order in which they are drawn [okabe]_."""

FILTERS: tuple[Look, ...] = (
    Look("#332288", "solid", " ", "circle", "plain"),
    Look("#882255", "dashed", "right_diagonal_line", "square", "slanted right"),
    Look("#117733", "2 4 6 4", "dot", "triangle", "dotted"),
    Look("#AA4499", "dotted", "horizontal_line", "diamond", "lined across"),
    Look("#555555", "14 5", "cross", "x", "crossed"),
    Look("#1f7a6d", "12 4 2 4 2 4", "left_diagonal_line", "inverted_triangle", "slanted left"),
    Look("#6b6b00", "8 3 8 3 2 3", "vertical_line", "plus", "lined upright"),
    Look("#a8404f", "20 4 2 4", "diagonal_cross", "star", "crossed aslant"),
)
"""Filters have colours of their own, since those of the quantities are taken; three are darkened to be read [tol]_."""


def filter_look(number: int) -> Look:
    """Look of the plan's filter `number`, counted from 0; a plan of more than eight starts again.

    Examples
    --------
    >>> filter_look(0).dash, filter_look(1).dash
    ('solid', 'dashed')
    """
    return FILTERS[number % len(FILTERS)]
