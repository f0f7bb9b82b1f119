"""One night of a plan: when it is dark, what its hours are worth, what to do in it and how many nights are left."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
import time
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.night.almanac import Almanac, lit_share, moon_phase_deg
from expocalc.night.blocks import Block, Times, blocks_of, slots_of
from expocalc.night.clear import Count, nights_until
from expocalc.night.evening import Evening
from expocalc.night.events import Passage, crossings, moon_passage, passage, sun_passage
from expocalc.night.nights import Hours, Nights, nights_from
from expocalc.night.planned import hours_ratios
from expocalc.night.running import Slots, Way, by_filter, greedy
from expocalc.night.schedule import dearest, schedule
from expocalc.night.windows import Window, almanac_of, position_of, site_evening, windows_of
from expocalc.night.worth import Reference, reference_of

__all__ = ["ALL", "Campaign", "Tonight", "campaign_of", "evening_of", "tonight_of"]

ALL = "all"
GREEDY, ONE_BY_ONE = "taking what gains most at each moment", "one filter after the other"
"""Simpler schedules."""
SCHEDULED = 60
"""Nights that are scheduled."""
LOOKED_AT = 365
"""Nights that are looked at for the number of nights."""
NOBODY = Passage(None, None, None)


@dataclass(frozen=True, eq=False)
class Campaign:
    """The nights to come and the schedule of a plan's filters in them.

    Attributes
    ----------
    case : Case
    almanac : Almanac
    nights : Nights
        Those that are scheduled, from the first evening on.
    use : tuple of int
        Places of the filters whose goal some hours reach.
    times : Times
        Slots of the nights that are scheduled, gains as on clear nights.
    way : Way or None
        The schedule, on average weather; None where no filter's goal can be reached.
    need_h : ndarray
        Equivalent dark hours that the filters in `use` need. [h]
    """

    case: Case
    almanac: Almanac
    nights: Nights
    use: tuple[int, ...]
    times: Times
    way: Way | None
    need_h: Floats

    def blocks(self, night: int) -> tuple[Block, ...]:
        """What to do in one of the nights."""
        if self.way is None:
            return ()
        return blocks_of(self.case, self.nights, self.times, self.use, self.way, night)

    def after_cloud(self, until_s: float, night: int = 0) -> tuple[Block, ...]:
        """What to do in a night that is cloudy until a moment: the way of most value through what is left."""
        if self.way is None:
            return ()
        left = np.clip((self.times.end_s - until_s) / np.maximum(self.times.end_s - self.times.begin_s, 1.0), 0, 1)
        slots = self.times.slots
        begin_s = np.minimum(np.maximum(self.times.begin_s, until_s), self.times.end_s)
        rest = Slots(slots.gain * left[:, :, None], slots.clock_h * left, slots.change_h)
        path, _ = dearest(rest, self.way.price)
        share = np.eye(len(self.use))[path] * (rest.clock_h > 0)[:, :, None]
        times = Times(begin_s, self.times.end_s, rest)
        way = dataclasses.replace(self.way, share=share)
        return blocks_of(self.case, self.nights, times, self.use, way, night)

    @cached_property
    def simpler(self) -> Mapping[str, float]:
        """Nights of simpler schedules by their names, infinite where they do not end; none without a schedule."""
        if self.way is None:
            return {}
        slots = self.times.slots.thinned(self.case.night.clear_share or 1.0)
        return {GREEDY: greedy(slots, self.need_h).nights, ONE_BY_ONE: by_filter(slots, self.need_h).nights}

    @cached_property
    def year(self) -> Nights:
        """The nights of a year, those that are scheduled first."""
        first = self.nights.evenings[0].date
        return nights_from(self.case, self.almanac, self.nights.references, first, LOOKED_AT)

    @cached_property
    def counts(self) -> Mapping[str, Count]:
        """Nights at best until the goal of each filter, if all time went to it, and of all of them together."""
        return self._counts({reference.name: 1.0 for reference in self.nights.references})

    @cached_property
    def planned(self) -> Mapping[str, Count]:
        """The same to plan for: each draw of clouds takes the hours of a draw of all that is not exactly known."""
        return self._counts(hours_ratios(self.case))

    def _counts(self, times: Mapping[str, Any]) -> Mapping[str, Count]:
        """Nights until goals that take so many times the hours at best, as numbers or draws, by filter."""
        wanted, references = self.case.night.clear_share, self.nights.references
        needs = {reference.name: reference.need_h * times.get(reference.name, math.inf) for reference in references}
        found = {name: nights_until(self._brought[name], need, wanted) for name, need in needs.items()}
        if self.way is None or ALL not in self._brought:
            return found | {ALL: Count(None, None, None)}
        priced = (price * needs[references[place].name] for price, place in zip(self.way.price, self.use, strict=True))
        return found | {ALL: nights_until(self._brought[ALL], sum(priced), wanted)}

    @cached_property
    def _brought(self) -> Mapping[str, Floats]:
        """What each night of a year brings, if it is clear: hours of each filter, and of all at the schedule's prices.

        Those of all are left out where some filter's goal is out of reach.
        """
        nights, references = self.year, self.nights.references
        total = np.array([[h.equivalent_dark_h for h in nights.hours(n)] for n in range(LOOKED_AT)])
        found = dict(zip((r.name for r in references), total.T * self.case.night.focus_share, strict=True))
        if self.way is not None and len(self.use) == len(references):
            year = slots_of(self.case, nights, self.use, at_most=_COARSE).slots
            found[ALL] = dearest(year, self.way.price)[1]
        return found


_COARSE = 16


def evening_of(case: Case, date: dt.date | None = None) -> Evening:
    """The night that is asked for: of the date given, else of the plan's, else of today."""
    date = date or case.night.date
    if date is None:
        here = site_evening(case, dt.date(2000, 1, 1))
        date = (
            here.local(time.time()) - dt.timedelta(hours=here.noon_h)
        ).date()  # after midnight it is still that night
    return site_evening(case, date)


def campaign_of(case: Case, almanac: Almanac, first: dt.date, references: tuple[Reference, ...]) -> Campaign:
    """Schedule of a plan's filters from one evening on.

    Parameters
    ----------
    case : Case
        With a target that has a place on the sky.
    almanac : Almanac
    first : datetime.date
        Local date of the first evening.
    references : tuple of Reference
        The plan's filters at their reference.
    """
    nights = nights_from(case, almanac, references, first, SCHEDULED)
    use = tuple(place for place, r in enumerate(references) if math.isfinite(r.need_h) and r.light)
    need = np.array([references[place].need_h for place in use])
    times = slots_of(case, nights, use)
    way = schedule(times.slots.thinned(case.night.clear_share or 1.0), need) if use else None
    return Campaign(case, almanac, nights, use, times, way, need)


@dataclass(frozen=True, eq=False)
class Tonight:
    """One night of a plan; None or empty where the plan doesn't say enough.

    Attributes
    ----------
    case : Case
    evening : Evening
    sun, moon, target : Passage
    dark_begin_s, dark_end_s : float or None
        When the Sun sinks below the plan's limit and rises above it. [s since 1970, UTC]
    illuminated, phase_angle_deg : float
        Of the Moon at local midnight. [-, deg]
    highest_deg : float or None
        Altitude of the target at its upper transit, without refraction. [deg]
    windows : tuple of Window
    """

    case: Case
    evening: Evening
    sun: Passage
    moon: Passage
    target: Passage
    dark_begin_s: float | None
    dark_end_s: float | None
    illuminated: float
    phase_angle_deg: float
    highest_deg: float | None
    windows: tuple[Window, ...]

    @cached_property
    def nights(self) -> Nights | None:
        """Its hours; None where the plan lacks the place or the target's position."""
        almanac = almanac_of(self.case)
        if almanac is None or position_of(self.case) is None:
            return None
        references = tuple(reference_of(self.case, filter_) for filter_ in self.case.filters)
        return nights_from(self.case, almanac, references, self.evening.date, 1)

    @cached_property
    def hours(self) -> tuple[Hours, ...]:
        """Hours of each filter; empty without a position of the target."""
        return self.nights.hours(0) if self.nights else ()

    @cached_property
    def campaign(self) -> Campaign | None:
        """The schedule from this night on; None where the plan lacks the place or the target's position."""
        almanac = almanac_of(self.case)
        if almanac is None or self.nights is None:
            return None
        return campaign_of(self.case, almanac, self.evening.date, self.nights.references)

    @cached_property
    def blocks(self) -> tuple[Block, ...]:
        """What to do tonight."""
        return self.campaign.blocks(0) if self.campaign else ()


def tonight_of(case: Case, date: dt.date | None = None) -> Tonight:
    """One night of a plan.

    Parameters
    ----------
    case : Case
    date : datetime.date, optional
        Local date of the evening; by default the plan's, else today's.

    Returns
    -------
    Tonight
    """
    evening = evening_of(case, date)
    almanac = almanac_of(case)
    phase = float(moon_phase_deg(evening.midnight_s))
    bare = Tonight(
        case=case, evening=evening, sun=NOBODY, moon=NOBODY, target=NOBODY, dark_begin_s=None, dark_end_s=None,
        illuminated=float(lit_share(phase)), phase_angle_deg=phase, highest_deg=None, windows=(),
    )  # fmt: skip
    if almanac is None:
        return bare
    limit = float(case.night.sun_limit.value)
    dark = crossings(lambda t: almanac.sun(t).altitude_deg - limit, evening.moments_s)
    night = dataclasses.replace(
        bare,
        sun=sun_passage(almanac, evening),
        moon=moon_passage(almanac, evening),
        dark_begin_s=next((t for t, rising in dark if not rising), None),
        dark_end_s=next((t for t, rising in reversed(dark) if rising), None),
        windows=windows_of(case, almanac, evening),
    )
    position = position_of(case)
    if position is None:
        return night
    target = passage(almanac, *position, evening)
    highest = None if target.transit_s is None else almanac.fixed(*position, target.transit_s).altitude_deg
    return dataclasses.replace(night, target=target, highest_deg=None if highest is None else float(highest))
