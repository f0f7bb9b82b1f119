"""What a bench says of a camera: as a plan's section, and as text to paste."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

from expocalc.base.words import say_number
from expocalc.frames.tell.bench_found import Bench

__all__ = ["USUAL_STEP_K", "camera_section", "camera_toml"]

USUAL_STEP_K = 6
"""Warming that doubles a dark current: common practice, no source."""


def _said(value: float, unit: str) -> str:
    return f"{float(f'{value:.4g}'):.12g} {unit}"  # 39210 electron, not 3.921e+04


def camera_section(found: Bench, today: date) -> dict[str, Any]:
    """What a plan's section [camera] takes from a bench: gain, gains and, from darks, dark_current."""
    name = f"measured {today.isoformat()}"
    value = {key: one.value for key, one in found.values.items()}
    k = float(value["electrons_per_adu"] or 1.0)
    step = int(value["native_step_adu"] or 1)
    bits = 16 - int(math.log2(step))
    highest = (2**bits - 1) * step
    section: dict[str, Any] = {
        "gain": name,
        "gains": {
            name: {
                "read_noise": _said(value["read_noise_electron"] or 0.0, "electron"),
                "electrons_per_adu": float(f"{k:.5g}"),
                "native_step": step,
                "bias_level": round(found.bias_adu, 1),
                "full_well": _said(value["full_well_electron"] or (highest - found.bias_adu) * k, "electron"),
                "bits": bits,
            }
        },
    }
    rate = value["dark_electron_s"]
    at = next((r.temperature_deg_c for r in found.darks if r.rate_e_s == rate), None)
    if rate is not None and rate >= 0 and at is not None:
        falls = (
            {"activation": _said(float(value["activation_ev"]), "eV")}
            if value["activation_ev"]
            else {"doubles_every": f"{USUAL_STEP_K} K"}
        )
        section["dark_current"] = {"rate": _said(rate, "electron/s"), "at": f"{at:g} deg_C", **falls}
    return section


def camera_toml(found: Bench) -> str:
    """The camera section as text, to paste into a plan."""
    import tomlkit

    document = tomlkit.document()
    document.add(tomlkit.comment("measured from frames; interval of 68 cases in 100:"))
    for key, one in found.values.items():
        if one.value is not None and one.low is not None and one.high is not None:
            value, low, high = (say_number(number, 4) for number in (one.value, one.low, one.high))
            document.add(tomlkit.comment(f"{key}: {value} ({low} to {high})"))
    document.add("camera", found.section)
    return tomlkit.dumps(document)
