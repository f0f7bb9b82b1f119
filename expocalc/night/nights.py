"""Many nights at once: their windows and what their hours are worth in each filter."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.night.almanac import Almanac
from expocalc.night.evening import Evening, evenings
from expocalc.night.moments import moments_of
from expocalc.night.windows import Window, heights_of, site_evening, windows_from
from expocalc.night.worth import Reference, worth_over

__all__ = ["Hours", "Nights", "nights_from"]


@dataclass(frozen=True)
class Hours:
    """Hours of one night in one filter. [h]

    Attributes
    ----------
    dark_h, moonlit_h : float
        On the clock, in the windows, with the Moon down and up.
    equivalent_dark_h : float
        Both together, counted as moonless hours at the zenith.
    """

    dark_h: float
    moonlit_h: float
    equivalent_dark_h: float


@dataclass(frozen=True, eq=False)
class Nights:
    """Nights of a plan, one after another.

    Attributes
    ----------
    evenings : tuple of Evening
    windows : tuple of tuple of Window
        Of each night.
    references : tuple of Reference
        One per filter.
    """

    evenings: tuple[Evening, ...]
    windows: tuple[tuple[Window, ...], ...]
    references: tuple[Reference, ...]
    _moments: tuple[Floats, ...]
    _gained: tuple[Floats, ...]

    def gained_h(self, night: int, begin_s: float | Floats, end_s: float | Floats) -> Floats:
        """Equivalent dark hours of a stretch of one night, filter by filter; shape (filters, …). [h]"""
        t, sums = self._moments[night], self._gained[night]
        return np.array([np.interp(end_s, t, row) - np.interp(begin_s, t, row) for row in sums])

    def hours(self, night: int) -> tuple[Hours, ...]:
        """Hours of one night, filter by filter."""
        windows = self.windows[night]
        up = sum(window.hours for window in windows if window.moon_up)
        down = sum(window.hours for window in windows if not window.moon_up)
        total = np.zeros(len(self.references))
        for window in windows:
            total += self.gained_h(night, window.begin_s, window.end_s)
        return tuple(Hours(down, up, float(h)) for h in total)


def nights_from(case: Case, almanac: Almanac, references: Sequence[Reference], first: dt.date, count: int) -> Nights:
    """Nights from one evening on.

    Parameters
    ----------
    case : Case
        With site, zone and a target that has a place on the sky.
    almanac : Almanac
    references : sequence of Reference
        The plan's filters at their reference.
    first : datetime.date
        Local date of the first evening.
    count : int
        How many nights.
    """
    nights = tuple(evenings(site_evening(case, first), count))
    moments = tuple(night.moments_s for night in nights)
    ends = [0, *(int(end) for end in np.cumsum([t.size for t in moments]))]
    heights = heights_of(case, almanac, np.concatenate(moments))
    windows = tuple(
        windows_from(case, heights.part(begin, end), night)
        for night, (begin, end) in zip(nights, pairwise(ends), strict=True)
    )
    t = heights.moments_s
    worth = np.zeros((len(references), t.size))
    limit = float(case.night.sun_limit.value) + _SLACK_DEG
    used = (heights.sun_deg < limit) & (heights.skyline_deg > -_SLACK_DEG)
    if used.any():
        at = moments_of(case, almanac, t[used])
        for place, reference in enumerate(references):
            worth[place, used] = worth_over(case, reference, at).worth
    gained = []
    for begin, end in pairwise(ends):
        part, rows = t[begin:end], worth[:, begin:end]
        steps = (rows[:, 1:] + rows[:, :-1]) / 2 * np.diff(part) / 3600
        gained.append(np.concatenate([np.zeros((len(references), 1)), np.cumsum(steps, axis=1)], axis=1))
    return Nights(nights, windows, tuple(references), moments, tuple(gained))


_SLACK_DEG = 3.0
"""Moments this far outside the limits are worked out too, so that no window's end lies between two of them. [deg]"""
