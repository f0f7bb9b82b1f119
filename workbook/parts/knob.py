"""One number that a person may turn or type: its range, how it is read and how it is said."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from expocalc.base.quantity import read_number, read_quantity
from expocalc.plan import Plan, Where
from workbook.parts.typed import is_none, written
from workbook.parts.units import units_now

__all__ = ["Knob", "Shown", "origin_of", "shown_at"]

_SHOWN_UNITS = {"deg_C": "°C", "deg": "°", "um": "µm", "mag/arcsec2": "mag/arcsec²"}
"""How people write what astropy spells otherwise; the reader takes both."""


@dataclass(frozen=True, kw_only=True)
class Knob:
    """A number with its slider.

    Attributes
    ----------
    label : str
        What stands beside it.
    unit : str
        Unit that astropy reads; empty for a plain number.
    low, high, step : float
        Reach and step of the slider; the box takes what the model allows. [unit]
    log : bool
        Whether the slider moves by a factor, not by a step.
    example : str
        How a value is typed.
    without : str
        Words for having no value, where that is allowed: the box then takes them, "none", or nothing.

    Examples
    --------
    >>> knob = Knob(label="Aperture", unit="mm", low=30, high=600, step=1, example='"102 mm"')
    >>> knob.read("10,2 cm"), knob.read("102"), knob.say(102.0), knob.toml(102.0)
    (102.0, 102.0, '102 mm', '102 mm')
    """

    label: str
    unit: str
    low: float
    high: float
    step: float
    log: bool = False
    example: str = ""
    without: str = ""

    def read(self, text: str) -> float | None:
        """Number of a typed text; TypeError or ValueError with one sentence if it can't be one."""
        if self.without and (is_none(text) or text.strip() == self.without):
            return None
        if self.unit:
            typed = written(text, self.unit, units_now().box(self.unit))
            return read_quantity(self.label, typed, self.unit, example=self.example)
        return read_number(self.label, text, example=self.example)

    def say(self, value: float | None) -> str:
        """The value as it stands in the box, with the unit that a person would write."""
        if value is None:
            return self.without
        if self.unit == "mm":
            return units_now().say_mm(value)
        shown = _SHOWN_UNITS.get(self.unit, self.unit)
        return f"{value:.4g}{'' if shown == '°' else ' '}{shown}".strip()

    def toml(self, value: float | None) -> str | None:
        """The value as a plan file holds it; None where it holds none."""
        return None if value is None else f"{value:.6g} {self.unit}".strip()

    def at(self, turn: float) -> float:
        """Value of a slider's position; a slider that moves by a factor gives three figures."""
        if not self.log:
            return turn
        return float(f"{10**turn:.3g}")

    def turn(self, value: float | None) -> float:
        """Slider's position of a value, at its end where the value lies beyond or there is none."""
        value = self.high if value is None else min(max(value, self.low), self.high)
        return math.log10(value) if self.log else value


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What a control shows: where its slider stands, the text in its box, and where the value comes from."""

    value: float | None
    text: str
    origin: str


def origin_of(plan: Plan, place: Where) -> str:
    """Where a value of a plan comes from: "set here" on the page, the file's "plan", or "assumed"."""
    if place in plan.changes:
        return "set here"
    at: Any = plan.values
    for step in place:
        if isinstance(step, str) and step not in at:
            return "assumed"
        at = at[step]
    return "plan"


def shown_at(
    plan: Plan, knobs: Mapping[str, Knob], places: Mapping[str, Where], values: Mapping[str, float | None]
) -> dict[str, Shown]:
    """What knobs show whose values stand at places of a plan; all by their names."""
    return {
        name: Shown(value=value, text=knobs[name].say(value), origin=origin_of(plan, places[name]))
        for name, value in values.items()
    }
