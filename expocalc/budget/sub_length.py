r"""How long a sub should be: squared SNR per clock hour, its best, and what bounds it.

A light is seen by one or more colours. With weight w (pixels of that colour), signal s, total rate a and read
variance r per pixel, one sub of length t is worth

.. math:: \mathrm{SNR}^2 = \sum_c \frac{w_c\,s_c^2\,t^2}{a_c\,t + r_c}

which is the CCD equation (Merline & Howell 1995, Experimental Astronomy 6, 163) for many pixels. Squares of SNR add.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.routine import Routine, kept_share

__all__ = ["Best", "Seen", "best_sub", "clock_hours", "efficiency", "snr2_per_sub"]

SHORTEST_S = 1.0
"""Shorter subs are not looked at: a plan of thousands of subs an hour is no plan. [s]"""
LONGEST_S = 1e7
"""Where the search for an unbounded sub ends. [s]"""
WITHIN = 0.98
"""A sub is as good as the best when it has this share of the best efficiency."""
_GRID = 160
_ZOOM = 24


@dataclass(frozen=True, eq=False)
class Seen:
    """One light as the colours of one filter see it; arrays of shape (colours,).

    Attributes
    ----------
    weight : ndarray
        Pixels of the colour that count, or the colour's share of a star. [-]
    signal_e_s : ndarray
        The light itself. [electron s-1]
    rate_e_s : ndarray
        All that makes photon noise with it. [electron s-1]
    read_variance_e2 : ndarray
        Read variance per sub. [electron2]
    """

    weight: Floats
    signal_e_s: Floats
    rate_e_s: Floats
    read_variance_e2: Floats


@dataclass(frozen=True)
class Best:
    """Sub lengths within 2 % of the best efficiency, and the best itself. [s]"""

    low_s: float
    best_s: float
    high_s: float
    peaks: bool
    """Whether the efficiency has its maximum inside the allowed range, not at its end."""


def snr2_per_sub(seen: Seen, sub_s: npt.ArrayLike) -> Any:
    """Squared SNR of one sub.

    Parameters
    ----------
    seen : Seen
    sub_s : array_like
        Any shape. [s]

    Returns
    -------
    snr2 : float or ndarray
        Shape of `sub_s`. [-]

    Examples
    --------
    >>> one = np.ones(1)
    >>> float(snr2_per_sub(Seen(one, 4 * one, 4 * one, 0 * one), 25.0))
    100.0
    """
    t = np.asarray(sub_s, dtype=float)[..., None]
    variance = seen.rate_e_s * t + seen.read_variance_e2
    with np.errstate(invalid="ignore"):
        worth = seen.weight * (seen.signal_e_s * t) ** 2 / np.where(variance > 0, variance, np.inf)
    return worth.sum(axis=-1)


def efficiency(seen: Seen, sub_s: npt.ArrayLike, routine: Routine) -> Any:
    """Squared SNR per hour on the clock, losses and dead time counted.

    Parameters
    ----------
    seen : Seen
    sub_s : array_like
        Any shape. [s]
    routine : Routine

    Returns
    -------
    efficiency : float or ndarray
        Shape of `sub_s`. [h-1]
    """
    t = np.asarray(sub_s, dtype=float)
    kept = kept_share(t, routine.lost_per_hour, routine.lost_at_dither)
    return snr2_per_sub(seen, t) * kept * 3600 / (t + routine.dead_s)


def clock_hours(seen: Seen, sub_s: npt.ArrayLike, routine: Routine, snr: float) -> Any:
    """Hours on the clock until the SNR is reached, infinite where there is no signal. [h]"""
    with np.errstate(divide="ignore"):
        return snr**2 / efficiency(seen, sub_s, routine)


def best_sub(seen: Seen, routine: Routine, longest_s: float = math.inf) -> Best:
    """Sub length with the most squared SNR per clock hour.

    Parameters
    ----------
    seen : Seen
    routine : Routine
        Its dead time and losses.
    longest_s : float, optional
        Upper bound. [s]

    Returns
    -------
    Best
        Without losses the efficiency climbs for ever: the best is then the shortest sub within 2 % of its limit, if
        that is allowed, and the range ends where the bound is.
    """
    low, high = min(SHORTEST_S, longest_s), min(longest_s, LONGEST_S)
    grid = np.geomspace(low, high, _GRID) if high > low else np.array([low])
    worth = efficiency(seen, grid, routine)
    if not routine.lost_per_hour:
        found = _first_reach(grid, worth, WITHIN * _limit(seen, routine))
        if found <= longest_s:
            return Best(found, found, longest_s, peaks=False)
    at = int(np.argmax(worth))
    best_s, best = float(grid[at]), float(worth[at])
    peaks = 0 < at < grid.size - 1
    step = (high / low) ** (1.5 / (_GRID - 1))
    for _ in range(2 if peaks else 0):  # the grid finds the hill, two closer looks find its top
        near = np.geomspace(best_s / step, min(best_s * step, high), _ZOOM)
        near_worth = efficiency(seen, near, routine)
        best_s, best = float(near[np.argmax(near_worth)]), float(near_worth.max())
        step **= 3 / (_ZOOM - 1)
    top = np.searchsorted(grid, best_s)
    rising = np.append(grid[:top], best_s), np.append(worth[:top], best)
    falling = np.append(grid[top:][::-1], best_s), np.append(worth[top:][::-1], best)
    return Best(
        _first_reach(*rising, WITHIN * best), best_s, max(best_s, _first_reach(*falling, WITHIN * best)), peaks
    )


def _limit(seen: Seen, routine: Routine) -> float:
    """Efficiency of an endless sub without losses."""
    with np.errstate(divide="ignore", invalid="ignore"):
        per_second = seen.weight * seen.signal_e_s**2 / seen.rate_e_s
    return float(np.nansum(per_second)) * 3600 * (1 - routine.lost_at_dither)


def _first_reach(sub_s: Floats, worth: Floats, level: float) -> float:
    """First sub length along the row whose worth reaches `level`, between nodes by a straight line in log length."""
    at = int(np.argmax(worth >= level))
    if not worth[at] >= level:
        return math.inf
    if at == 0:
        return float(sub_s[0])
    a, b = worth[at - 1], worth[at]
    share = (level - a) / (b - a)
    return float(sub_s[at - 1] * (sub_s[at] / sub_s[at - 1]) ** share)
