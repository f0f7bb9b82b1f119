"""The sub-length panel's widgets: they show what the model says, and compute nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import ipywidgets as w

from expocalc.light.lamps import LAMPS
from expocalc.plan import Plan, PlanError, Where
from workbook.explore.view import Maps
from workbook.lab.plots import bring_plots
from workbook.parts.controls import Choice, Control, Folds, Number, filter_menu, say_wrong
from workbook.parts.folded_table import FoldedTable, tables_row
from workbook.parts.frame import beside, frame
from workbook.parts.lamps_told import LampsTold
from workbook.parts.light_in_view import ALL, light_menu, lights_in_view, turned_to
from workbook.parts.measured_sky import MeasuredSky, say_measured
from workbook.parts.plan_files import DEMO
from workbook.parts.plan_row import PlanRow
from workbook.parts.plan_store import PlanStore
from workbook.parts.soon import Soon
from workbook.parts.verdict import Verdict
from workbook.sub_length import knobs
from workbook.sub_length.figures import HoursFigure, noise_figure
from workbook.sub_length.model import Picture
from workbook.sub_length.tables import hours_table, noise_table

__all__ = ["SubLengthAnswer", "SubLengthPanel", "show", "show_answer"]

_GROUPS = {
    "Sky": ("sky", "bortle", "lamps"),
    "Sky by a test sub": (),
    "Target": ("altitude",),
    "Telescope": ("aperture", "focal length"),
    "Camera": ("temperature",),
    "Filter": ("width",),
    "Mount and pauses": ("longest sub", "dead time"),
}


class SubLengthPanel:
    """How long the subs should be, what it costs to take others, and why.

    Parameters
    ----------
    name, folder
        As in :class:`workbook.parts.plan_store.PlanStore`.
    """

    def __init__(self, name: str = "", folder: str | Path = ".") -> None:
        self.store = PlanStore(folder, name, check=lambda plan: Picture(plan, plan.case.filters[0].name).found)
        plan = self.store.plan
        self.plan_row = PlanRow(self.store, self._load)
        self.verdict = Verdict()
        self.filter = Choice("Filter in view", self._look_at)
        self.light = Choice("Light in view", self._turn_to)
        self.gain = Choice("Gain setting", lambda name: self._change(self.gain, knobs.gain_change(name)))
        self.lamps = [
            Choice(label, self._mixer(at)) for at, label in enumerate(("First street lamp", "Second street lamp"))
        ]
        self.told = LampsTold(lambda changes: self._change(self.told, dict(changes)))
        self.numbers = {name: Number(knob, self._turner(name)) for name, knob in knobs.KNOBS.items()}
        self.measured = MeasuredSky(lambda changes: self._change(self.measured, changes))
        self.hours_table = FoldedTable("Hours in numbers")
        self.noise_table = FoldedTable("Noise in numbers")
        self.folds = Folds((group, self._group(group)) for group in _GROUPS)
        self.maps = Maps()
        self.maps.pick.observe(lambda _: self._look_elsewhere(), "value")
        self._stage = w.VBox(layout=w.Layout(width="100%"))
        self._soon = Soon(self._follow)
        self._draw(Picture(plan, plan.case.filters[0].name))
        self.widget = frame(
            self.plan_row.widget,
            self.verdict.widget,
            beside(
                [self.filter.widget, self.light.widget, self.folds.widget],
                [self.maps.row, self.maps.widget, self._stage],
            ),
            tables_row(self.hours_table.button, self.maps.table.button, self.noise_table.button),
            self.hours_table.body,
            self.maps.table.body,
            self.noise_table.body,
        )

    @property
    def plan(self) -> Plan:
        """The plan as it is shown."""
        return self.shown.plan

    @property
    def filter_name(self) -> str:
        """The filter in view."""
        return self.shown.filter_name

    def _group(self, group: str) -> list[w.Widget]:
        widgets = [self.numbers[name].widget for name in _GROUPS[group]]
        if group == "Sky":
            widgets[2:2] = [lamp.widget for lamp in self.lamps]
            widgets.append(self.told.widget)
        if group == "Sky by a test sub":
            widgets = self.measured.widgets
        if group == "Camera":
            widgets.insert(0, self.gain.widget)
        return widgets

    def _turner(self, name: str) -> Callable[[float | None], None]:
        return lambda value: self._change(self.numbers[name], knobs.changes(self.plan, self.filter_name, name, value))

    def _mixer(self, at: int) -> Callable[[str], None]:
        def mix(_: str) -> None:
            first, second = (lamp.menu.value for lamp in self.lamps)
            self._change(self.lamps[at], knobs.lamps_change(first, second, knobs.lamps(self.plan).share))

        return mix

    def _change(self, asker: Control | MeasuredSky, changes: Mapping[Where, Any]) -> None:
        self._take(asker, self._picture(self.plan.with_values(changes), self.filter_name, self.shown.light))

    def _look_at(self, filter_name: str) -> None:
        self._take(self.filter, self._picture(self.plan, filter_name, self.shown.light))

    def _turn_to(self, light: str) -> None:
        self._take(self.light, self._picture(self.plan, self.filter_name, light))

    @staticmethod
    def _picture(plan: Plan, filter_name: str, light: str) -> Picture:
        """Picture with that light in view, where the filter is for it."""
        return Picture(plan, filter_name, light if light in lights_in_view(plan, filter_name) else ALL)

    def _take(self, asker: Control | MeasuredSky, shown: Picture) -> None:
        """Draw the curves, which the eye waits for; the rest follows in a moment."""
        self.hours.draw(shown)
        self.shown, self._asker = shown, asker
        self._soon.ask()

    def _follow(self) -> None:
        """Bring the rest up to date, or go back to the last picture that has an answer and say why."""
        try:
            _ = self.shown.found
        except PlanError as error:
            self.shown = self._answered
            self.hours.draw(self.shown)
            self._asker.refuse(error)
        else:
            self._show()

    def _load(self, plan: Plan) -> None:
        shown = Picture(plan, plan.case.filters[0].name)
        _ = shown.found  # refuses before anything is changed
        self._draw(shown)

    def _draw(self, shown: Picture) -> None:
        """New figures for the filters of a plan."""
        old, self.shown = self._stage.children, shown
        self.hours, self.noise = HoursFigure(shown), noise_figure(shown)
        self._show()
        self._stage.children = (self.hours.widget, self.noise.widget)
        for view in old:
            view.close()

    def _look_elsewhere(self) -> None:
        """Curves or a map, as was chosen."""
        self.maps.look()
        self.hours.widget.layout.display = "none" if self.maps.kind else None

    def _show(self) -> None:
        """Show all but the curves."""
        shown, plan = self.shown, self.plan
        self._answered = shown
        self.hours.mark(shown)
        self.noise.show(shown.bars)
        words = shown.words
        self.verdict.say(words.headline, words.rest, f"{words.basis} {words.change}")
        self.plan_row.show(plan)
        self._show_controls()
        self.maps.show(turned_to(plan, shown.light), shown.filter_name)
        self.hours.widget.layout.display = "none" if self.maps.kind else None
        self.hours_table.show(lambda: hours_table(shown.seen))
        self.noise_table.show(lambda: noise_table(shown.seen))

    def _show_controls(self) -> None:
        values = knobs.shown(self.plan, self.filter_name)
        for name, value in values.items():
            self.numbers[name].show(value)
        self.filter.show(filter_menu(self.plan.case), self.filter_name)
        lights = lights_in_view(self.plan, self.filter_name)
        self.light.widget.layout.display = None if len(lights) > 1 else "none"
        self.light.show(light_menu(lights), self.shown.light)
        names, gain = knobs.gains(self.plan)
        self.gain.show(names, gain, knobs.gain_origin(self.plan))
        mix = knobs.lamps(self.plan)
        for choice, lamp in zip(self.lamps, (mix.first, mix.second), strict=True):
            choice.show(LAMPS, lamp, mix.origin)
        self.measured.show(self.plan, self.filter_name)
        self.told.show(self.plan)
        told = {**knobs.summary(self.plan, values), "Sky by a test sub": say_measured(self.plan, self.filter_name)}
        self.folds.say(told)


class SubLengthAnswer:
    """The answer of one plan at a glance: verdict and hours, nothing to set.

    Parameters
    ----------
    name : str
        Plan file, from `folder`.
    folder : str or pathlib.Path, optional
        The notebook's folder; by default the one that the kernel runs in.
    """

    def __init__(self, name: str = DEMO, folder: str | Path = ".") -> None:
        store = PlanStore(
            folder, name, check=lambda plan: Picture(plan, plan.case.filters[0].name).found, at_hand=False
        )
        plan = store.plan
        shown = Picture(plan, plan.case.filters[0].name)
        wrong = w.HTML(say_wrong(store.trouble)) if store.trouble else w.HTML(layout=w.Layout(display="none"))
        title = w.Label(plan.case.title)
        title.add_class("expo-title")
        verdict = Verdict()
        verdict.say(shown.words.headline, shown.words.rest, shown.words.basis)
        self.hours = HoursFigure(shown)
        table = FoldedTable("Hours in numbers")
        table.show(lambda: hours_table(plan))
        self.widget = frame(wrong, title, verdict.widget, self.hours.widget, w.HBox([table.button]), table.body)


def show(name: str = "") -> w.Widget:
    """The panel as the last line of a notebook's cell."""
    bring_plots()
    return SubLengthPanel(name).widget


def show_answer(name: str = DEMO) -> w.Widget:
    """The answer at a glance as the last line of a notebook's cell."""
    bring_plots()
    return SubLengthAnswer(name).widget
