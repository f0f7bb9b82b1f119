"""The hours panel's widgets: they show what the model says, and compute nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as w

from expocalc.plan import Plan, Where
from workbook.hours import knobs
from workbook.hours.curve_figures import HEIGHT
from workbook.hours.lights import lights, neediest
from workbook.hours.model import picture
from workbook.hours.pictures import LEVERS, PICTURES, SNR, Known, drawn, redraw, table_behind
from workbook.hours.sure import Sure, measure_table, sure_steps, sure_table
from workbook.hours.target_fold import TargetFold
from workbook.hours.verdict import LOOKS, say_snr, words
from workbook.lab.plots import bring_plots
from workbook.parts.controls import Choice, Folds, Number, filter_menu
from workbook.parts.export_row import ExportRow
from workbook.parts.folded_table import FoldedTable, tables_row
from workbook.parts.frame import beside, frame
from workbook.parts.measured_sky import MeasuredSky, say_measured
from workbook.parts.plan_row import PlanRow
from workbook.parts.plan_store import PlanStore
from workbook.parts.slow_work import SlowWork
from workbook.parts.soon import Soon
from workbook.parts.stage import Stage
from workbook.parts.verdict import Verdict

__all__ = ["HoursPanel", "show"]


class HoursPanel:
    """How many hours a faint part takes, how sure that is, and what would change it.

    Parameters
    ----------
    name, folder
        As in :class:`workbook.parts.plan_store.PlanStore`.
    looks : mapping of float to str, optional
        What a patch of an SNR looks like, in the user's own words.
    """

    def __init__(self, name: str = "", folder: str | Path = ".", looks: Mapping[float, str] = LOOKS) -> None:
        folder = Path(folder).resolve()
        self.store = PlanStore(folder, name, check=lambda plan: picture(plan, plan.case.filters[0].name))
        self.plan = self.store.plan
        self.hours = 10.0
        self._looks = looks
        self.filter_name = self.plan.case.filters[0].name
        self.light_name = neediest(self.plan, self.filter_name)
        self.picture = picture(self.plan, self.filter_name, self.light_name)
        self.sure: Sure | None = None

        self.plan_row = PlanRow(self.store, self._load)
        self.verdict = Verdict()
        self.filter = Choice("Filter in view", self._look_at)
        self.target = TargetFold(
            lambda: (self.plan, self.light_name), lambda plan, light: self._take(plan, self.filter_name, light)
        )
        self.stacking = Choice("Stacked by", lambda kind: self._change({("routine", "stacking"): kind}))
        self.numbers = {name: Number(knob, self._turner(name)) for name, knob in knobs.KNOBS.items()}
        self.measured = MeasuredSky(self._change)
        self.at_hand = Number(knobs.HOURS, self._have)
        self.looks_like = w.HTML(layout=w.Layout(margin="0 0 4px 128px", width="auto"))
        self.folds = Folds(self._groups())

        self.table = FoldedTable("Numbers behind the picture")
        self.sure_table = FoldedTable("How sure the hours are")
        self.measure_table = FoldedTable("What to measure next")
        self.pick = w.ToggleButtons(
            options=PICTURES, tooltips=[f"Picture: {one}" for one in PICTURES], style={"button_width": "auto"}
        )
        self.pick.observe(lambda _: self._look_elsewhere(), "value")
        self.work = SlowWork("Range", lambda: sure_steps(self.picture), self._know)
        self.stage = Stage(HEIGHT, drawn, redraw)
        self._soon = Soon(self._refresh)
        self._refresh()
        self.work.poke()
        self.widget = frame(
            self.plan_row.widget,
            self.verdict.widget,
            beside(
                [self.filter.widget, self.folds.widget],
                [w.HBox([self.pick, self.work.widget], layout=w.Layout(width="100%")), self.stage.widget],
            ),
            tables_row(self.table.button, self.sure_table.button, self.measure_table.button),
            self.table.body,
            self.sure_table.body,
            self.measure_table.body,
            ExportRow(folder, lambda: self.plan).widget,
        )

    def _groups(self) -> list[tuple[str, list[w.Widget]]]:
        number = {name: control.widget for name, control in self.numbers.items()}
        habits = [number[name] for name in ("clip", "dither", "box", "darks", "flats", "flatness")]
        return [
            ("Target", [*self.target.widgets, number["patch"], self.target.without]),
            ("Look a brightness up", self.target.look_up.widgets),
            ("Goal", [number["goal"], self.looks_like, self.at_hand.widget]),
            ("Stack", [self.stacking.widget, *habits]),
            ("Sky and filter", [number["sky"], number["width"]]),
            ("Sky by a test sub", self.measured.widgets),
        ]

    # What a person does

    def _turner(self, name: str) -> Callable[[float | None], None]:
        return lambda value: self._change(knobs.changes(self.plan, self.filter_name, name, value))

    def _change(self, changes: Mapping[Where, Any]) -> None:
        """Take changed values, or raise and leave everything as it was."""
        self._take(self.plan.with_values(changes), self.filter_name, self.light_name)

    def _take(self, plan: Plan, filter_name: str, light_name: str) -> None:
        light_name = light_name if light_name in lights(plan) else neediest(plan, filter_name)
        shown = picture(plan, filter_name, light_name)
        words(shown, None)  # what it refuses, it refuses before anything is changed
        self.plan, self.filter_name, self.picture, self.sure = plan, filter_name, shown, None
        self.light_name = light_name
        if self.pick.value == SNR and SNR in self.stage.figures:
            self.stage.figures[SNR].draw(shown)  # what the eye waits for goes out first
        self._soon.ask()
        self.work.poke()

    def _look_at(self, filter_name: str) -> None:
        found = {row.light for row in self.picture.found.rows if row.filter_name == filter_name}
        light = self.light_name if self.light_name in found else neediest(self.plan, filter_name)
        self._take(self.plan, filter_name, light)

    def _have(self, hours: float | None) -> None:
        if hours is None or not hours > 0:
            msg = f'Hours you have must be above 0 h, got {hours:g} h; write it like "10 h"'
            raise ValueError(msg)
        self.hours = hours
        self._show_picture()
        self._show_controls()

    def _load(self, plan: Plan) -> None:
        name = plan.case.filters[0].name
        picture(plan, name)  # refuses before anything is changed
        self.stage.clear()
        self.target.forget()
        self._take(plan, name, neediest(plan, name))

    def _look_elsewhere(self) -> None:
        self._show_picture()
        self._show_tables()

    # What is shown

    def _refresh(self) -> None:
        self._show_picture()
        self._show_words()
        self._show_controls()
        self._show_tables()

    def _know(self, sure: Sure) -> None:
        """The range is known now."""
        self.sure = sure
        if self.pick.value in (SNR, LEVERS):
            self._show_picture()
        self._show_words()
        self._show_tables()

    @property
    def _known(self) -> Known:
        return Known(self.picture, self.sure, self.hours)

    def _show_picture(self) -> None:
        self.stage.show(self.pick.value, self._known)

    def _show_words(self) -> None:
        said = words(self.picture, self.sure, self._looks)
        self.verdict.say(said.headline, said.rest, f"{said.basis} {said.change}")

    def _show_tables(self) -> None:
        name = self.pick.value
        self.table.show(table_behind(name, self.stage.figures[name], self._known))
        self.sure_table.show(lambda: sure_table(self.picture, self.sure))
        self.measure_table.show(lambda: measure_table(self.picture, self.sure))

    def _show_controls(self) -> None:
        plan = self.plan
        self.plan_row.show(plan)
        values = knobs.shown(plan, self.filter_name)
        for name, value in values.items():
            self.numbers[name].show(value)
        self.filter.show(filter_menu(plan.case), self.filter_name)
        self.target.show(plan, self.light_name)
        self.stacking.show(knobs.STACKING, *knobs.stacking(plan))
        self.at_hand.show(knobs.hours_shown(self.hours))
        looks = escape(f"looks “{say_snr(self.picture.goal, self._looks)}”")
        looks = f'<span class="expo-small">{looks}</span>'
        if self.looks_like.value != looks:
            self.looks_like.value = looks
        self.measured.show(plan, self.filter_name)
        told = knobs.summary(plan, values, self.light_name, self.hours, self.target.look_up.said)
        self.folds.say({**told, "Sky by a test sub": say_measured(plan, self.filter_name)})


def show(name: str = "", looks: Mapping[float, str] = LOOKS) -> w.Widget:
    """The panel as the last line of a notebook's cell."""
    bring_plots()
    return HoursPanel(name, looks=looks).widget
