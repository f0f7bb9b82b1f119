r"""How long a sub should be: the hours on the clock that each length takes, the best, and what is as good.

The hours are those of the stack (:mod:`expocalc.budget.stack`), with dead time and losses. With perfect calibration
they are the goal's squared SNR over the efficiency

.. math:: \frac{e^{-\lambda t}\,(1 - q)}{t + \tau} \sum_c \frac{n_c\,s_c^2\,t^2}{(s_c + b_c + d_c)\,t + R^2}

(the CCD equation of Merline & Howell 1995, Experimental Astronomy 6, 163, for many pixels; squares of SNR add).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.reach import subs_for_snr
from expocalc.budget.routine import Routine, kept_share
from expocalc.budget.stack import Habits, Patch

__all__ = ["Best", "best_sub", "clock_hours"]

SHORTEST_S = 1.0
"""Shorter subs are not looked at: a plan of thousands of subs an hour is no plan. [s]"""
LONGEST_S = 1e7
"""Where the search for an unbounded sub ends. [s]"""
WITHIN = 0.98
"""A sub is as good as the best when the best needs this share of its hours."""
_GRID = 160
_ZOOM = 24


@dataclass(frozen=True)
class Best:
    """Sub lengths within 2 % of the fewest hours, and the best itself. [s]"""

    low_s: float
    best_s: float
    high_s: float
    peaks: bool
    """Whether the best lies inside the allowed range, not at its end."""
    hopeless: bool
    """Whether no length reaches the goal."""


def clock_hours(patch: Patch, habits: Habits, routine: Routine, snr: float, sub_s: npt.ArrayLike) -> Any:
    """Hours on the clock until the patch has its SNR, by the length of the subs.

    Parameters
    ----------
    patch : Patch
        Its own `sub_s` is not looked at.
    habits : Habits
    routine : Routine
        Dead time and losses.
    snr : float
        The goal. [-]
    sub_s : array_like
        Shape (n,) or a number. [s]

    Returns
    -------
    hours : float or ndarray
        Subs are not rounded to whole ones; infinite where no hours will do. [h]

    Examples
    --------
    One pixel of 1 electron/s: SNR 60 takes 3600 electrons, an hour, and 10 s of pause after each 50 s:

    >>> light = Patch(side_px=1.0, sub_s=1.0, signal_e_s=np.ones(1), light_e_s=np.zeros(1))
    >>> round(float(clock_hours(light, Habits(), Routine(dead_time="10 s"), 60.0, 50.0)), 9)
    1.2
    """
    t = np.asarray(sub_s, dtype=float)
    kept = subs_for_snr(replace(patch, sub_s=t), habits, snr)
    share = kept_share(t, routine.lost_per_hour, routine.lost_at_dither)
    with np.errstate(divide="ignore", over="ignore"):
        return kept * (t + routine.dead_s) / 3600 / share


def best_sub(hours: Callable[[Floats], Floats], *, lossless: bool, longest_s: float = math.inf) -> Best:
    """Sub length that takes the fewest hours on the clock.

    Parameters
    ----------
    hours : callable
        Hours by sub length [s], for arrays.
    lossless : bool
        Whether longer subs lose nothing. The hours then fall for ever, or nearly so: the best is the shortest sub
        within 2 % of the fewest.
    longest_s : float, optional
        Upper bound. [s]

    Returns
    -------
    Best
    """

    def worth(sub_s: Floats) -> Floats:
        with np.errstate(divide="ignore"):
            return 1 / np.maximum(hours(sub_s), 1e-300)

    high = LONGEST_S if lossless else min(longest_s, LONGEST_S)
    grid, found = _search(worth, high)
    if lossless:
        enough = _first_reach(grid, found, WITHIN * float(found.max()))
        if enough <= longest_s:
            end = _first_reach(grid[::-1], found[::-1], WITHIN * float(found.max()))
            end = longest_s if end >= LONGEST_S else min(end, longest_s)
            return Best(enough, enough, end, peaks=False, hopeless=not found.any())
        grid, found = _search(worth, longest_s)
    at = int(np.argmax(found))
    best_s, best = float(grid[at]), float(found[at])
    peaks = 0 < at < grid.size - 1
    step = (grid[-1] / grid[0]) ** (1.5 / (_GRID - 1))
    for _ in range(2 if peaks else 0):  # the grid finds the hill, two closer looks find its top
        near = np.geomspace(best_s / step, min(best_s * step, grid[-1]), _ZOOM)
        near_worth = worth(near)
        best_s, best = float(near[np.argmax(near_worth)]), float(near_worth.max())
        step **= 3 / (_ZOOM - 1)
    top = np.searchsorted(grid, best_s)
    rising = np.append(grid[:top], best_s), np.append(found[:top], best)
    falling = np.append(grid[top:][::-1], best_s), np.append(found[top:][::-1], best)
    high_s = max(best_s, _first_reach(*falling, WITHIN * best))
    return Best(_first_reach(*rising, WITHIN * best), best_s, high_s, peaks, hopeless=best == 0)


def _search(worth: Callable[[Floats], Floats], high: float) -> tuple[Floats, Floats]:
    low = min(SHORTEST_S, high)
    grid = np.geomspace(low, high, _GRID) if high > low else np.array([low])
    return grid, worth(grid)


def _first_reach(sub_s: Floats, worth: Floats, level: float) -> float:
    """First sub length along the row whose worth reaches `level`, between nodes by a straight line in log length."""
    at = int(np.argmax(worth >= level))
    if at == 0:
        return float(sub_s[0])
    a, b = worth[at - 1], worth[at]
    share = (level - a) / (b - a)
    return float(sub_s[at - 1] * (sub_s[at] / sub_s[at - 1]) ** share)
