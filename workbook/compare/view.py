"""The comparison panel's widgets: they show what the model says, and compute nothing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ipywidgets as w

from expocalc.plan import Plan, PlanError, Where
from workbook.compare import knobs
from workbook.compare.facts import hours_table
from workbook.compare.figures import PairsFigure, ReasonsFigure
from workbook.compare.model import Comparison, compare, reasons_table
from workbook.compare.sides import Side
from workbook.lab.plots import bring_plots
from workbook.parts.controls import Choice, Folds, Number, filter_menu
from workbook.parts.folded_table import FoldedTable, tables_row
from workbook.parts.frame import beside, frame
from workbook.parts.knob import Shown
from workbook.parts.light_in_view import ALL, light_menu
from workbook.parts.plan_row import PlanRow
from workbook.parts.plan_store import PlanStore
from workbook.parts.verdict import Verdict
from workbook.sub_length.knobs import gain_change, gains

__all__ = ["ComparePanel", "show"]


class ComparePanel:
    """Two plans side by side: which one takes fewer hours, by how much, and why.

    Parameters
    ----------
    name, folder
        As in :class:`workbook.parts.plan_store.PlanStore`, for the plan on the left.
    """

    def __init__(self, name: str = "", folder: str | Path = ".") -> None:
        self.left_store = PlanStore(folder, name, check=Side.of)
        self.left = Side.of(self.left_store.plan)
        self.right_store = PlanStore.beside(self.left_store, knobs.first_question(self.left.plan), check=Side.of)
        self.right = Side.of(self.right_store.plan)
        self.filter_name = self.right.case.filters[0].name
        self.same_h = 10.0
        self.left_row = PlanRow(self.left_store, self._load_left, "Left plan file")
        self.right_row = PlanRow(self.right_store, self._load_right, "Right plan file")
        self.verdict = Verdict()
        self.filter = Choice("Filter to change", self._look_at)
        self.light = Choice("Light in view", self._turn_to)
        self.light_name = ALL
        self.gain = Choice("Gain setting", lambda gain: self._change(gain_change(gain)))
        self.numbers = {key: Number(knob, self._turner(key)) for key, knob in knobs.KNOBS.items()}
        self.hours = Number(knobs.HOURS, self._compare_after)
        self.again = w.Button(
            description="Make right as left",
            tooltip="Undo all changes of the right side",
            layout=w.Layout(width="auto"),
        )
        self.swap = w.Button(description="Swap sides", tooltip="Swap left and right", layout=w.Layout(width="auto"))
        self.again.on_click(lambda _: self._take(self.left, self.left))
        self.swap.on_click(lambda _: self._swap())
        self.folds = Folds((group, self._group(group)) for group in knobs.GROUPS)
        self.facts = w.HTML(layout=w.Layout(width="100%", margin="4px 0 0 0"))
        self.hours_table = FoldedTable("Hours in numbers")
        self.reasons_table = FoldedTable("Reasons in numbers")
        found = self._compared(self.left, self.right)
        self.pairs, self.reasons = PairsFigure(found), ReasonsFigure(found)
        self._show(found)
        head = w.HTML('<span class="expo-title">Change the right side</span>')
        controls = [
            w.HBox([head, self.again, self.swap], layout=w.Layout(align_items="center", flex_flow="row wrap")),
            self.folds.widget,
            self.hours.widget,
            self.facts,
        ]
        self.light.widget.layout.max_width = "456px"
        self.pairs.widget.layout.flex = "0 0 auto"  # room that is left is below both pictures
        self.widget = frame(
            self.left_row.widget,
            self.right_row.widget,
            self.verdict.widget,
            beside(controls, [self.light.widget, self.pairs.widget, self.reasons.widget]),
            tables_row(self.hours_table.button, self.reasons_table.button),
            self.hours_table.body,
            self.reasons_table.body,
        )

    def _group(self, group: str) -> list[w.Widget]:
        widgets = [self.numbers[key].widget for key in knobs.GROUPS[group]]
        first = {"Camera": self.gain, "Filter": self.filter}.get(group)
        return [first.widget, *widgets] if first else widgets

    def _turner(self, key: str) -> Any:
        return lambda value: self._change(knobs.changes(self.right.plan, self.filter_name, key, value))

    def _change(self, changes: dict[Where, Any]) -> None:
        """Take changed values on the right, or raise and leave everything as it was."""
        self._take(self.left, Side.of(knobs.changed(self.right.plan, changes)))

    def _compare_after(self, hours: float | None) -> None:
        self.same_h = knobs.checked_hours(hours)
        self._show(self._compared(self.left, self.right))

    def _look_at(self, filter_name: str) -> None:
        self.filter_name = filter_name
        self._show_controls()

    def _turn_to(self, light: str) -> None:
        before, self.light_name = self.light_name, light
        try:
            self._take(self.left, self.right)
        except PlanError:
            self.light_name = before
            raise

    def _load_left(self, plan: Plan) -> None:
        side = Side.of(plan)
        self._take(side, side)

    def _load_right(self, plan: Plan) -> None:
        self._take(self.left, Side.of(plan))

    def _swap(self) -> None:
        found = self._compared(self.right, self.left)
        self.left_store.swap(self.right_store)  # a plan keeps its file
        self._put(self.right, self.left, found)
        names = (self.right_row.name.value, self.left_row.name.value)
        self.left_row.name.value, self.right_row.name.value = names
        for row in (self.left_row, self.right_row):
            row.hush()

    def _seen(self, left: Side, right: Side) -> tuple[Side, Side]:
        """Both sides for the light in view, where both show it; else for all their lights."""
        light = self.light_name
        if light not in left.lights & right.lights:
            return left, right
        return Side.of(left.plan, light), Side.of(right.plan, light)

    def _compared(self, left: Side, right: Side) -> Comparison:
        return compare(*self._seen(left, right), self.same_h)

    def _take(self, left: Side, right: Side) -> None:
        """Take two sides, or raise and leave everything as it was."""
        self._put(left, right, self._compared(left, right))

    def _put(self, left: Side, right: Side, found: Comparison) -> None:
        """Show two sides that are compared; what is in view stays where both have it."""
        if self.light_name not in left.lights & right.lights:
            self.light_name = ALL
        self.left, self.right = left, right
        names = [one.name for one in right.case.filters]
        if self.filter_name not in names:
            self.filter_name = names[0]
        self._show(found)

    def _show(self, found: Comparison) -> None:
        self.pairs.show(found)
        self.reasons.show(found)
        self.verdict.say(found.words.headline, found.words.others, found.words.basis)
        for row, name, side in ((self.left_row, "Left", self.left), (self.right_row, "Right", self.right)):
            row.show(side.plan, f"{name}: {side.case.title}")
        self.facts.value = found.facts.to_html()
        self._show_controls()
        self.hours_table.show(lambda: hours_table(*self._seen(self.left, self.right), self.same_h))
        self.reasons_table.show(lambda: reasons_table(found))

    def _show_controls(self) -> None:
        plan = self.right.plan
        values = knobs.shown(plan, self.left.plan, self.filter_name)
        for key, value in values.items():
            self.numbers[key].show(value)
        self.hours.show(Shown(value=self.same_h, text=knobs.HOURS.say(self.same_h), origin="on the clock"))
        self.filter.show(filter_menu(plan.case), self.filter_name)
        lights = [name for name, _ in plan.case.target.named_lights if name in self.left.lights & self.right.lights]
        self.light.widget.layout.display = None if len(lights) > 1 else "none"
        self.light.show(light_menu(lights), self.light_name)
        names, gain = gains(plan)
        self.gain.show(names, gain, "as left" if gain == gains(self.left.plan)[1] else "changed")
        self.folds.say(knobs.summary(plan, values))


def show(name: str = "") -> w.Widget:
    """The panel as the last line of a notebook's cell."""
    bring_plots()
    return ComparePanel(name).widget
