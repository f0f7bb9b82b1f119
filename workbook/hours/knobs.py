"""What can be turned in the hours panel: where each value stands in a plan, and where it comes from."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from expocalc.base.quantity import read_number
from expocalc.gear.image import field_arcmin, pixel_scale_arcsec
from expocalc.plan import Plan, Where
from workbook.hours.lights import light_shown
from workbook.parts.knob import Knob, Shown, origin_of, shown_at
from workbook.parts.typed import is_none
from workbook.sub_length import knobs as common

__all__ = [
    "HOURS",
    "KNOBS",
    "STACKING",
    "changes",
    "check_patch",
    "hours_shown",
    "shown",
    "stacking",
    "summary",
]

STACKING = ("mean", "clipped mean", "median")


@dataclass(frozen=True, kw_only=True)
class _CountKnob(Knob):
    """A whole number, or none."""

    def read(self, text: str) -> float | None:
        if self.without and (is_none(text) or text.strip().lower() == self.without):
            return None
        return read_number(self.label, text, example=self.example)

    def at(self, turn: float) -> float:
        return float(round(super().at(turn)))


@dataclass(frozen=True, kw_only=True)
class _FramesKnob(Knob):
    """Frames of a master: a whole number, 0 for none, infinite for a perfect one; nothing for what is assumed."""

    def read(self, text: str) -> float | None:
        words = {"none": 0.0, "no": 0.0, "perfect": math.inf, "": None, "assumed": None}
        typed = text.strip().lower()
        if typed in words:
            return words[typed]
        frames = read_number(self.label, text, example=self.example)
        if frames == 0:
            msg = f'{self.label} must be a whole number of at least 1, "none" or "perfect", got {text.strip()[:40]}'
            raise ValueError(msg)
        return frames

    def say(self, value: float | None) -> str:
        return "none" if value == 0 else "perfect" if value == math.inf else super().say(value)

    def at(self, turn: float) -> float:
        return float(round(super().at(turn)))


@dataclass(frozen=True, kw_only=True)
class _ErrorKnob(Knob):
    """An error in per cent, 0 for a perfect background; nothing for what is assumed."""

    def read(self, text: str) -> float | None:
        typed = text.strip().lower()
        if typed in {"", "assumed"}:
            return None
        return 0.0 if typed in {"none", "perfect"} else super().read(text)

    def say(self, value: float | None) -> str:
        return "perfect" if value == 0 else super().say(value)

    def turn(self, value: float | None) -> float:
        return super().turn(value or self.low)


_FRAMES = '40, "none" or "perfect"'

KNOBS: Mapping[str, Knob] = MappingProxyType(
    {
        "patch": Knob(
            label="Side of the patch", unit="arcsec", low=1, high=300, step=0.02, log=True, example='"15 arcsec"'
        ),
        "goal": Knob(label="Goal, SNR", unit="", low=1, high=200, step=0.02, log=True, example="10"),
        "clip": Knob(label="Clipped at", unit="", low=1.5, high=6, step=0.1, example="3"),
        "dither": _CountKnob(
            label="Subs per dither", unit="", low=1, high=20, step=1, example="2", without="no dither"
        ),
        "box": Knob(label="Size of the dither", unit="pixel", low=0, high=100, step=1, example='"20 pixel"'),
        "darks": _FramesKnob(label="Darks", unit="", low=1, high=500, step=0.01, log=True, example=_FRAMES),
        "flats": _FramesKnob(label="Flats", unit="", low=1, high=500, step=0.01, log=True, example=_FRAMES),
        "flatness": _ErrorKnob(
            label="Uneven background", unit="%", low=0.01, high=5, step=0.02, log=True, example='0.2 or "perfect"',
        ),
        "sky": common.KNOBS["sky"],
        "width": common.KNOBS["width"],
    }
)  # fmt: skip
"""The numbers of the panel that belong to the plan, by name."""

HOURS = Knob(label="Hours you have", unit="h", low=0.5, high=500, step=0.02, log=True, example='"10 h"')
"""On the clock, for all filters; not part of a plan."""

_PLACES: Mapping[str, Where] = MappingProxyType(
    {
        "patch": ("target", "patch"),
        "goal": ("goal", "snr"),
        "clip": ("routine", "clip"),
        "dither": ("routine", "dither_every"),
        "box": ("routine", "dither_size"),
        "darks": ("routine", "darks"),
        "flats": ("routine", "flats"),
        "flatness": ("routine", "background_flatness"),
    }
)


def changes(plan: Plan, filter_name: str, name: str, value: float | None) -> dict[Where, Any]:
    """As :func:`workbook.sub_length.knobs.changes`, for the knobs of this panel."""
    if name in common.KNOBS:
        return common.changes(plan, filter_name, name, value)
    where, knob = _PLACES[name], KNOBS[name]
    if value is None and name == "dither":
        return {where: "none"}
    if value is None:
        return {where: None}
    if isinstance(knob, _FramesKnob) and value in (0, math.inf):
        return {where: "none" if value == 0 else "perfect"}
    if isinstance(knob, _CountKnob | _FramesKnob):
        return {where: int(value) if value == int(value) else value}  # the routine refuses parts of a frame
    if name == "flatness":
        return {where: float(f"{value / 100:.6g}") or "perfect"}
    return {where: knob.toml(value) if knob.unit else float(f"{value:.6g}")}


def check_patch(plan: Plan) -> None:
    """Refuse a patch that no picture of this camera can show.

    Raises
    ------
    ValueError
        If the patch is smaller than a pixel or larger than the field.
    """
    case = plan.case
    pixel = float(pixel_scale_arcsec(case.telescope, case.camera))
    field = 60 * min(field_arcmin(case.telescope, case.camera))
    side = float(case.target.patch.value)
    if not pixel * (1 - 1e-9) <= side <= field:
        msg = (
            f"Side of the patch must lie between one pixel, {pixel:.2g} arcsec, and the short side of the field, "
            f'{field:.0f} arcsec, got {side:g} arcsec; write it like "15 arcsec"'
        )
        raise ValueError(msg)


def shown(plan: Plan, filter_name: str) -> dict[str, Shown]:
    """What each knob of the plan shows, by the names of :data:`KNOBS`."""
    case, routine = plan.case, plan.case.routine
    values: dict[str, float | None] = {
        "patch": float(case.target.patch.value),
        "goal": case.goal.snr,
        "clip": routine.clip,
        "dither": routine.dither_every,
        "box": float(routine.dither_size.value),
        "darks": routine.frames("darks"),
        "flats": routine.frames("flats"),
        "flatness": 100 * routine.flatness,
    }
    found = shown_at(plan, KNOBS, _PLACES, values)
    others = common.shown(plan, filter_name)
    return found | {name: others[name] for name in ("sky", "width")}


def stacking(plan: Plan) -> tuple[str, str]:
    """How the subs are stacked, and where that comes from."""
    return plan.case.routine.stacking, origin_of(plan, ("routine", "stacking"))


def hours_shown(hours: float) -> Shown:
    """What the hours at hand show."""
    return Shown(value=hours, text=HOURS.say(hours), origin="yours")


def summary(plan: Plan, values: Mapping[str, Shown], light: str, hours: float, looked_up: str) -> dict[str, str]:
    """One line of each group of controls, for when it is folded."""
    text = {name: value.text for name, value in values.items()}
    dither = "no dither" if values["dither"].value is None else f"dither every {text['dither']}"
    darks = {"none": "no darks", "perfect": "perfect darks", "1": "1 dark"}.get(text["darks"], f"{text['darks']} darks")
    return {
        "Target": f"{light} {light_shown(plan, light).text} in {text['patch']}",
        "Look a brightness up": looked_up,
        "Goal": f"SNR {text['goal']}, {HOURS.say(hours)} at hand",
        "Stack": f"{plan.case.routine.stacking}, {dither}, {darks}",
        "Sky and filter": f"{text['sky']}, {text['width']}",
    }
