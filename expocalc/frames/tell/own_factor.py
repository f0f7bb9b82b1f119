r"""What a user's own nights needed beside the hours at best: a factor with its range, from the ledger.

.. math:: F = \frac{\sum t_i}{\sum e_i}, \qquad
    \ln F \pm t_{0.9,\,n-1}\; s \sqrt{2/n}

A night's kept hours t over their worth e in hours at best is its own factor; s is the standard deviation of its
logarithm over the n nights. The range is that of as many nights to come: their mean is off by as much as that of the
nights gone by.

What is in it is what a sub shows: cloud and haze that came and went, a brighter sky, other lengths of subs. Haze that
lay evenly over a whole night, focus, masks and what stacking loses are not; spoiled subs are counted on their own.

References
----------
.. [hahn] Hahn, G. J. & Meeker, W. Q. 1991, Statistical Intervals, ch. 4: prediction interval for the mean of a future
   sample, by Student's t.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from expocalc.frames.tell.ledger import Entry

__all__ = ["LEAST_NIGHTS", "OwnFactor", "own_factor"]

LEAST_NIGHTS = 3
"""With fewer a range would be a guess."""
_LEAST_H = 0.25
"""Nights with less than that tell little: common practice, no source. [h]"""
_EIGHT_OF_TEN = 0.9
_MOST = 100.0


@dataclass(frozen=True, kw_only=True)
class OwnFactor:
    """A factor on the hours at best, 1 or more, and the ends between which it lies in eight cases of ten."""

    factor: float
    low: float
    high: float
    nights: int

    @property
    def plan_value(self) -> str:
        """What a plan's `practice` takes."""
        return f"{self.factor:.2f}, {self.low:.2f} to {self.high:.2f}"

    @property
    def words(self) -> str:
        """One sentence."""
        return (
            f"Your {self.nights} nights needed {self.factor:.2g} times the hours at best, and as many nights to come "
            f"{self.low:.2g} to {self.high:.2g} times in eight cases of ten; haze over a whole night and what stacking "
            "loses are not in it"
        )

    def as_json(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "factor": self.factor, "factor_interval": [self.low, self.high], "nights": self.nights,
            "practice": self.plan_value,
        }  # fmt: skip


def own_factor(entries: Sequence[Entry]) -> OwnFactor | None:
    """The factor of all nights of a ledger; None from fewer than three nights.

    Parameters
    ----------
    entries : sequence of Entry
    """
    taken: dict[str, float] = {}
    worth: dict[str, float] = {}
    for one in entries:
        if one.kept:
            taken[one.night] = taken.get(one.night, 0.0) + one.exposure_s / 3600
            worth[one.night] = worth.get(one.night, 0.0) + one.equivalent_dark_h
    nights = [night for night, hours in taken.items() if hours >= _LEAST_H and worth[night] > 0]
    count = len(nights)
    if count < LEAST_NIGHTS:
        return None
    from scipy.special import stdtrit  # heavy, and most ledgers hold fewer nights

    t, e = (np.array([each[night] for night in nights]) for each in (taken, worth))
    middle = math.log(t.sum() / e.sum())
    reach = float(stdtrit(count - 1, _EIGHT_OF_TEN) * np.log(t / e).std(ddof=1) * math.sqrt(2 / count))
    factor, low, high = (min(max(math.exp(x), 1.0), _MOST) for x in (middle, middle - reach, middle + reach))
    return OwnFactor(factor=factor, low=low, high=high, nights=count)
