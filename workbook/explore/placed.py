"""Words on a map: where they stand, so that none covers another."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats

__all__ = ["Label", "Placed"]

_LETTER, _MARGIN, _LINE = 0.0165, 0.035, 0.085
"""Room of words on a map 410 px wide and 190 px high: of a letter, around them, and from line to line."""


@dataclass(frozen=True, kw_only=True)
class Label:
    """Words on a map: where they are anchored, and on which side of that place they stand.

    Attributes
    ----------
    kind : str
        "hours" on a line of equal hours, "edge", "never" or "here".
    sub_s, row : float
        Sub length, and height as a share of the figure's. [s]
    align : str
        "left", "center" or "right".
    """

    kind: str
    words: str
    sub_s: float
    row: float
    align: str


class Placed:
    """Words put on a map one after another; those that would cover others are turned away."""

    def __init__(self, reach: tuple[float, float]) -> None:
        self._low, self._high = (math.log(end) for end in reach)
        self._boxes: list[tuple[float, float, float]] = []
        self.labels: list[Label] = []

    def share(self, sub_s: float) -> float:
        """Place of a sub length along the axis."""
        return (math.log(sub_s) - self._low) / (self._high - self._low)

    def column(self, share: float, columns: Floats) -> int:
        """Number of the sub length nearest to a place along the axis."""
        return int(np.abs(np.log(columns) - (self._low + share * (self._high - self._low))).argmin())

    def width(self, words: str) -> float:
        """Room of words, as a share of the axis."""
        return _LETTER * len(words) + _MARGIN

    def put(self, kind: str, words: str, sub_s: float, row: float, align: str) -> bool:
        """Put words there; False where they find no room."""
        at, wide = self.share(sub_s), self.width(words)
        left = at - {"left": 0.0, "center": wide / 2, "right": wide}[align]
        box = (left, left + wide, row)
        inside = -0.005 <= at <= 1 and (kind == "hours" or (left > -0.01 and left + wide < 1.02))
        if not inside or any(_overlap(box, other) for other in self._boxes):
            return False
        self._boxes.append(box)
        self.labels.append(Label(kind=kind, words=words, sub_s=sub_s, row=row, align=align))
        return True


def _overlap(one: tuple[float, float, float], other: tuple[float, float, float]) -> bool:
    return one[0] < other[1] and other[0] < one[1] and abs(one[2] - other[2]) < _LINE
