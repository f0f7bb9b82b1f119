r"""Where Sun, Moon and target stand over a place, for many moments at once and without a network.

The vectors of Sun and Moon come from the series that astropy ships as its built-in ephemeris (routines epv00 and
moon98 of ERFA); the axis of the Earth from the precession and nutation of IAU 2006/2000A. All of them are smooth, so
that a few samples a day are enough: cubic splines between them cost a hundredth of the full transformation. What turns
fast is the Earth, by one exact formula.

Kept aside, since together below 0.01 degree: polar motion, the difference of UT1 and UTC (at most 0.9 s by the
agreement that makes leap seconds), aberration of fixed places. All altitudes are geometric, without refraction.

References
----------
.. [capitaine] Capitaine, N., Guinot, B. & McCarthy, D. D. 2000, A&A 355, 398: the Earth's rotation angle.
.. [meeus] Meeus, J. 1998, Astronomical Algorithms, 2nd ed., ch. 47 and 48: the Moon's series, its lit share.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from functools import lru_cache

import erfa
import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.night.spline import EvenSpline

__all__ = ["AU_KM", "FIRST_S", "LAST_S", "MOON_KM", "Almanac", "Track", "lit_share", "moon_phase_deg", "separation_deg"]

AU_KM = 149597870.7
MOON_KM = 1737.4
"""Radius of the Moon. [km]"""
DAY_S = 86400.0
FIRST_S, LAST_S = -631152000.0, 4102444800.0
"""1950 to 2100: the built-in series are kept to these years here. [s since 1970, UTC]"""
_LIGHT_DAY_AU = 499.004783836 / DAY_S  # light takes that part of a day for one AU
_JD_1970 = 2440587.5
_MOON_PER_DAY = 4
_CHUNK_D = 16
_MARGIN_D = 3


@dataclass(frozen=True, eq=False)
class Track:
    """Where something stands over the place.

    Attributes
    ----------
    altitude_deg, azimuth_deg : ndarray
        Above the horizon, without refraction; from north by east. [deg]
    distance_km : ndarray
        From the place; 1 for a fixed place of the sky. [km]
    """

    altitude_deg: Floats
    azimuth_deg: Floats
    distance_km: Floats


@dataclass(frozen=True, eq=False)
class _Chunk:
    """Splines over some weeks: geocentric vectors in the frame of the Earth's axis, and that frame itself."""

    sun: EvenSpline
    moon: EvenSpline
    frame: EvenSpline


@lru_cache(maxsize=512)
def _chunk(number: int) -> _Chunk:
    start = number * _CHUNK_D - _MARGIN_D
    days = np.arange(start, start + _CHUNK_D + 2 * _MARGIN_D + 1, dtype=float)
    often = np.arange(days[0], days[-1] + 0.5 / _MOON_PER_DAY, 1 / _MOON_PER_DAY)
    with warnings.catch_warnings():  # leap seconds of years to come are not known, and don't matter here
        warnings.simplefilter("ignore", erfa.ErfaWarning)
        to_tt = [np.array(erfa.taitt(*erfa.utctai(_JD_1970, x))) for x in (days, often)]
        frame = EvenSpline.through(days[0], 1.0, erfa.c2i06a(*to_tt[0]))
        sun = np.array([_sun_au(jd) for jd in to_tt[0].T]) * AU_KM
        moon = erfa.moon98(*to_tt[1])["p"] * AU_KM
    return _Chunk(
        sun=EvenSpline.through(days[0], 1.0, np.einsum("tij,tj->ti", frame(days), sun)),
        moon=EvenSpline.through(often[0], 1 / _MOON_PER_DAY, np.einsum("tij,tj->ti", frame(often), moon)),
        frame=frame,
    )


def _sun_au(jd: Floats) -> Floats:
    """The Sun as seen from the Earth's centre: where the light left it, in the direction that a moving Earth sees."""
    heliocentric, _ = erfa.epv00(jd[0], jd[1])
    seen, _ = erfa.epv00(jd[0], jd[1] - _LIGHT_DAY_AU * float(np.linalg.norm(heliocentric["p"])))
    return -np.asarray(seen["p"])


def _spline(name: str, day: Floats) -> Floats:
    """One of the splines at each of the days since 1970."""
    numbers = np.floor(day / _CHUNK_D).astype(int)
    first, last = (int(numbers.min()), int(numbers.max())) if numbers.size else (0, -1)
    if first == last:
        return np.asarray(getattr(_chunk(first), name)(day))
    found: Floats | None = None
    for number in range(first, last + 1):
        here = numbers == number
        values = getattr(_chunk(number), name)(day[here])
        if found is None:
            found = np.empty((day.size, *values.shape[1:]))
        found[here] = values
    return np.empty((0, 3)) if found is None else found


def _days(unix_s: npt.ArrayLike) -> Floats:
    seconds = np.asarray(unix_s, dtype=float)
    if seconds.size and not (seconds.min() >= FIRST_S and seconds.max() <= LAST_S):
        msg = "the almanac knows the years 1950 to 2099"
        raise ValueError(msg)
    return seconds.ravel() / DAY_S


def earth_rotation(day: Floats) -> Floats:
    """Rotation angle of the Earth at UT1 in days since 1970 [capitaine]_. [rad]"""
    since_2000 = day + (_JD_1970 - 2451545.0)
    turns = 0.7790572732640 + 0.00273781191135448 * since_2000 + np.mod(since_2000, 1.0)
    return 2 * np.pi * np.mod(turns, 1.0)


def fixed_vector(right_ascension_deg: float, declination_deg: float) -> Floats:
    """Unit vector of a place of the sky, ICRS. Shape (3,)."""
    a, d = np.radians(right_ascension_deg), np.radians(declination_deg)
    return np.array([np.cos(d) * np.cos(a), np.cos(d) * np.sin(a), np.sin(d)])


@dataclass(frozen=True)
class Almanac:
    """Almanac of one place.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        Geodetic, north and east positive. [deg]
    elevation_m : float
        [m]

    Examples
    --------
    The Sun over Greenwich at noon of 21 June 2024 (1718971200 s after 1970):

    >>> sun = Almanac(51.4779, 0.0, 0.0).sun(1718971200.0)
    >>> round(float(sun.altitude_deg), 1), round(float(sun.azimuth_deg))
    (62.0, 179)
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float = 0.0

    def sun(self, unix_s: npt.ArrayLike) -> Track:
        """The Sun's centre. `unix_s`: seconds since 1970 UTC, any shape; ValueError outside 1950 to 2099."""
        day = _days(unix_s)
        return self._seen(_spline("sun", day), day, np.shape(unix_s))

    def moon(self, unix_s: npt.ArrayLike) -> Track:
        """The Moon's centre, seen from the place. Arguments as for :meth:`sun`."""
        day = _days(unix_s)
        return self._seen(_spline("moon", day), day, np.shape(unix_s))

    def fixed(self, right_ascension_deg: float, declination_deg: float, unix_s: npt.ArrayLike) -> Track:
        """A fixed place of the sky, J2000. Moments as for :meth:`sun`. [deg]"""
        day = _days(unix_s)
        vector = _spline("frame", day) @ fixed_vector(right_ascension_deg, declination_deg)
        return self._seen(vector, day, np.shape(unix_s), far=True)

    def _seen(self, vector: Floats, day: Floats, shape: tuple[int, ...], *, far: bool = False) -> Track:
        """From the frame of the Earth's axis, shape (t, 3), to altitude and azimuth."""
        east, north = np.radians(self.longitude_deg), np.radians(self.latitude_deg)
        if not far:  # the place's own vector, turned by the angle that the Earth has turned
            place = np.asarray(erfa.gd2gc(1, east, north, self.elevation_m)) / 1000
            out, z = float(np.hypot(place[0], place[1])), float(place[2])
        turned = earth_rotation(day) + east
        cos, sin = np.cos(turned), np.sin(turned)
        x, y, up = vector[:, 0], vector[:, 1], vector[:, 2]
        outward, eastward = x * cos + y * sin, y * cos - x * sin
        if not far:
            outward, up = outward - out, up - z
        zenith = outward * np.cos(north) + up * np.sin(north)
        northward = up * np.cos(north) - outward * np.sin(north)
        level = np.hypot(eastward, northward)
        return Track(
            altitude_deg=np.degrees(np.arctan2(zenith, level)).reshape(shape),
            azimuth_deg=np.mod(np.degrees(np.arctan2(eastward, northward)), 360).reshape(shape),
            distance_km=np.hypot(zenith, level).reshape(shape),
        )


def moon_phase_deg(unix_s: npt.ArrayLike) -> Floats:
    """Phase angle of the Moon, 0 at full Moon, seen from the Earth's centre [meeus]_. [deg]

    Parameters
    ----------
    unix_s : array_like
        Seconds since 1970 UTC, any shape. [s]

    Examples
    --------
    Full Moon of 25 September 2018, 02:52 UT:

    >>> bool(moon_phase_deg(1537843920.0) < 5)
    True
    """
    day = _days(unix_s)
    sun, moon = _spline("sun", day), _spline("moon", day)
    from_moon = sun - moon
    cosine = np.einsum("ti,ti->t", from_moon, -moon)
    sine = np.linalg.norm(np.cross(from_moon, -moon), axis=-1)
    return np.degrees(np.arctan2(sine, cosine)).reshape(np.shape(unix_s))


def lit_share(phase_deg: npt.ArrayLike) -> Floats:
    """Lit share of the disc at a phase angle [meeus]_. [-]

    Examples
    --------
    >>> lit_share([0.0, 90.0, 180.0])
    array([1. , 0.5, 0. ])
    """
    return (1 + np.cos(np.radians(np.asarray(phase_deg, dtype=float)))) / 2


def separation_deg(one: Track, other: Track) -> Floats:
    """Angle between two tracks on the sky, shapes broadcast. [deg]"""
    a, b = np.radians(one.altitude_deg), np.radians(other.altitude_deg)
    turn = np.radians(one.azimuth_deg - other.azimuth_deg)
    half = np.sin((a - b) / 2) ** 2 + np.cos(a) * np.cos(b) * np.sin(turn / 2) ** 2
    return np.degrees(2 * np.arcsin(np.sqrt(np.clip(half, 0, 1))))
