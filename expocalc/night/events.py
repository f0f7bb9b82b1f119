"""When something rises, sets, stands highest or passes an altitude.

References
----------
.. [usno] Explanatory Supplement to the Astronomical Almanac (from memory): rising and setting are those of the upper
   limb with 34' of refraction, so that the Sun's centre stands at -50'; twilights end at -6, -12 and -18 degrees.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.night.almanac import MOON_KM, Almanac, Track
from expocalc.night.evening import Evening

__all__ = [
    "REFRACTION_DEG",
    "SUN_EDGE_DEG",
    "Passage",
    "crossings",
    "moon_passage",
    "passage",
    "sun_passage",
    "transit",
]

REFRACTION_DEG = 34 / 60
"""Lift of a star at the horizon. [deg] [usno]_"""
SUN_EDGE_DEG = 50 / 60
"""Depth of the Sun's centre when its edge rises or sets. [deg] [usno]_"""
_NEAR_DEG = 0.5
_ROUNDS = 30
_CLOSE_S = 0.05

Height = Callable[[Floats], Floats]
"""Altitude above some limit at moments. [deg]"""


@dataclass(frozen=True)
class Passage:
    """One night's rise, set and upper transit; None where there is none. [s since 1970, UTC]"""

    rise_s: float | None
    set_s: float | None
    transit_s: float | None


def crossings(height: Height, moments_s: Floats) -> list[tuple[float, bool]]:
    """Moments at which a height passes zero, each with whether it was upwards.

    Parameters
    ----------
    height : callable
        Of moments, shape (t,). [deg]
    moments_s : ndarray
        Increasing; between two of them the height bends at most once. [s]

    Notes
    -----
    A bend that might just reach zero between two moments is looked at more closely.

    Examples
    --------
    >>> crossings(lambda t: np.sin(t / 1000), np.arange(0.0, 7000.0, 300.0) + 10)
    [(3141.6, False), (6283.2, True)]
    """
    at, values = _with_bends(height, moments_s, height(moments_s))
    up = values > 0
    where = np.flatnonzero(up[1:] != up[:-1])
    low, high, at_low, at_high = at[where], at[where + 1], values[where], values[where + 1]
    rising = up[where + 1]
    side = np.zeros(where.size)
    for _ in range(_ROUNDS):  # false position with the Illinois rule
        if not where.size or np.all(high - low < _CLOSE_S):
            break
        middle = low - at_low * (high - low) / (at_high - at_low)
        value = height(middle)
        as_high = (value > 0) == rising
        at_low = np.where(as_high, np.where(side == 1, at_low / 2, at_low), value)
        at_high = np.where(as_high, value, np.where(side == -1, at_high / 2, at_high))
        low, high = np.where(as_high, low, middle), np.where(as_high, middle, high)
        side = np.where(as_high, 1, -1)
        if np.all(np.abs(value) < 1e-6):
            low = high = middle
    found = np.where(np.abs(at_low) < np.abs(at_high), low, high)
    return [(round(float(t), 1), bool(r)) for t, r in zip(found, rising, strict=True)]


def _with_bends(height: Height, at: Floats, values: Floats) -> tuple[Floats, Floats]:
    """The samples, and the tops and bottoms between them that could reach zero."""
    left, middle, right = values[:-2], values[1:-1], values[2:]
    bends = (middle - left) * (right - middle) <= 0
    near = (np.abs(middle) < _NEAR_DEG) & bends & ((left > 0) == (middle > 0)) & ((right > 0) == (middle > 0))
    where = np.flatnonzero(near) + 1
    if not where.size:
        return at, values
    step = at[where] - at[where - 1]
    curve = values[where - 1] - 2 * values[where] + values[where + 1]
    shift = 0.5 * (values[where - 1] - values[where + 1]) / np.where(curve == 0, 1.0, curve)
    top = at[where] + step * np.clip(shift, -1, 1)
    joined = np.concatenate([at, top])
    order = np.argsort(joined, kind="stable")
    return joined[order], np.concatenate([values, height(top)])[order]


def transit(track: Callable[[Floats], Track], moments_s: Floats) -> float | None:
    """First upper transit, at any latitude: where a body passes from the east to the west. [s since 1970, UTC]

    Parameters
    ----------
    track : callable
        Of moments, shape (t,).
    moments_s : ndarray
        Increasing. [s]
    """

    def eastward(t: Floats) -> Floats:
        found = track(t)
        return np.sin(np.radians(found.azimuth_deg)) * np.cos(np.radians(found.altitude_deg))

    passes = [t for t, rising in crossings(lambda t: -eastward(t), moments_s) if rising]
    return passes[0] if passes else None


def passage(almanac: Almanac, right_ascension_deg: float, declination_deg: float, night: Evening) -> Passage:
    """Rise, set and transit of a fixed place of the sky, with 34' of refraction."""

    def track(t: Floats) -> Track:
        return almanac.fixed(right_ascension_deg, declination_deg, t)

    return _passage(track, lambda t: track(t).altitude_deg + REFRACTION_DEG, night)


def sun_passage(almanac: Almanac, night: Evening) -> Passage:
    """Rise, set and transit of the Sun's upper edge."""
    return _passage(almanac.sun, lambda t: almanac.sun(t).altitude_deg + SUN_EDGE_DEG, night)


def moon_passage(almanac: Almanac, night: Evening) -> Passage:
    """Rise, set and transit of the Moon's upper edge; its size follows its distance."""
    return _passage(almanac.moon, lambda t: moon_height(almanac.moon(t)), night)


def moon_height(moon: Track) -> Floats:
    """How high the Moon's upper edge stands above the horizon, lifted by refraction. [deg]"""
    return moon.altitude_deg + REFRACTION_DEG + np.degrees(np.arcsin(MOON_KM / moon.distance_km))


def _passage(track: Callable[[Floats], Track], height: Height, night: Evening) -> Passage:
    found = crossings(height, night.moments_s)
    return Passage(
        rise_s=next((t for t, rising in found if rising), None),
        set_s=next((t for t, rising in found if not rising), None),
        transit_s=transit(track, night.moments_s),
    )
