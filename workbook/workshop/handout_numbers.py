"""The numbers of the handout, all from the model."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from expocalc.base.words import say_number, say_share
from expocalc.budget.noise import hours_growth, noise_growth
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.stack import snr_per_pixel
from expocalc.light.air import extinction_curve, transmission
from expocalc.light.airmass import airmass
from expocalc.light.sky import Sky
from workbook.workshop.experiments.moon import GOAL, LIGHTS, SUB_S, with_moon
from workbook.workshop.experiments.rig import rig_of

__all__ = ["MOONS", "SKIES", "altitude_rows", "ladder_rows", "moon_rows", "noise_rows"]

SKY_TIMES = (1, 2, 3, 5, 10, 20)
HOURS = (1, 2, 4, 9, 16, 36)
ALTITUDES_DEG = (90, 60, 45, 30, 20)
SKIES = {"town": "19.1 mag/arcsec2", "country": "21 mag/arcsec2"}
"""Zenith, by a sky's name."""
GRADIENT = "0.4 mag"
"""How much brighter the sky is half way down; common practice, no source. [mag]"""
MOONS = {"a quarter lit": 0.25, "half lit": 0.5, "full": 1.0}
"""Lit share of the disc, by its name."""
MOON_AWAY_DEG = 60.0


def noise_rows() -> Sequence[tuple[str, str, str]]:
    """Sky in one sub over read noise squared, and what read noise adds to noise and hours.

    Examples
    --------
    >>> noise_rows()[4]
    ('10 ×', '5 %', '10 %')
    """
    rows = []
    for times in SKY_TIMES:
        more = float(noise_growth(1.0, float(times), 1.0))
        rows.append((f"{times} ×", _to_half(more), say_share(float(hours_growth(more)))))
    return rows


def _to_half(share: float) -> str:
    """A share in per cent, small ones to half of one: 2 % would not be half of 5 %."""
    return say_share(share) if share >= 0.095 else f"{round(200 * share) / 2:g} %"


def ladder_rows() -> Sequence[tuple[str, str]]:
    """Times the hours, and times the SNR.

    Examples
    --------
    >>> ladder_rows()[:3]
    [('1', '1'), ('2', '1.4'), ('4', '2')]
    """
    one = _snr(1)
    return [(f"{hours}", f"{_snr(hours) / one:.2g}") for hours in HOURS]


def _snr(hours: float) -> float:
    faint = Patch(
        side_px=1.0, sub_s=300.0, signal_e_s=np.array([0.01]), light_e_s=np.array([0.1]), read_variance_e2=2.0
    )
    return float(snr_per_pixel(faint, Habits(), 12 * hours))


def altitude_rows() -> Sequence[tuple[str, str]]:
    """Altitude, and times the hours of a target straight up, where the sky alone makes the grain.

    Hours go as the sky over the target's light squared: the air dims it, and the town's sky grows brighter.
    """
    sky = Sky(zenith_brightness=SKIES["town"], gradient=GRADIENT)
    extinction = extinction_curve("town")

    def cost(altitude_deg: float) -> float:
        light = float(transmission(extinction, float(airmass(altitude_deg)))(656.3))
        return sky.factor_at(altitude_deg) / light**2

    return [(f"{altitude}°", say_number(cost(altitude) / cost(90))) for altitude in ALTITUDES_DEG]


def moon_rows() -> Sequence[tuple[str, ...]]:
    """A Moon, and times the hours for each of the two filters under each of the two skies."""
    return [
        (name, *(say_number(_moon_cost(light, reading, lit)) for reading in SKIES.values() for light in LIGHTS))
        for name, lit in MOONS.items()
    ]


def _moon_cost(light: str, reading: str, lit: float) -> float:
    """Times the hours with this Moon, for the demo plan's gear, as the lesson on the Moon has it."""
    dark = rig_of(light, sky__zenith_brightness=reading)
    return with_moon(dark, light, lit, MOON_AWAY_DEG).hours(SUB_S, GOAL) / dark.hours(SUB_S, GOAL)
