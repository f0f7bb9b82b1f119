"""What the view of the camera shows: the photon transfer, the darks, the words, and what a plan takes from it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from expocalc.base.words import say_number, say_share, say_span
from expocalc.frames.measure.folder import find_frames
from expocalc.frames.tell.bench_found import Bench
from expocalc.frames.tell.bench_frames import sort_bench
from expocalc.frames.tell.camera import bench
from expocalc.gear.dark_current import arrhenius
from expocalc.plan import Plan, Where
from workbook.parts.table import Table

__all__ = ["CameraPicture", "changes", "look_at_camera", "numbers"]

_UNLIKE = 1.2
"""From this factor on a plan's value is said not to be the camera's."""
_NAMES = {
    "electrons_per_adu": ("electrons per ADU", ""),
    "read_noise_electron": ("read noise, rms", " electron"),
    "read_noise_median_electron": ("read noise of the usual pixel", " electron"),
    "full_well_electron": ("full well", " electron"),
    "dark_electron_s": ("dark current", " electron/s"),
    "activation_ev": ("activation energy", " eV"),
    "glow_electron_s": ("glow", " electron/s"),
    "hot_pixel_share": ("hot pixels, share", ""),
    "dsnu_electron": ("unevenness of the bias (DSNU)", " electron"),
    "prnu": ("unevenness of the response (PRNU), share", ""),
    "linearity_error": ("deviation from a straight line, share", ""),
    "native_step_adu": ("step of the converter", " ADU"),
}


@dataclass(frozen=True, eq=False, kw_only=True)
class CameraPicture:
    """A bench, drawn and said; lists of numbers are ready to draw.

    Attributes
    ----------
    found : Bench
    level, variance : list of float
        Photon transfer of the flats, above the bias. [ADU], [ADU2]
    fitted : list of bool
    line : (list, list)
    temperature, rate, low, high : list of float
        Dark current. [deg_C], [electron s-1]
    law : (list, list)
    headline : str
    others : tuple of str
    """

    found: Bench
    level: list[float]
    variance: list[float]
    fitted: list[bool]
    line: tuple[list[float], list[float]]
    temperature: list[float]
    rate: list[float]
    low: list[float]
    high: list[float]
    law: tuple[list[float], list[float]]
    headline: str
    others: tuple[str, ...]


def look_at_camera(plan: Plan, folder: Path, asked: str, report: Callable[[float], None]) -> CameraPicture:
    """Measure the camera from a folder of biases, flats and darks.

    Raises
    ------
    FrameError
        With one sentence.
    """
    paths = find_frames(folder / asked.strip())
    done = [0]

    def tell(_: str) -> None:
        done[0] += 1
        report(min(done[0] / (2 * len(paths)), 1.0))

    found = bench(*sort_bench(paths, tell), progress=tell)
    line = found.line
    good = line.level_adu > 0
    level = line.level_adu[good]
    # a full flat has no noise: it is drawn well below the line, where the scale ends
    floor = 0.1 * level.min() / line.electrons_per_adu
    variance = np.maximum(line.variance_adu2[good], floor)
    across = np.geomspace(level.min() * 0.7, level.max() * 1.3, 40)
    known = [one for one in found.darks if one.temperature_deg_c is not None and one.rate_e_s > 0]
    at = [float(one.temperature_deg_c or 0.0) for one in known]
    law: tuple[list[float], list[float]] = ([], [])
    if found.law is not None:
        reach = np.linspace(min(at) - 3, max(at) + 3, 40)
        glow = found.law.glow_e_s or 0.0
        top = known[-1]
        curve = arrhenius(top.rate_e_s - glow, float(top.temperature_deg_c or 0.0), reach, found.law.ev) + glow
        law = (reach.tolist(), curve.tolist())
    return CameraPicture(
        found=found, level=level.tolist(), variance=variance.tolist(), fitted=line.fitted[good].tolist(),
        line=(across.tolist(), (across / line.electrons_per_adu).tolist()),
        temperature=at, rate=[one.rate_e_s for one in known],
        low=[max(one.rate_e_s - one.error_e_s, 1e-9) for one in known],
        high=[one.rate_e_s + one.error_e_s for one in known], law=law,
        headline=_headline(found, plan), others=(*_against(found, plan), *(f"Note: {w}." for w in found.warnings)),
    )  # fmt: skip


def _headline(found: Bench, plan: Plan) -> str:
    values = found.values
    gain, read = values["electrons_per_adu"].value, values["read_noise_electron"].value
    worst = max(
        (abs(math.log(measured / planned)), name)
        for name, measured, planned in _pairs(found, plan)
        if measured > 0 and planned > 0
    )
    said = f"Read noise {say_number(read or 0.0, 3)} electron, {say_number(gain or 0.0, 3)} electrons per ADU: "
    if worst[0] < math.log(_UNLIKE):
        return f"{said}the camera is what the plan says."
    return f"{said}the plan's {worst[1]} is not this camera's."


def _pairs(found: Bench, plan: Plan) -> list[tuple[str, float, float]]:
    """What both the bench and the plan say: name, measured, planned."""
    camera, values = plan.case.camera, found.values
    both = [
        ("electrons per ADU", values["electrons_per_adu"].value, camera.setting.electrons_per_adu),
        ("read noise", values["read_noise_electron"].value, math.sqrt(camera.setting.read_variance_e2)),
        ("full well", values["full_well_electron"].value, camera.setting.saturation_e),
    ]
    chosen = next((r for r in found.darks if r.rate_e_s == values["dark_electron_s"].value), None)
    if chosen is not None and chosen.temperature_deg_c is not None:
        planned = camera.dark_current.rate_at(chosen.temperature_deg_c) + float(camera.glow.value)
        both.append(("dark current", chosen.rate_e_s, planned))
    return [(name, float(measured), float(planned)) for name, measured, planned in both if measured]


def _against(found: Bench, plan: Plan) -> tuple[str, ...]:
    parts = [
        f"{name} {say_number(measured, 3)} (plan {say_number(planned, 3)})"
        for name, measured, planned in _pairs(found, plan)
    ]
    line = found.line
    worst = float(np.abs(line.residual[line.fitted]).max())
    return (
        f"Measured, and the plan's: {'; '.join(parts)}.",
        f"The line fits its {int(line.fitted.sum())} points within {say_share(worst)}; the converter's steps make "
        f"{say_share(found.quantisation_share)} of the read noise squared.",
    )


def changes(found: Bench) -> Mapping[Where, Any]:
    """What a plan takes from a bench, as changes of its values."""
    section = found.section
    name = section["gain"]
    taken: dict[Where, Any] = {("camera", "gain"): name, ("camera", "gains", name): section["gains"][name]}
    if "dark_current" in section:
        taken["camera", "dark_current"] = section["dark_current"]
    return taken


def numbers(shown: CameraPicture) -> Table:
    """Every number with its interval."""
    rows = []
    for key, (name, unit) in _NAMES.items():
        one = shown.found.values[key]
        if one.value is None:
            rows.append((name, "not told by these frames", ""))
        else:
            ends = None if one.low is None or one.high is None else (say_number(one.low, 4), say_number(one.high, 4))
            reach = "" if ends is None else say_span(*ends)
            rows.append((name, f"{say_number(one.value, 4)}{unit}", reach))
    line = shown.found.line
    for level, residual, fitted in zip(line.level_adu, line.residual, line.fitted, strict=True):
        rows.append((f"off the line at {level:.0f} ADU", f"{100 * residual:+.2f} %", "" if fitted else "not fitted"))
    rows.append(("bias level", f"{shown.found.bias_adu:.1f} ADU", ""))
    return Table(caption="The camera, measured", head=("What", "Value", "68 cases of 100"), rows=tuple(rows))
