"""The one reading that a plan's sky has, whatever kind it is, in the unit that the user chose for all pages."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from expocalc.base.quantity import read_quantity
from expocalc.base.words import say_number, say_share
from expocalc.light.instruments import sky_readings
from expocalc.light.sky import Sky
from expocalc.plan import Plan, Where
from workbook.parts.knob import Knob
from workbook.parts.typed import written
from workbook.parts.units import units_now

__all__ = [
    "LUMINANCE",
    "Luminance",
    "SkyKnob",
    "as_user",
    "in_luminance",
    "luminance_of",
    "on_reading",
    "reading_as",
    "say_off",
    "say_reading",
    "say_sky",
    "say_step",
    "sky_words",
    "zenith_reading",
]

LUMINANCE = re.compile(r"cd\s*/\s*m|cd m-2", re.I)
"""What tells a luminance from magnitudes in a typed text."""
_KINDS = ("zenith_brightness", "bortle", "luminance", "naked_eye_limit")
_BANDS = {"meter": "by meter", "cie-V": "from luminance", "bessell-V": "in V"}


_STEP = re.compile(r"(\d+(?:\.\d+)?) mag (darker|brighter)")


class Luminance(float):
    """A sky that was given as luminance. [mcd m-2]"""


@dataclass(frozen=True, kw_only=True)
class SkyKnob(Knob):
    """A sky's reading: magnitudes, or a luminance where that is typed or is the user's unit.

    The slider moves in magnitudes either way, which are steps of luminance.

    Examples
    --------
    >>> knob = SkyKnob(label="Sky", unit="mag/arcsec2", low=16.5, high=22, step=0.05, example='"19.1 mag/arcsec2"')
    >>> knob.read("19,1"), knob.read("2,5 mcd/m²"), type(knob.read("2.5 mcd/m2")).__name__
    (19.1, 2.5, 'Luminance')
    """

    def read(self, text: str) -> float | None:
        """Magnitudes, or a :class:`Luminance`."""
        typed = written(text, self.unit, units_now().sky)
        if not LUMINANCE.search(typed):
            return super().read(typed)
        plain = typed.replace("²", "2")
        return Luminance(read_quantity(self.label, plain, "mcd/m2", above=0, example='"2.5 mcd/m2"'))


def in_luminance() -> bool:
    """Whether the user reads the sky as luminance."""
    return units_now().sky == "mcd/m2"


def zenith_reading(sky: Sky) -> float:
    """Brightness of the zenith in the band that a reading of this plan would be in. [mag arcsec-2]"""
    readings = sky_readings(sky.as_read)
    return {"bessell-V": readings.bessell_v, "cie-V": readings.cie_v, "meter": readings.meter}[sky.reading_band]


def luminance_of(sky: Sky) -> float:
    """Brightness of the zenith as luminance. [mcd m-2]"""
    return 1000 * sky_readings(sky.as_read).luminance_cd_m2


def say_sky(sky: Sky, figures: str = ".4g") -> str:
    """The zenith's brightness in the user's unit.

    Examples
    --------
    >>> say_sky(Sky(zenith_brightness="19.1 mag/arcsec2"))
    '19.1 mag/arcsec²'
    """
    if in_luminance():
        return f"{say_number(luminance_of(sky), 3)} mcd/m²"
    return f"{zenith_reading(sky):{figures}} mag/arcsec²"


def say_reading(plan: Plan, mag: float, figures: str = ".4g") -> str:
    """As :func:`say_sky`, of the plan's sky with another reading of its own kind. [mag arcsec-2]"""
    other = plan.with_values(on_reading(plan) | {("sky", "zenith_brightness"): f"{mag:.4f} mag/arcsec2"})
    return say_sky(other.case.sky, figures)


def sky_words(sky: Sky, figures: str = ".4g") -> str:
    """As :func:`say_sky`, with the band that magnitudes are in.

    Examples
    --------
    >>> sky_words(Sky(zenith_brightness="19.1 mag/arcsec2", reading_band="meter"))
    '19.1 mag/arcsec² by meter'
    """
    return say_sky(sky) if in_luminance() else f"{say_sky(sky, figures)} {_BANDS[sky.reading_band]}"


def say_step(mag: float) -> str:
    """How much darker a sky is, or brighter where the step is negative.

    Examples
    --------
    >>> say_step(1.0), say_step(-1.0)
    ('1 mag darker', '1 mag brighter')
    """
    word = "darker" if mag > 0 else "brighter"
    return f"{say_number(10 ** (0.4 * abs(mag)))} times {word}" if in_luminance() else f"{abs(mag):g} mag {word}"


def say_off(mag: float) -> str:
    """By how much a reading may be off.

    Examples
    --------
    >>> say_off(0.1)
    '0.1 mag'
    """
    return say_share(10 ** (0.4 * mag) - 1) if in_luminance() else f"{mag:g} mag"


def as_user(sentence: str) -> str:
    """A sentence of the library with its steps of magnitudes in the user's unit.

    Examples
    --------
    >>> as_user("with a sky 1 mag darker it takes 3 h")
    'with a sky 1 mag darker it takes 3 h'
    """
    return _STEP.sub(lambda found: say_step(float(found[1]) * (1 if found[2] == "darker" else -1)), sentence)


def reading_as(plan: Plan, kind: str, value: Any) -> dict[Where, Any]:
    """One reading of the sky in place of another; what the old one may have been off by goes with it.

    A plan that holds none of a kind needn't lose it.
    """
    gone = [other for other in (*_KINDS, "brightness_error") if other != kind and other in plan.values["sky"]]
    return {("sky", kind): value} | {("sky", other): None for other in gone}


def on_reading(plan: Plan) -> dict[Where, Any]:
    """Changes that let the plan's sky stand on one reading of its zenith, whatever else tells it.

    Lamps that rates tell are named then, with the shares that were told: the rates belong to one brightness.
    """
    told = plan.case.sky.told
    named = {} if told is None else {("sky", "lamps"): {lamp: round(share, 5) for lamp, share in told.lamps.items()}}
    return reading_as(plan, "zenith_brightness", f"{zenith_reading(plan.case.sky):.4f} mag/arcsec2") | named
