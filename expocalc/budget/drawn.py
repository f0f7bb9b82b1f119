"""Draws of all that is not exactly known, as moments of the plan's own model."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.photometry import standard_band
from expocalc.budget.case import Case
from expocalc.budget.doubt import Doubt
from expocalc.budget.moment import Moment, Off, moment_of
from expocalc.gear.filter import Filter, is_narrow
from expocalc.gear.response import brightest_response
from expocalc.light.lamps import LAMPS
from expocalc.light.lights import Light, StarLight
from expocalc.light.mix import (
    darkest_natural,
    lamp_bend,
    lamp_through,
    meter_stars_photons,
    mix_of,
    natural_through,
)
from expocalc.light.sky import Sky

__all__ = ["Draws", "draw", "target_log_sd"]

Draws = Callable[[str], Floats]
"""Standard normal numbers of an input, or of one of its parts, by name; shape (draws,)."""


def draw(case: Case, doubt: Doubt, draws: Draws) -> tuple[Moment, Off]:
    """Draw everything that a case may be off by.

    Parameters
    ----------
    case : Case
    doubt : Doubt
    draws : Draws

    Returns
    -------
    Moment, Off
        Arrays of shape (draws,), for all filters: :func:`expocalc.budget.rates.rates_at` makes rates of them.
    """

    def factor(name: str) -> Any:
        return np.exp(doubt.log_sd(name) * draws(name))

    lights = case.target.named_lights
    stars = any(isinstance(light, StarLight) for _, light in lights)
    glow = float(case.camera.glow.value)
    thicker = factor("extinction")
    told = case.sky.told is not None
    bluer = 0.0 if told else doubt.lamp_colour * draws("lamp_colour")
    at = _towns(case.sky, doubt, draws)
    natural, town, base = _told(case.sky, at) if told else (*_mix(case.sky, doubt, draws, bluer), 0.0)
    off = Off(
        efficiency=factor("efficiency"),
        thicker=thicker,
        bluer=bluer,
        shifts_nm={
            one.name: float(doubt.filter_centre.value) * draws(f"filter_centre {one.name}") for one in case.filters
        },
        wider=factor("filter_width") - 1,
        sky={
            one.name: _unlisted(case, one, at, draws) * factor("measured_sky")
            if told
            else np.exp(doubt.log_sd("narrow_sky") * draws(f"narrow_sky {one.name}"))
            for one in case.filters
            if told or is_narrow(one)
        },
        moonlight=factor("moonlight") if case.moon else 1.0,
        brighter={name: np.exp(target_log_sd(doubt, light) * draws(f"target {name}")) for name, light in lights},
        measured=factor("measured_sky") if case.sky.measured else 1.0,
    )
    moment = dataclasses.replace(
        _in_thicker_air(case.sky, moment_of(case), thicker),
        natural=natural,
        town=town,
        bluer=base,
        dark_e_s=(case.camera.dark_e_s - glow) * factor("dark_current") + glow,
        seeing_arcsec=float(case.site.seeing.value) * (factor("seeing") if stars else 1.0),
        bright_mag=None,  # the sub length is the plan's
    )
    return moment, off


def target_log_sd(doubt: Doubt, light: Light) -> float:
    """Standard deviation of the logarithm of a light: its own where its source says one, or that of all. [-]"""
    return math.log(light.doubt) if light.doubt is not None and doubt.target > 1 else doubt.log_sd("target")


def _in_thicker_air(sky: Sky, moment: Moment, thicker: Floats) -> Moment:
    """The moment behind thicker air, which dims the natural sky low down and scatters more moonlight."""
    there, k = moment.measured_at, moment.extinction_v * thicker
    return dataclasses.replace(
        moment,
        extinction_v=k,
        natural_factor=sky.natural_factor_at(moment.altitude_deg, k),
        measured_at=None if there is None else _in_thicker_air(sky, there, thicker),
    )


def _towns(sky: Sky, doubt: Doubt, draws: Draws) -> Any:
    """Which of the towns that the rates allow each draw has; None where no rates tell, or lamps have no doubt."""
    return None if sky.told is None or doubt.lamp_mix == 1 else sky.told.places(draws("lamps_told"))


def _told(sky: Sky, at: Any) -> tuple[Any, Mapping[str, Any], Any]:
    """Natural sky, lamps and exponent of those towns; of what the plan says where there are none."""
    town = sky.told
    if town is None or at is None:
        return sky.mix.natural, {lamp: sky.mix.town * share for lamp, share in sky.lamps.items()}, sky.bluer
    level = town.town[at] * (sky.mix.town / town.luminance)
    return town.natural[at], {lamp: level * town.shares[at, i] for i, lamp in enumerate(LAMPS)}, town.bluer[at]


def _unlisted(case: Case, filter_: Filter, at: Any, draws: Draws) -> Any:
    """What unlisted lamps change a filter's sky by in those towns, over what the plan says; 1 where there are none."""
    town = case.sky.told
    if town is None or at is None:
        return 1.0
    curve = brightest_response(case.telescope, filter_, case.camera)
    likely = town.unlisted(curve)[at] / town.unlisted_mean(curve)
    left = math.sqrt(max(float(town.left_open([curve])[0, 0]), 0.0))
    return likely * np.exp(left * draws(f"narrow_sky {filter_.name}"))


def _mix(sky: Sky, doubt: Doubt, draws: Draws, bluer: Any) -> tuple[Floats, Mapping[str, Floats]]:
    """Natural sky and lamps of each draw, which meet its own reading."""
    band = standard_band(sky.band_read)
    stars = meter_stars_photons() if sky.band_read == "meter" else 0.0
    read = (sky.through(band) + stars) * 10 ** (-0.4 * float(sky.brightness_error.value) * draws("sky_reading"))
    weights = {
        lamp: share * np.exp(doubt.log_sd("lamp_mix") * draws(f"lamp_mix {lamp}"))
        for lamp, share in sky.lamps.items()
        if share
    }
    per_luminance: Any = 0.0
    for lamp, weight in weights.items():
        slope, bend = lamp_bend(lamp, band)
        per_luminance = per_luminance + weight * (lamp_through(lamp, band) * np.exp(bluer * (slope + bend * bluer)))
    natural = np.exp(doubt.log_sd("natural_sky") * draws("natural_sky"))
    mix = mix_of(read - stars, natural_through(band), per_luminance, natural, darkest_natural())
    return mix.natural, {lamp: mix.town * weight for lamp, weight in weights.items()}
