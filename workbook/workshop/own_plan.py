"""One's own plan on one page, on the screen: a few boxes, one sentence, and the row that saves it."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from pathlib import Path

import ipywidgets as w

from expocalc.plan import Plan
from workbook.hours.knobs import check_patch
from workbook.parts import knob
from workbook.parts.controls import Choice, Number, filter_menu
from workbook.parts.frame import frame
from workbook.parts.plan_row import PlanRow
from workbook.parts.plan_store import PlanStore
from workbook.parts.verdict import Verdict
from workbook.workshop.own_plan_boxes import (
    CAMERAS,
    DIALS,
    KINDS,
    camera_kind,
    camera_turned,
    filter_kind,
    filter_turned,
    lights_of,
    turned,
    values_of,
)
from workbook.workshop.own_plan_model import Page, page
from workbook.workshop.shown import Shown

__all__ = ["OwnPlan"]

NAME, TITLE = "my-plan", "My plan"
"""What a visitor's plan is called where it was the demo."""
_OTHER = "as in the plan"
_STYLE = """<style>
.expo-own-plan, .expo-own-plan .widget-box { overflow: visible; }
.expo-own-plan .expo-keep { position: sticky; top: 0; z-index: 4; background: var(--jp-layout-color0, #fff);
  margin: 0; padding: 0 0 4px 2px; height: auto; }
.expo-own-plan .expo-row > .widget-text { width: 166px !important; flex: 0 0 auto; }
</style>"""


class OwnPlan(Shown):
    """The page: it opens the plan at hand, as the panels do, and saves it for them.

    Parameters
    ----------
    folder : str or pathlib.Path, optional
        The notebook's; by default the one that the kernel runs in.
    """

    def __init__(self, folder: str | Path = ".") -> None:
        self.night_h = DIALS["night"].start
        self.store = PlanStore(Path(folder).resolve(), check=_check)
        self._look(self.store.plan)
        self.plan_row = PlanRow(self.store, self._load)
        if self.store.demo and not self.store.trouble:
            self.plan_row.name.value = NAME
        self.verdict = Verdict()
        self.verdict.widget.add_class("expo-keep")
        self.camera = Choice("Camera", lambda kind: self._take(camera_turned(self.plan, kind)))
        self.filter = Choice("Filter in view", self._look_through)
        self.kind = Choice("It passes", self._change_filter)
        self.light = Choice("Light in view", lambda name: self._take(self.plan, light=name))
        self.numbers = {name: Number(dial, self._turner(name)) for name, dial in DIALS.items()}
        self.more = w.ToggleButton(tooltip="Why, and the numbers to take along", layout=w.Layout(width="auto"))
        self.more.observe(lambda _: self._show_more(), "value")
        self.folded = w.HTML(layout=w.Layout(width="100%"))
        number = {name: one.widget for name, one in self.numbers.items()}
        boxes = w.VBox(
            [
                *(number[name] for name in ("sky", "aperture", "focal length")),
                self.camera.widget,
                *(number[name] for name in ("pixel", "read noise")),
                *(one.widget for one in (self.filter, self.kind)),
                number["width"],
                self.light.widget,
                *(number[name] for name in ("line", "continuum", "longest sub", "snr", "night")),
            ],
            layout=w.Layout(width="100%", max_width="560px"),
        )
        for one in (*self.numbers.values(), self.camera, self.filter, self.kind, self.light):
            one.origin.layout.display = "none"
        self.widget = frame(
            w.HTML(_STYLE, layout=w.Layout(height="0", margin="0")),
            self.verdict.widget,
            w.HBox([self.more]),
            self.folded,
            boxes,
            self.plan_row.widget,
        )
        self.widget.add_class("expo-own-plan")
        self._show()

    def _look(self, plan: Plan, filter_name: str = "", light: str = "") -> None:
        """Look at a plan, or raise and leave everything as it was."""
        filters = [one.name for one in plan.case.filters]
        filter_name = filter_name if filter_name in filters else filters[0]
        lights = lights_of(plan, filter_name)
        light = light if light in lights else next(iter(lights), "")
        shown = page(plan, filter_name, light, self.night_h)
        self.plan, self.filter_name, self.light_name, self.lights, self.page = plan, filter_name, light, lights, shown

    # What a person does

    def _turner(self, name: str) -> Callable[[float | None], None]:
        def turn(value: float | None) -> None:
            assert value is not None  # each box here has a number
            if name == "night":
                self.night_h = value
                self._take(self.plan, self.filter_name, self.light_name)
            else:
                plan, filter_name = turned(self.plan, self.filter_name, self.light_name, name, value)
                self._take(plan, filter_name, self.light_name)

        return turn

    def _take(self, plan: Plan, filter_name: str = "", light: str = "") -> None:
        """Take a changed plan, or raise and leave everything as it was."""
        if plan is not self.plan and self.store.demo and not self.plan.changes:
            plan = plan.with_values({("title",): TITLE})
        self._look(plan, filter_name or self.filter_name, light or self.light_name)
        self._show()

    def _look_through(self, filter_name: str) -> None:
        self._look(self.plan, filter_name)
        self._show()

    def _change_filter(self, kind: str) -> None:
        if kind == _OTHER:
            self._show()
        else:
            self._take(*filter_turned(self.plan, self.filter_name, kind))

    def _load(self, plan: Plan) -> None:
        self._look(plan)
        self._show()

    # What is shown

    def _show(self) -> None:
        self.plan_row.show(self.plan)
        said: Page = self.page
        self.verdict.say(said.headline, said.planned)
        values = values_of(self.plan, self.filter_name, self.light_name) | {"night": self.night_h}
        for name, number in self.numbers.items():
            value = values[name]
            number.widget.layout.display = "none" if value is None and name in ("line", "continuum", "width") else None
            text = DIALS[name].say(value) if value is not None else "no limit"
            number.show(knob.Shown(value=value, text=text, origin=""))
        self.camera.show(CAMERAS, camera_kind(self.plan))
        filters = filter_menu(self.plan.case)
        self.filter.show(filters, self.filter_name)
        self.filter.widget.layout.display = None if len(filters) > 1 else "none"
        kind = filter_kind(self.plan, self.filter_name) or _OTHER
        self.kind.show((*KINDS, _OTHER) if kind == _OTHER else KINDS, kind)
        self.light.show(self.lights, self.light_name)
        self.light.widget.layout.display = None if len(self.lights) > 1 else "none"
        self._show_more()

    def _show_more(self) -> None:
        opened = self.more.value
        self.more.description = f"{'▾' if opened else '▸'} Why, and the numbers to take along"
        self.folded.layout.display = None if opened else "none"
        words = "".join(f"<p>{escape(one)}</p>" for one in self.page.rest if one)
        self.folded.value = f"{words}{self.page.table.to_html()}" if opened else ""


def _check(plan: Plan) -> None:
    """Refuse a plan whose first filter passes no light of the target: the page would have nothing to say."""
    name = plan.case.filters[0].name
    lights = lights_of(plan, name)
    if not lights:
        msg = f"{name} lets none of the target's light through"
        raise ValueError(msg)
    values_of(plan, name, lights[0])
    check_patch(plan)
