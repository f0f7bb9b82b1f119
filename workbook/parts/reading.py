"""The one reading that a plan's sky has, whatever kind it is."""

from __future__ import annotations

from typing import Any

from expocalc.light.instruments import sky_readings
from expocalc.light.sky import Sky
from expocalc.plan import Plan, Where

__all__ = ["on_reading", "reading_as", "zenith_reading"]

_KINDS = ("zenith_brightness", "bortle", "luminance", "naked_eye_limit")


def zenith_reading(sky: Sky) -> float:
    """Brightness of the zenith in the band that a reading of this plan would be in. [mag arcsec-2]"""
    readings = sky_readings(sky.as_read)
    return {"bessell-V": readings.bessell_v, "cie-V": readings.cie_v, "meter": readings.meter}[sky.reading_band]


def reading_as(plan: Plan, kind: str, value: Any) -> dict[Where, Any]:
    """One reading of the sky in place of another; a plan that holds none of a kind needn't lose it."""
    others = [other for other in _KINDS if other != kind and other in plan.values["sky"]]
    return {("sky", kind): value} | {("sky", other): None for other in others}


def on_reading(plan: Plan) -> dict[Where, Any]:
    """Changes that let the plan's sky stand on one reading of its zenith, whatever else tells it.

    Lamps that rates tell are named then, with the shares that were told: the rates belong to one brightness.
    """
    told = plan.case.sky.told
    named = {} if told is None else {("sky", "lamps"): {lamp: round(share, 5) for lamp, share in told.lamps.items()}}
    return reading_as(plan, "zenith_brightness", f"{zenith_reading(plan.case.sky):.4f} mag/arcsec2") | named
