"""Lines beside the line in view, such as N II beside H-alpha: how much of them comes along through the same filter."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from expocalc.light.lights import Light, LineLight
from expocalc.plan import Plan, Where
from workbook.hours.lights import entries, light_named, lights
from workbook.parts.knob import Knob, Shown

__all__ = ["COMPANION_KNOBS", "companion_shown", "companion_turned", "companions_of"]

COMPANION_KNOBS: Mapping[str, Knob] = MappingProxyType(
    {
        line: Knob(label=f"{line} beside it", unit="", low=0, high=3, step=0.05, example="0.3", without="none")
        for line in ("N II", "S II", "H-beta", "H-alpha", "O III")
    }
)
"""Photons of another line for one of the line in view."""

_BESIDE: Mapping[str, tuple[str, ...]] = MappingProxyType({"H-alpha": ("N II", "S II"), "O III": ("H-beta",)})
"""Lines that one filter often passes with the line in view."""


def companions_of(light: Light) -> tuple[str, ...]:
    """Lines beside a light that can be turned: the usual ones and those that the plan names."""
    if not isinstance(light, LineLight):
        return ()
    return tuple(dict.fromkeys((*_BESIDE.get(light.line, ()), *(light.companions or {}))))


def companion_shown(plan: Plan, name: str, line: str, origin: str) -> Shown:
    """What a line beside a light shows; none is the slider's low end."""
    light = light_named(plan, name)
    share = (light.companions or {}).get(line) if isinstance(light, LineLight) else None
    known = share is not None
    return Shown(
        value=share or 0.0, text=COMPANION_KNOBS[line].say(share or None), origin=origin if known else "assumed"
    )


def companion_turned(plan: Plan, name: str, line: str, value: float | None) -> dict[Where, Any]:
    """The plan's change for a line beside a light, in photons for one of the light's.

    Raises
    ------
    ValueError
        If that line is a light of its own in the plan: it would count twice.
    """
    if line in lights(plan):
        msg = f"{line} is a light of its own in this plan; beside {name} it would count twice: take one of them out"
        raise ValueError(msg)
    at, items = lights(plan).index(name), entries(plan)
    beside = dict(items[at].get("companions", {}))
    beside[line] = float(f"{value or 0.0:.4g}")
    beside = {one: share for one, share in beside.items() if share}
    turned = {key: kept for key, kept in items[at].items() if key != "companions"}
    if beside:
        turned["companions"] = beside
    return {("target", "light"): [turned if i == at else one for i, one in enumerate(items)]}
