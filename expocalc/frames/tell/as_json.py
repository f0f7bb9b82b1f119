"""A bench, a test sub and a night as plain data; their keys are what others script against."""

from __future__ import annotations

import math
from typing import Any

from expocalc.frames.tell.bench_found import Bench
from expocalc.frames.tell.night import MorningAfter
from expocalc.frames.tell.sky import SkyTold

__all__ = ["bench_json", "night_json", "sky_json"]


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def _pair(values: tuple[float, float] | None) -> list[float | None] | None:
    return None if values is None else [_number(value) for value in values]


def bench_json(found: Bench) -> dict[str, Any]:
    """A bench as plain data, units in the keys; what frames do not tell is None."""
    data: dict[str, Any] = {}
    for key, one in found.values.items():
        data[key] = one.value
        data[f"{key}_interval"] = None if one.low is None or one.high is None else [one.low, one.high]
    line = found.line
    return {
        **data,
        "bias_level_adu": found.bias_adu,
        "quantisation_share": found.quantisation_share,
        "photon_transfer": {
            "level_adu": line.level_adu.tolist(),
            "variance_adu2": line.variance_adu2.tolist(),
            "residual": line.residual.tolist(),
            "fitted": line.fitted.tolist(),
        },
        "dark_by_temperature": [
            {"temperature_deg_c": r.temperature_deg_c, "dark_electron_s": r.rate_e_s, "error_electron_s": r.error_e_s}
            for r in found.darks
        ],
        "warnings": list(found.warnings),
        "camera": dict(found.section),
    }


def night_json(found: MorningAfter) -> dict[str, Any]:
    """A night as plain data, units in the keys; missing and infinite numbers are None."""
    return {
        "subs": [
            {
                **{key: _number(value) if isinstance(value, float) else value for key, value in vars(one).items()},
                "sky_model_electron_s": _number(sky),
                "transparency_model": _number(light),
            }
            for one, sky, light in zip(found.entries, found.course.sky_e_s, found.course.light, strict=True)
        ],
        "filters": {
            name: {
                "kept_h": one.kept_h,
                "equivalent_dark_h": one.equivalent_dark_h,
                "share_of_goal": _number(one.share_of_goal),
                "hours_left": _number(one.hours_left),
                "hours_left_plan_for": None if one.planned is None else _number(one.planned.p50_h),
                "hours_left_interval": _pair(one.planned.ends if one.planned else None),
                "nights_left": _number(one.nights_left),
                "nights_left_interval": _pair(one.nights_left_range),
            }
            for name, one in found.filters.items()
        },
        "counts": [dict(one) for one in found.counts],
        "model_from": found.course.source,
        "beside_model": {
            name: {
                "light_ratio": one.light[0],
                "light_ratio_interval": list(one.light[1:]),
                "sky_ratio": one.sky[0],
                "sky_ratio_interval": list(one.sky[1:]),
            }
            for name, one in found.beside.items()
        },
        "own_factor": None if found.own is None else found.own.as_json(),
        "warnings": list(found.warnings),
        "verdict": found.verdict,
    }


def sky_json(told: SkyTold) -> dict[str, Any]:
    """A test sub as plain data, units in the keys; missing and infinite numbers are None.

    The numbers that are no objects are those of the mono pixels, or of the green ones; `by_colour` has all.
    """
    found, main = told.found, told.found.main
    one = found.colours[main]
    return {
        "file": str(found.frame.path),
        "exposure_s": found.exposure_s,
        "exposure_from": found.frame.known.origin.get("exposure_s"),
        "filter": told.filter_name,
        "header": {
            name: {"value": getattr(found.frame.known, name), "from": origin}
            for name, origin in found.frame.known.origin.items()
            if isinstance(getattr(found.frame.known, name), int | float | str)
        },
        "electrons_per_adu": found.gain.electrons_per_adu,
        "electrons_per_adu_from": found.gain.origin,
        "below_from": found.method,
        "sky_electron_s": {colour: _number(c.sky_e_s) for colour, c in found.colours.items()},
        "sky_electron_s_interval": {c: [_number(o.low_e_s), _number(o.high_e_s)] for c, o in found.colours.items()},
        "noise_electron": _number(one.noise_e),
        "noise_predicted_electron": _number(one.noise_predicted_e),
        "sky_mag_arcsec2_ab": _number(told.mag_ab.get(main)),
        "zenith_reading": _number(told.zenith_reading),
        "ratio_to_plan": _number(told.ratio.get(main)),
        "doubt_of_plan": list(told.doubt) if told.doubt else None,
        "by_colour": {
            colour: {
                "level_adu": _number(c.level_adu),
                "noise_electron": _number(c.noise_e),
                "noise_predicted_electron": _number(c.noise_predicted_e),
                "sky_mag_arcsec2_ab": _number(told.mag_ab.get(colour)),
                "ratio_to_plan": _number(told.ratio.get(colour)),
            }
            for colour, c in found.colours.items()
        },
        "stars": found.stars.count,
        "star_fwhm_px": _number(found.stars.usual_fwhm_px),
        "star_elongation": _number(found.stars.usual_elongation),
        "second_light_share": _number(found.second_light),
        "star_light_share": _number(told.star.share) if told.star else None,
        "star_light_doubt": [told.star.low, told.star.high] if told.star else None,
        "measured_under": told.seen.plan_value() if told.seen else None,
        "full_share": found.full_share,
        "sub_s": told.tonight.sub_s if told.tonight else None,
        "kept_h": _number(told.now.kept_h) if told.now else None,
        "hours_interval": [_number(told.hours.p10_h), _number(told.hours.p90_h)] if told.hours else None,
        "advice": told.advice or None,
        "warnings": list(told.warnings),
        "verdict": told.verdict,
    }
