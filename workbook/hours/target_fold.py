"""The controls of the target's lights: which is in view, how bright it and the lines beside it are, and from where."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import ipywidgets as w

from expocalc.plan import Plan
from workbook.hours.companions import COMPANION_KNOBS, companion_shown, companion_turned, companions_of
from workbook.hours.lights import (
    LIGHT_KNOBS,
    light_kind,
    light_knob,
    light_named,
    light_shown,
    light_taken_out,
    light_turned,
    light_used,
    lights,
)
from workbook.hours.lookup import LookUp
from workbook.parts.controls import Choice, Number

__all__ = ["TargetFold"]

_BY_HAND = "set here"


class TargetFold:
    """The light in view with its brightness, which may be looked up; a light may come in addition or be taken out.

    Parameters
    ----------
    current : callable
        Gives the plan at hand, and the light in view.
    take : callable
        Takes a plan and the light in view; it raises ValueError to refuse.
    """

    def __init__(self, current: Callable[[], tuple[Plan, str]], take: Callable[[Plan, str], None]) -> None:
        self._current, self._take = current, take
        self.origins: dict[str, str] = {}
        self.light = Choice("Light in view", lambda name: take(current()[0], name))
        self.brightness = {kind: Number(knob, self._shine) for kind, knob in LIGHT_KNOBS.items()}
        self.beside = {line: Number(knob, self._mixer(line)) for line, knob in COMPANION_KNOBS.items()}
        self.without = w.Button(description="Take this light out", layout=w.Layout(width="160px"))
        self.without.on_click(lambda _: self.light.attempt(self._take_out))
        self.look_up = LookUp(self._use)
        numbers = (*self.brightness.values(), *self.beside.values())
        self.widgets: list[w.Widget] = [self.light.widget, *(number.widget for number in numbers)]

    # What a person does

    def _shine(self, value: float | None) -> None:
        assert value is not None  # a light always has a brightness
        plan, light = self._current()
        self._shine_from(_BY_HAND, plan.with_values(light_turned(plan, light, value)), light)

    def _mixer(self, line: str) -> Callable[[float | None], None]:
        def mix(value: float | None) -> None:
            plan, light = self._current()
            self._shine_from(_BY_HAND, plan.with_values(companion_turned(plan, light, line, value)), light, line)

        return mix

    def _shine_from(self, origin: str, plan: Plan, light: str, line: str = "") -> None:
        """Take a plan with a new brightness of one light, or of a line beside it."""
        before = self.origins
        beside = {} if line or origin == _BY_HAND else {f"{light} {one}": origin for one in self.beside}
        self.origins = {**before, **beside, f"{light} {line}".strip(): origin}
        try:
            self._take(plan, light)
        except ValueError:
            self.origins = before
            raise

    def _use(self, light: Mapping[str, str], origin: str) -> str:
        plan, _ = self._current()
        changes, name = light_used(plan, light)
        new = name not in lights(plan)
        self._shine_from(origin, plan.with_values(changes), name)
        return f"{name} comes in addition to the plan's own light." if new else f"The plan's {name} is this now."

    def _take_out(self) -> None:
        plan, light = self._current()
        self._take(plan.with_values(light_taken_out(plan, light)), light)

    # What is shown

    def forget(self) -> None:
        """Forget where the values came from: those of another plan come from it."""
        self.origins = {}

    def show(self, plan: Plan, light: str) -> None:
        """Show a plan's light."""
        names, noun = lights(plan), light_named(plan, light)
        self.light.show(names, light)
        self.without.layout.display = None if len(names) > 1 else "none"
        kind = light_kind(noun)
        for other, control in self.brightness.items():
            control.widget.layout.display = None if other == kind else "none"
        self.brightness[kind].knob = light_knob(noun)
        self.brightness[kind].show(light_shown(plan, light, self.origins.get(light, "plan")))
        for line, control in self.beside.items():
            seen = line in companions_of(noun)
            control.widget.layout.display = None if seen else "none"
            if seen:
                control.show(companion_shown(plan, light, line, self.origins.get(f"{light} {line}", "plan")))
