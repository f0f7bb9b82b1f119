"""The target's lights in a plan: how bright each is, and what another brightness changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import astropy.units as u

from expocalc.light.lights import Light, LineLight, StarLight
from expocalc.plan import Plan, Where
from workbook.parts.knob import Knob, Shown
from workbook.parts.typed import written

__all__ = [
    "LIGHT_KNOBS",
    "entries",
    "light_kind",
    "light_knob",
    "light_named",
    "light_shown",
    "light_taken_out",
    "light_turned",
    "light_used",
    "lights",
    "neediest",
]


@dataclass(frozen=True, kw_only=True)
class _LineKnob(Knob):
    """Brightness of one line, which may be typed as energy too."""

    line: str = "H-alpha"

    def read(self, text: str) -> float | None:
        return float(LineLight(line=self.line, brightness=written(text, self.unit)).brightness.value)


LIGHT_KNOBS: Mapping[str, Knob] = MappingProxyType(
    {
        "line": _LineKnob(label="Line brightness", unit="R", low=0.1, high=5000, step=0.02, log=True, example='"12 R"'),
        "continuum": Knob(
            label="Surface brightness", unit="mag/arcsec2", low=16, high=30, step=0.05, example='"25.2 mag/arcsec2"'
        ),
        "star": Knob(label="Star magnitude", unit="mag", low=2, high=24, step=0.1, example='"15.0 mag"'),
    }
)
"""Brightness of a light, by its kind."""

_FIELDS = MappingProxyType({"line": "brightness", "continuum": "continuum", "star": "star"})


def lights(plan: Plan) -> tuple[str, ...]:
    """Names of the target's lights."""
    return tuple(name for name, _ in plan.case.target.named_lights)


def neediest(plan: Plan, filter_name: str) -> str:
    """The light that sets a filter's hours; the target's first where it passes none."""
    return plan.solve().of_filter(filter_name).neediest.light or lights(plan)[0]


def light_named(plan: Plan, name: str) -> Light:
    """Light of the target by its name."""
    return dict(plan.case.target.named_lights)[name]


def light_kind(light: Light) -> str:
    """One of :data:`LIGHT_KNOBS`."""
    return "line" if isinstance(light, LineLight) else "star" if isinstance(light, StarLight) else "continuum"


def _brightness(light: Light) -> u.Quantity:
    return getattr(light, _FIELDS[light_kind(light)])


def light_shown(plan: Plan, name: str, origin: str = "plan") -> Shown:
    """What the brightness of a light shows."""
    light = light_named(plan, name)
    value = float(_brightness(light).value)
    return Shown(value=value, text=LIGHT_KNOBS[light_kind(light)].say(value), origin=origin)


def light_knob(light: Light) -> Knob:
    """The knob of a light's brightness."""
    knob = LIGHT_KNOBS[light_kind(light)]
    return replace(knob, line=light.line) if isinstance(light, LineLight) else knob


def light_turned(plan: Plan, name: str, value: float) -> dict[Where, Any]:
    """The plan's change for a brightness in the unit of the light's knob."""
    kind = light_kind(light_named(plan, name))
    at, items = lights(plan).index(name), entries(plan)
    typed = items[at] | {_FIELDS[kind]: LIGHT_KNOBS[kind].toml(value)}
    typed.pop("doubt", None)  # it was that of the brightness before
    return {("target", "light"): [typed if i == at else one for i, one in enumerate(items)]}


def entries(plan: Plan) -> list[dict[str, Any]]:
    """The plan's own items of light."""
    given = plan.values["target"]["light"]
    return [dict(given)] if isinstance(given, Mapping) else [dict(one) for one in given]


def light_used(plan: Plan, light: Mapping[str, str]) -> tuple[dict[Where, Any], str]:
    """The plan's change for a light that was looked up, and the light's name.

    It takes the place of the light of its name, companions and doubt included: they belonged to another brightness.
    Where there is none of its name it comes in addition.
    """
    name = light.get("line", "continuum")
    if name in lights(plan):
        at = lights(plan).index(name)
        return {("target", "light"): [dict(light) if i == at else one for i, one in enumerate(entries(plan))]}, name
    return {("target", "light"): [*entries(plan), dict(light)]}, name


def light_taken_out(plan: Plan, name: str) -> dict[Where, Any]:
    """The plan's change for a target without one of its lights."""
    at = lights(plan).index(name)
    kept = [one for i, one in enumerate(entries(plan)) if i != at]
    left: dict[Where, Any] = {("target", "light"): kept}
    for number, filter_ in enumerate(plan.case.filters):  # no filter is wanted for what is not there
        if filter_.wanted and name in filter_.wanted:
            left["filters", number, "wanted"] = [light for light in filter_.wanted if light != name] or None
    return left
