"""What to shoot from here: regions by how many nights they take with the plan's rig and sky.

Each region takes the place of the plan's target; the filter that needs fewest nights for it carries it. Moments lie a
quarter of an hour apart here, and windows are not cut to the minute: it is a list to choose from, and the plan of the
one that was chosen is worked out in full.
"""

from __future__ import annotations

import calendar
import dataclasses
import datetime as dt
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.base.words import in_colour, say_duration
from expocalc.budget.case import Case
from expocalc.light.library import Region
from expocalc.light.lights import read_light
from expocalc.light.target import Target
from expocalc.night.almanac import Almanac, Track, moon_phase_deg, separation_deg
from expocalc.night.evening import Evening
from expocalc.night.moments import Moments
from expocalc.night.windows import almanac_of, site_evening, skyline_deg
from expocalc.night.worth import reference_of, worth_over

__all__ = ["MONTH", "SEASON", "Candidate", "Ranked", "candidates_of", "in_order", "rank"]

MONTH, SEASON, YEAR = 30, 90, 365
"""Nights in a month, a season and a year, from the first evening on."""
_STEP_S = 900.0
_TWILIGHT_DEG = 3.0


@dataclass(frozen=True)
class Candidate:
    """Something that could be shot.

    Attributes
    ----------
    name : str
    right_ascension_deg, declination_deg : float
        J2000. [deg]
    light : tuple
        Items of a plan's list of light, each as pairs of key and value.
    note : str
        How far the brightness can be trusted.
    """

    name: str
    right_ascension_deg: float
    declination_deg: float
    light: tuple[tuple[tuple[str, str], ...], ...]
    note: str = ""

    def changes(self) -> dict[tuple[str | int, ...], object]:
        """What brings it into a plan, for ``Plan.with_values``."""
        return {
            ("target", "name"): self.name,
            ("target", "right_ascension"): f"{self.right_ascension_deg:.4f} deg",
            ("target", "declination"): f"{self.declination_deg:.4f} deg",
            ("target", "light"): [dict(item) for item in self.light],
        }


@dataclass(frozen=True)
class Ranked:
    """How a candidate does here.

    Attributes
    ----------
    candidate : Candidate
    filter_name : str or None
        The filter that carries it; None where none passes its light or reaches the goal.
    carried_by : str or None
        The same with the light that sets its hours, and the colour of a mosaic that they are counted in.
    need_h : float
        Equivalent dark hours until the goal in that filter; infinite where none. [h]
    month, season, year : int or None
        Nights on the calendar until the goal, if it is reached within a month, a season, a year from the first evening
        on; at best, on average weather.
    best_month : str or None
        Month with most equivalent dark hours; None where the candidate is never up in the dark.
    year_h : float
        Equivalent dark hours in a year, if every night is clear. [h]
    why : str
        Why a year does not reach the goal; empty where it does.
    """

    candidate: Candidate
    filter_name: str | None
    carried_by: str | None
    need_h: float
    month: int | None
    season: int | None
    year: int | None
    best_month: str | None
    year_h: float
    why: str = ""

    @property
    def reached(self) -> bool:
        """Whether a year's nights reach the goal."""
        return self.year is not None


def candidates_of(regions: Iterable[Region]) -> tuple[Candidate, ...]:
    """Regions of the library as candidates."""
    return tuple(
        Candidate(
            name=region.name,
            right_ascension_deg=region.right_ascension_deg,
            declination_deg=region.declination_deg,
            light=(tuple(region.light().items()),),
            note=region.shown,
        )
        for region in regions
    )


@dataclass(frozen=True, eq=False)
class _Year:
    """Moments of a year in which it is dark, and what does not depend on the target."""

    moments_s: Floats
    night: npt.NDArray[np.intp]
    weight_h: Floats
    moon: Track
    phase_deg: Floats
    months: npt.NDArray[np.intp]


@lru_cache(maxsize=4)
def _year(almanac: Almanac, first: Evening, sun_limit: float, earliest: float | None, latest: float | None) -> _Year:
    nights = [dataclasses.replace(first, date=first.date + dt.timedelta(days=day)) for day in range(YEAR)]
    grids = [np.arange(night.begin_s + _STEP_S / 2, night.end_s, _STEP_S) for night in nights]
    t, place = np.concatenate(grids), np.repeat(np.arange(YEAR), [grid.size for grid in grids])
    below = sun_limit - almanac.sun(t).altitude_deg
    slope = np.maximum(np.abs(np.gradient(below)), 1e-6)
    weight = np.clip(0.5 + below / slope, 0, 1)  # share of the step that is dark, by a straight line
    for night in range(YEAR) if earliest is not None or latest is not None else ():
        here = place == night
        if earliest is not None:
            weight[here & (t < nights[night].after_noon(earliest))] = 0
        if latest is not None:
            weight[here & (t > nights[night].after_noon(latest))] = 0
    dark = weight > 0
    months = np.array([night.date.month for night in nights])
    return _Year(
        t[dark], place[dark], weight[dark] * _STEP_S / 3600, almanac.moon(t[dark]), moon_phase_deg(t[dark]), months
    )


def rank(case: Case, candidates: Iterable[Candidate], first: dt.date) -> Iterator[Ranked]:
    """How each candidate does, one after another, so that one may stop in between.

    Parameters
    ----------
    case : Case
        Rig, sky, site and goal; its target is not looked at, but for the patch.
    candidates : iterable of Candidate
    first : datetime.date
        Local date of the first evening.

    Raises
    ------
    ValueError
        If the plan has no place, or a filter reaches outside a curve of the gear.
    """
    almanac = almanac_of(case)
    if almanac is None:
        msg = 'What to shoot needs the place: latitude and longitude in [site], like latitude = "51.2 deg"'
        raise ValueError(msg)
    wanted = case.night
    first_evening = site_evening(case, first)
    year = _year(almanac, first_evening, float(wanted.sun_limit.value), wanted.earliest, wanted.latest)
    for candidate in candidates:
        yield _ranked(case, almanac, year, candidate)


def _ranked(case: Case, almanac: Almanac, year: _Year, candidate: Candidate) -> Ranked:
    target = Target(
        name=candidate.name,
        right_ascension=f"{candidate.right_ascension_deg} deg",
        declination=f"{candidate.declination_deg} deg",
        patch=case.target.patch,
        light=tuple(read_light(dict(item)) for item in candidate.light),
    )
    case = dataclasses.replace(case.seen(target=target), moon=None)
    track = almanac.fixed(candidate.right_ascension_deg, candidate.declination_deg, year.moments_s)
    up = track.altitude_deg > np.maximum(skyline_deg(case.site.horizon, track.azimuth_deg), 0)
    best = Ranked(
        candidate, None, None, math.inf, None, None, None, None, 0.0, why="no filter of the plan passes its light"
    )
    if not up.any():
        return dataclasses.replace(best, why="it is never above the skyline in the dark")
    seen, moon = _part(track, up), _part(year.moon, up)
    at = Moments(seen.altitude_deg, seen.azimuth_deg, moon.altitude_deg, year.phase_deg[up], separation_deg(seen, moon))
    for filter_ in case.filters:
        reference = reference_of(case, filter_)
        if reference.light is None:
            continue
        worth = worth_over(case, reference, at).worth * year.weight_h[up] * case.night.focus_share
        nightly = np.bincount(year.night[up], weights=worth, minlength=YEAR)
        monthly = np.bincount(year.months, weights=nightly, minlength=13)
        total = np.cumsum(nightly) * (case.night.clear_share or 1.0)
        nights = int(np.searchsorted(total, reference.need_h * (1 - 1e-9))) + 1
        found = Ranked(
            candidate=candidate,
            filter_name=filter_.shown_name,
            carried_by=f"{filter_.shown_name} for {reference.light}{in_colour(reference.pixels)}",
            need_h=reference.need_h,
            month=nights if nights <= MONTH else None,
            season=nights if nights <= SEASON else None,
            year=nights if nights <= YEAR else None,
            best_month=calendar.month_name[int(monthly.argmax())] if monthly.any() else None,
            year_h=float(nightly.sum()),
            why="" if nights <= YEAR else _why(reference.need_h, float(total[-1])),
        )
        best = found if best.best_month is None else min(best, found, key=_rank)  # the first that passes light
    return best


def _why(need_h: float, had_h: float) -> str:
    if math.isinf(need_h):
        return "no hours reach the goal"
    return f"it needs {say_duration(3600 * need_h)} at best, and a year of nights brings {say_duration(3600 * had_h)}"


def _part(track: Track, use: npt.NDArray[np.bool_]) -> Track:
    return Track(track.altitude_deg[use], track.azimuth_deg[use], track.distance_km[use])


def _rank(one: Ranked) -> tuple[float, float]:
    return (one.year or math.inf, one.need_h / one.year_h if one.year_h else math.inf)


def in_order(found: Iterable[Ranked]) -> tuple[Ranked, ...]:
    """The fewest nights first, and last what no season reaches."""
    return tuple(sorted(found, key=_rank))
