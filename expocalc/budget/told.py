"""The lamps that a plan's own measured rates tell: from electrons back to the light of the zenith.

What test subs measured in the filters of the plan, each colour of a mosaic by itself, and the reading of the sky are
the rates. Each is brought to the zenith and freed of the Moon by the ratio that the model of the usual lamps gives.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Sequence
from functools import lru_cache

import numpy as np

from expocalc.base.curve import Curve, integrate
from expocalc.base.field import within
from expocalc.base.photometry import ab_continuum, standard_band
from expocalc.base.words import say_number
from expocalc.budget.doubt import Doubt
from expocalc.gear.camera import Camera
from expocalc.gear.filter import Filter
from expocalc.gear.image import pixel_scale_arcsec
from expocalc.gear.response import response
from expocalc.gear.telescope import Telescope
from expocalc.light.air import extinction_in_v
from expocalc.light.conditions import Conditions
from expocalc.light.lamp_shares import FROM_RATES, LampsFromRates
from expocalc.light.measured import MeasuredSky
from expocalc.light.mix import natural_through
from expocalc.light.moon_colour import moonlight_parts, scattered_sunlight
from expocalc.light.sky import Sky
from expocalc.light.town import MeasuredRate, Town, town_from_rates

__all__ = ["READING", "ab_zero", "measured_rates", "told_sky"]

READING = "the reading"
"""Name of the reading among the rates."""
_AB_ZERO = ab_continuum(0.0)


def told_sky(
    sky: Sky,
    telescope: Telescope,
    camera: Camera,
    filters: Sequence[Filter],
    under: Conditions,
    elevation_m: float,
    altitude_deg: float,
    doubt: Doubt,
) -> Sky:
    """The sky with the lamps that its measured rates tell; as it is where lamps are named.

    Parameters
    ----------
    sky : Sky
    telescope, camera, filters
        Through which the rates were measured.
    under : Conditions
    elevation_m : float
        Height of the place. [m]
    altitude_deg : float
        Of the plan's target, where `under` says no other. [deg]
    doubt : Doubt
        Its efficiency is the error of each rate, its moonlight that of the Moon in it.

    Raises
    ------
    ValueError
        If there are fewer than two rates, or they contradict each other.
    """
    if not isinstance(sky.lamps, LampsFromRates):
        return sky
    plain = sky.as_read
    measured = plain.measured or {}
    there = [one for one in filters if one.name in measured]
    if measured and not there:
        return plain  # a plan says of itself that it has no such filter
    if not there:
        msg = (
            f'lamps = "{FROM_RATES}" must have two rates of the sky or more, got {READING} alone; put what a test sub '
            'showed into measured, like { "H-alpha" = "0.11 electron/s" }, or name the lamps'
        )
        raise within(ValueError(msg), "sky", "lamps")
    altitude = altitude_deg if under.altitude is None else float(under.altitude.value)
    rates = [
        rate
        for one in there
        for rate in measured_rates(
            plain, telescope, camera, one, measured[one.name], under, elevation_m, altitude, doubt
        )
    ]
    if plain.photons_read > 0:
        error = 0.4 * math.log(10) * float(plain.brightness_error.value)
        band = standard_band(plain.band_read)
        rates.append(MeasuredRate(name=READING, response=band, photons=plain.photons_read, log_sd=error))
    town = _town(tuple((one.name, one.response, one.photons, one.log_sd) for one in rates))
    odd, times = town.contradiction
    if odd:
        msg = (
            f'lamps = "{FROM_RATES}" must have rates that one town can have: {odd} is {say_number(times)} times what '
            "any mix of lamps gives beside the others; measure it again, take it out, or name the lamps"
        )
        raise within(ValueError(msg), "sky", "lamps")
    return dataclasses.replace(sky, lamps=LampsFromRates(town, plain.brightness("bessell-V")))


@lru_cache(maxsize=16)
def _town(rates: tuple[tuple[str, Curve, float, float], ...]) -> Town:
    """The towns of some rates, kept: a moved slider asks for the same again."""
    made = [MeasuredRate(name=name, response=curve, photons=photons, log_sd=sd) for name, curve, photons, sd in rates]
    return town_from_rates(made)


def measured_rates(
    sky: Sky,
    telescope: Telescope,
    camera: Camera,
    filter_: Filter,
    measured: MeasuredSky,
    under: Conditions,
    elevation_m: float,
    altitude_deg: float,
    doubt: Doubt,
) -> Iterator[MeasuredRate]:
    """What a filter's test sub showed as rates of the zenith without the Moon, one for each colour.

    Parameters
    ----------
    sky : Sky
        With the usual lamps.
    telescope, camera, filter_, measured, under, elevation_m, doubt
        As in :func:`told_sky`.
    altitude_deg : float
        Where the telescope looked. [deg]
    """
    pixel = telescope.area_cm2 * pixel_scale_arcsec(telescope, camera) ** 2
    for colour in camera.colours:
        curve = response(telescope, filter_, camera, colour)
        if measured.mag_ab is not None:
            photons = ab_zero(curve) * 10 ** (-0.4 * measured.mag_ab)
        elif measured.colours is not None and colour in measured.colours:
            photons = measured.colours[colour] / pixel
        elif measured.electron_s is not None and camera.colours == ("mono",):
            photons = measured.electron_s / pixel
        else:
            return  # the rates of the filter say what does not fit
        zenith = sky.through(curve)
        if not photons or not zenith:
            continue
        there, moon = _there(sky, curve, under, elevation_m, altitude_deg)
        name = filter_.name if len(camera.colours) == 1 else f"{filter_.name} {colour}"
        error = math.hypot(doubt.log_sd("efficiency"), moon / there * doubt.log_sd("moonlight"))
        yield MeasuredRate(name=name, response=curve, photons=photons * zenith / there, log_sd=error)


def _there(sky: Sky, curve: Curve, under: Conditions, elevation_m: float, altitude_deg: float) -> tuple[float, float]:
    """Sky where it was measured, the Moon's light in it, and the Moon's light alone. [photon s-1 cm-2 arcsec-2]"""
    k = extinction_in_v(sky.extinction_curve(elevation_m))
    lower_down = float(sky.natural_factor_at(altitude_deg, k)) - 1
    dark = sky.through(curve) + sky.mix.natural * natural_through(curve) * lower_down
    dark *= float(sky.factor_at(altitude_deg))
    moon = 0.0
    if under.moon is not None:
        place = under.moon.phase_deg, float(under.moon.separation.value), float(under.moon.altitude.value)
        parts = np.array(moonlight_parts(*place, altitude_deg, k), dtype=float)
        moon = float(parts @ [shape.through(curve) for shape in scattered_sunlight()])
    return dark + moon, moon


@lru_cache(maxsize=256)
def ab_zero(curve: Curve) -> float:
    """What a sky of AB magnitude 0 per arcsec2 gives through a curve."""
    return integrate(_AB_ZERO, curve)
