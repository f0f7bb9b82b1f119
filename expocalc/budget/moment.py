"""What the sky, the air and the camera are like at one time, or at many: plain numbers or arrays that broadcast."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from functools import cached_property, lru_cache
from types import MappingProxyType
from typing import Any, NamedTuple

from expocalc.base.curve import Floats
from expocalc.base.frozen import Frozen
from expocalc.budget.case import Case
from expocalc.light.air import extinction_in_v
from expocalc.light.airmass import airmass
from expocalc.light.measured import MeasuredSky
from expocalc.light.moon import Moon, check_place

__all__ = ["EXACT", "Moment", "MoonPlace", "Off", "moment_of"]

Number = float | Floats


class MoonPlace(NamedTuple):
    """Phase angle of the Moon, its altitude and its separation from the target. [deg]"""

    phase_deg: Number
    altitude_deg: Number
    separation_deg: Number


class Moment(Frozen):
    """One time of one plan; its numbers may be arrays, which broadcast together, without a colour axis.

    Attributes
    ----------
    natural : float or ndarray
        Times the typical natural sky. [-]
    town : mapping of str to float or ndarray
        Luminance of each lamp's light before skyglow made it bluer. [cd m-2]
    natural_factor : float or ndarray
        How many times brighter than at the zenith the natural sky alone is there. [-]
    sky_factor : float or ndarray
        How many times brighter than the zenith the sky is where the target stands, without the Moon. [-]
    altitude_deg : float or ndarray
        Of the target. [deg]
    extinction_v : float or ndarray
        Extinction at 550 nm, which scatters moonlight. [mag/airmass]
    moon : MoonPlace, optional
    measured : mapping of str to MeasuredSky
        What test subs measured, by filter.
    dark_e_s : float or ndarray
        Dark current and glow per pixel. [electron s-1]
    seeing_arcsec, guiding_arcsec : float or ndarray
        Width of a star at the zenith by the air, and guiding's root-mean-square error. [arcsec]
    bright_mag : float or ndarray, optional
        AB magnitude of the star that must not fill the well. [mag]
    measured_at : Moment, optional
        The moment at which the sky was measured: the ratio of the model's skies brings it to this moment.
    bluer : float or ndarray
        What the exponent of skyglow's colour has beyond the usual, where measured rates tell it. [-]
    """

    natural: Number
    town: Mapping[str, Number]
    natural_factor: Number
    sky_factor: Number
    altitude_deg: Number
    extinction_v: Number
    moon: MoonPlace | None
    measured: Mapping[str, MeasuredSky]
    dark_e_s: Number
    seeing_arcsec: Number
    guiding_arcsec: Number
    bright_mag: Number | None
    measured_at: Moment | None = None
    bluer: Number = 0.0

    @cached_property
    def mass(self) -> Any:
        """Airmass of the target; NaN below the horizon. [-]"""
        return _mass(self.altitude_deg) if isinstance(self.altitude_deg, float) else airmass(self.altitude_deg)


class Off(Frozen):
    """How far the rest of the inputs is off from what the plan says; numbers or arrays that broadcast.

    Attributes
    ----------
    efficiency : float or ndarray
        Factor on all light. [-]
    thicker : float or ndarray
        Factor on the extinction. [-]
    bluer : float or ndarray
        What the exponent of skyglow's colour has beyond the usual. [-]
    shifts_nm : mapping of str to float or ndarray
        How far a filter's band lies from where it should, by filter. [nm]
    wider : float or ndarray
        How much wider the filters' bands are than they should, as a share of their width. [-]
    sky : mapping of str to float or ndarray
        Factor on a filter's sky without the Moon, by filter. [-]
    moonlight : float or ndarray
        Factor on scattered moonlight. [-]
    brighter : mapping of str to float or ndarray
        Factor on each light of the target; lights that are not named are as they should. [-]
    measured : float or ndarray
        Factor on a measured sky. [-]
    """

    efficiency: Number = 1.0
    thicker: Number = 1.0
    bluer: Number = 0.0
    shifts_nm: Mapping[str, Number] = field(default_factory=dict)
    wider: Number = 0.0
    sky: Mapping[str, Number] = field(default_factory=dict)
    moonlight: Number = 1.0
    brighter: Mapping[str, Number] = field(default_factory=dict)
    measured: Number = 1.0


EXACT = Off()
"""All as the plan says."""


@lru_cache(maxsize=16)
def moment_of(case: Case) -> Moment:
    """The moment that a plan speaks of, for all its filters; kept by the case.

    Parameters
    ----------
    case : Case

    Raises
    ------
    ValueError
        If no place on the sky has the Moon's separation at these altitudes.
    """
    sky, bright = case.sky, case.goal.unsaturated_star
    altitude_deg = float(case.target.altitude.value)
    extinction_v = extinction_in_v(sky.extinction_curve(float(case.site.elevation.value)))
    moment = Moment(
        natural=sky.mix.natural,
        town=MappingProxyType({lamp: sky.mix.town * share for lamp, share in sky.lamps.items()}),
        natural_factor=sky.natural_factor_at(altitude_deg, extinction_v),
        sky_factor=sky.factor_at(altitude_deg),
        altitude_deg=altitude_deg,
        extinction_v=extinction_v,
        moon=_place(case.moon, altitude_deg),
        measured=sky.measured or MappingProxyType({}),
        dark_e_s=float(case.camera.dark_e_s),
        seeing_arcsec=float(case.site.seeing.value),
        guiding_arcsec=float(case.routine.guiding.value),
        bright_mag=None if bright is None else float(bright.value),
        bluer=sky.bluer,
    )
    if not sky.measured:
        return moment
    under = case.measured_under
    there_deg = altitude_deg if under.altitude is None else float(under.altitude.value)
    there = replace(
        moment,
        altitude_deg=there_deg,
        natural_factor=sky.natural_factor_at(there_deg, extinction_v),
        sky_factor=sky.factor_at(there_deg),
        moon=_place(under.moon, there_deg),
        measured=MappingProxyType({}),
        bright_mag=None,
    )
    return replace(moment, measured_at=there)


@lru_cache(maxsize=64)
def _mass(altitude_deg: float) -> float:
    return float(airmass(altitude_deg))


def _place(moon: Moon | None, altitude_deg: float) -> MoonPlace | None:
    """Where the Moon stands; ValueError if no place on the sky has its separation at these altitudes."""
    if moon is None:
        return None
    check_place(moon, altitude_deg)
    return MoonPlace(
        phase_deg=moon.phase_deg, altitude_deg=float(moon.altitude.value), separation_deg=float(moon.separation.value)
    )
