"""The one reading that a plan's sky has, whatever kind it is."""

from __future__ import annotations

from typing import Any

from expocalc.light.instruments import sky_readings
from expocalc.light.sky import Sky
from expocalc.plan import Plan, Where

__all__ = ["reading_as", "zenith_reading"]

_KINDS = ("zenith_brightness", "bortle", "luminance", "naked_eye_limit")


def zenith_reading(sky: Sky) -> float:
    """Brightness of the zenith in the band that a reading of this plan would be in. [mag arcsec-2]"""
    readings = sky_readings(sky)
    return {"bessell-V": readings.bessell_v, "cie-V": readings.cie_v, "meter": readings.meter}[sky.reading_band]


def reading_as(plan: Plan, kind: str, value: Any) -> dict[Where, Any]:
    """One reading of the sky in place of another; a plan that holds none of a kind needn't lose it."""
    others = [other for other in _KINDS if other != kind and other in plan.values["sky"]]
    return {("sky", kind): value} | {("sky", other): None for other in others}
