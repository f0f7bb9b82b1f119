"""The sky of a night as arrays: where target and Moon stand at each moment, and what a filter delivers then."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.budget.moment import MoonPlace, moment_of
from expocalc.budget.passed import passed
from expocalc.budget.rates import Rates, rates_at
from expocalc.gear.filter import Filter
from expocalc.light.moon import CLOSEST_DEG
from expocalc.night.almanac import Almanac, moon_phase_deg, separation_deg
from expocalc.night.windows import position_of

__all__ = ["ZENITH", "Moments", "moments_of", "rates_over"]

LOWEST_DEG = 1.0
"""Below this altitude nothing is worked out. [deg]"""


@dataclass(frozen=True, eq=False)
class Moments:
    """Target and Moon at moments, arrays of one shape.

    Attributes
    ----------
    altitude_deg, azimuth_deg : ndarray
        Of the target. [deg]
    moon_altitude_deg, moon_phase_deg, moon_separation_deg : ndarray
        Of the Moon, seen from the place; phase 0 at full Moon; separation from the target. [deg]
    """

    altitude_deg: Floats
    azimuth_deg: Floats
    moon_altitude_deg: Floats
    moon_phase_deg: Floats
    moon_separation_deg: Floats


def moments_of(case: Case, almanac: Almanac, unix_s: npt.ArrayLike) -> Moments:
    """Target and Moon over the plan's site at moments. `unix_s`: seconds since 1970 UTC, any shape."""
    position = position_of(case)
    assert position is not None
    target, moon = almanac.fixed(*position, unix_s), almanac.moon(unix_s)
    return Moments(
        altitude_deg=target.altitude_deg,
        azimuth_deg=target.azimuth_deg,
        moon_altitude_deg=moon.altitude_deg,
        moon_phase_deg=moon_phase_deg(unix_s),
        moon_separation_deg=separation_deg(target, moon),
    )


ZENITH = Moments(np.array([90.0]), np.array([0.0]), np.array([-90.0]), np.array([180.0]), np.array([180.0]))
"""The reference of all hours: one moment with the target at the zenith and no Moon."""


def rates_over(case: Case, filter_: Filter, at: Moments) -> Rates:
    """Rates of one filter at each moment; arrays of shape (t, colours).

    Parameters
    ----------
    case : Case
        Its own altitude and Moon are not looked at, but where a sky was measured: at that altitude, without the Moon.
    filter_ : Filter
    at : Moments
        Shape (t,).

    Notes
    -----
    The plan's gradient holds for all of the sky. Without one the town's light is taken as level, and the natural sky
    brightens as a layer of airglow does, as in the plan's own answer.
    """
    table = passed(case, filter_)
    plain = moment_of(dataclasses.replace(case, moon=None))
    altitude = np.maximum(at.altitude_deg, LOWEST_DEG)
    return rates_at(
        table,
        dataclasses.replace(
            plain,
            altitude_deg=altitude,
            natural_factor=case.sky.natural_factor_at(altitude, plain.extinction_v),
            sky_factor=case.sky.factor_at(altitude, at.azimuth_deg),
            moon=MoonPlace(
                phase_deg=at.moon_phase_deg,
                altitude_deg=at.moon_altitude_deg,
                separation_deg=np.maximum(at.moon_separation_deg, CLOSEST_DEG),
            ),
        ),
    )
