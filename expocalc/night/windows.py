"""When one can image: darkness, skyline, the user's own hours, Moon up or down, the turn at the meridian.

A night is an array of moments; windows are what is left of it, each with what opens and what closes it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.night.almanac import Almanac
from expocalc.night.evening import Evening
from expocalc.night.events import moon_height

__all__ = [
    "Heights",
    "Window",
    "almanac_of",
    "heights_of",
    "position_of",
    "site_evening",
    "skyline_deg",
    "windows_from",
    "windows_of",
]

FINE_S = 30.0
"""Between two moments of a single night's windows. [s]"""


@dataclass(frozen=True)
class Window:
    """A stretch of a night in which one can image, with the Moon up all the time or down all the time.

    Attributes
    ----------
    begin_s, end_s : float
        [s since 1970, UTC]
    opened_by, closed_by : str
        "dusk", "dawn", "target rises", "target sets", "earliest", "latest", "Moon rises", "Moon sets", "flip", "noon".
    moon_up : bool
    """

    begin_s: float
    end_s: float
    opened_by: str
    closed_by: str
    moon_up: bool

    @property
    def hours(self) -> float:
        """[h]"""
        return (self.end_s - self.begin_s) / 3600


def almanac_of(case: Case) -> Almanac | None:
    """Almanac of the plan's site, None without coordinates."""
    site = case.site
    if site.latitude is None or site.longitude is None:
        return None
    return Almanac(float(site.latitude.value), float(site.longitude.value), float(site.elevation.value))


def position_of(case: Case) -> tuple[float, float] | None:
    """Right ascension and declination of the target, None where the plan doesn't say. [deg]"""
    target = case.target
    if target.right_ascension is None or target.declination is None:
        return None
    return float(target.right_ascension.value), float(target.declination.value)


def site_evening(case: Case, date: dt.date) -> Evening:
    """The night of a date at the plan's site; without a time zone in UTC, from mean noon to mean noon of the place."""
    site = case.site
    if site.time_zone is not None:
        return Evening(date, site.time_zone)
    east = 0.0 if site.longitude is None else (float(site.longitude.value) + 180) % 360 - 180
    return Evening(date, "UTC", noon_h=12 - east / 15)


def skyline_deg(horizon: tuple[tuple[float, float], ...], azimuth_deg: npt.ArrayLike) -> Floats:
    """Height of the skyline in a direction: straight lines between the points, all around. [deg]

    Parameters
    ----------
    horizon : tuple of pairs
        Azimuth and altitude, as a Site holds them. [deg]
    azimuth_deg : array_like
        [deg]

    Examples
    --------
    >>> skyline_deg(((90.0, 10.0), (270.0, 30.0)), [180, 0, 360])
    array([20., 20., 20.])
    """
    azimuth, altitude = np.array(horizon).T
    return np.interp(np.asarray(azimuth_deg, dtype=float), azimuth, altitude, period=360)


@dataclass(frozen=True, eq=False)
class Heights:
    """How far Sun, target and Moon stand on the useful side of their limits over one night or many.

    Attributes
    ----------
    moments_s : ndarray
        [s since 1970, UTC]
    sun_deg, moon_deg : ndarray
        Altitude of the Sun's centre; of the Moon's upper edge, lifted by refraction. [deg]
    skyline_deg : ndarray
        Of the target above the skyline; 90 without a target's position. [deg]
    west : ndarray
        Above zero once the target has passed the meridian from east to west. [-]
    """

    moments_s: Floats
    sun_deg: Floats
    moon_deg: Floats
    skyline_deg: Floats
    west: Floats

    def part(self, begin: int, end: int) -> Heights:
        """Some of the moments."""
        return Heights(*(getattr(self, field.name)[begin:end] for field in fields(self)))


def heights_of(case: Case, almanac: Almanac, moments_s: Floats) -> Heights:
    """Heights at moments; of the last few questions the answer is kept."""
    return _heights(almanac, position_of(case), case.site.horizon, moments_s.tobytes())


@lru_cache(maxsize=8)
def _heights(
    almanac: Almanac, position: tuple[float, float] | None, horizon: tuple[tuple[float, float], ...], raw: bytes
) -> Heights:
    moments = np.frombuffer(raw)
    moon = moon_height(almanac.moon(moments))
    sun = almanac.sun(moments).altitude_deg
    if position is None:
        return Heights(moments, sun, moon, np.full(moments.shape, 90.0), np.full(moments.shape, -1.0))
    track = almanac.fixed(*position, moments)
    west = -np.sin(np.radians(track.azimuth_deg)) * np.cos(np.radians(track.altitude_deg))
    return Heights(moments, sun, moon, track.altitude_deg - skyline_deg(horizon, track.azimuth_deg), west)


def windows_of(case: Case, almanac: Almanac, night: Evening) -> tuple[Window, ...]:
    """Windows of one night, in order; their ends are right to a second.

    Parameters
    ----------
    case : Case
        Without a position of the target it is taken to stand above the skyline all night.
    almanac : Almanac
    night : Evening

    Returns
    -------
    tuple of Window
        Empty where there is no time to image.
    """
    moments = np.arange(night.begin_s, night.end_s + 1, FINE_S)
    return windows_from(case, heights_of(case, almanac, moments), night)


def windows_from(case: Case, heights: Heights, night: Evening) -> tuple[Window, ...]:
    """Windows of one night from heights at its moments, with straight lines between them."""
    wanted, t = case.night, heights.moments_s
    spans = [(night.begin_s, night.end_s, "noon", "noon")]
    spans = _common(spans, _spans(float(wanted.sun_limit.value) - heights.sun_deg, t, "dusk", "dawn"))
    spans = _common(spans, _spans(heights.skyline_deg, t, "target rises", "target sets"))
    begin = night.begin_s if wanted.earliest is None else night.after_noon(wanted.earliest)
    end = night.end_s if wanted.latest is None else night.after_noon(wanted.latest)
    spans = _common(spans, [(begin, end, "earliest", "latest")])
    takes = float(wanted.flip_time.value)
    for at, _, opened, _ in _spans(heights.west, t, "flip", "lower transit") if takes and spans else []:
        if opened == "flip":
            around = [(night.begin_s, at, "noon", "flip"), (at + takes, night.end_s, "flip", "noon")]
            spans = _common(spans, around)
    if not spans:
        return ()
    found = [
        Window(*span, moon_up=True) for span in _common(spans, _spans(heights.moon_deg, t, "Moon rises", "Moon sets"))
    ]
    down = _spans(-heights.moon_deg, t, "Moon sets", "Moon rises")
    found += [Window(*span, moon_up=False) for span in _common(spans, down)]
    return tuple(sorted(found, key=lambda window: window.begin_s))


Span = tuple[float, float, str, str]


def _spans(height: Floats, moments_s: Floats, opens: str, closes: str) -> list[Span]:
    """Where a height is above zero."""
    up = height > 0
    at = np.flatnonzero(up[1:] != up[:-1])
    low, high = height[at], height[at + 1]
    times = [float(t) for t in moments_s[at] - low * (moments_s[at + 1] - moments_s[at]) / (high - low)]
    ends = ([float(moments_s[0])] if up[0] else []) + times + ([float(moments_s[-1])] if up[-1] else [])
    found = [(begin, end, opens, closes) for begin, end in zip(ends[::2], ends[1::2], strict=True)]
    if found and up[0]:
        found[0] = (*found[0][:2], "noon", found[0][3])
    if found and up[-1]:
        found[-1] = (*found[-1][:3], "noon")
    return found


def _common(spans: list[Span], others: list[Span]) -> list[Span]:
    """What two lists of spans have in common; the later opening and the earlier closing give the reason."""
    found = []
    for a in spans:
        for b in others:
            begin, end = max(a[0], b[0]), min(a[1], b[1])
            if begin < end:
                found.append((begin, end, (b if b[0] > a[0] else a)[2], (b if b[1] < a[1] else a)[3]))
    return found
