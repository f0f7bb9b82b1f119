"""The hours panel's widgets: they show what the model says, and compute nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as w

from expocalc.plan import Plan, Where
from workbook.hours import knobs
from workbook.hours.bar_figures import LeversFigure, SharesOfHoursFigure
from workbook.hours.companions import COMPANION_KNOBS, companion_shown, companion_turned, companions_of
from workbook.hours.curve_figures import HEIGHT, DepthFigure, SnrFigure
from workbook.hours.depth import depth, depth_table
from workbook.hours.levers import levers, levers_table
from workbook.hours.lookup import LookUp
from workbook.hours.model import Picture, picture
from workbook.hours.noise import noise_bars, noise_table
from workbook.hours.seen import seen_table
from workbook.hours.seen_view import SeenView
from workbook.hours.shares import shares, shares_table
from workbook.hours.sure import Sure, measure_table, snr_table, sure_steps, sure_table
from workbook.hours.verdict import LOOKS, say_snr, words
from workbook.lab.plots import bring_plots
from workbook.parts.controls import Choice, Folds, Number, filter_menu
from workbook.parts.export_row import ExportRow
from workbook.parts.folded_table import FoldedTable
from workbook.parts.frame import beside, frame
from workbook.parts.measured_sky import MeasuredSky, say_measured
from workbook.parts.plan_row import PlanRow
from workbook.parts.plan_store import PlanStore
from workbook.parts.shares import SharesFigure
from workbook.parts.slow_work import SlowWork
from workbook.parts.soon import Soon
from workbook.parts.verdict import Verdict

__all__ = ["HoursPanel", "show"]

SNR, NOISE, DEPTH, LEVERS, SHARES, SEEN = PICTURES = (
    "Hours", "Noise", "How faint", "What helps", "Share out", "See it",
)  # fmt: skip
"""Pictures, of which one is seen at a time."""

_NOISE_TITLE = "What the stack's noise, squared, is made of at the goal"
_NOISE_SENTENCE = (
    "What the noise of each filter's stack is made of: one bar for each filter, divided into target, sky, dark, read "
    "noise and calibration."
)


class HoursPanel:
    """How many hours a faint part takes, how sure that is, and what would change it.

    Parameters
    ----------
    name : str, optional
        Plan file that opens first; by default the one that was used last on any page, else the demo.
    folder : str or pathlib.Path, optional
        The notebook's folder; by default the one that the kernel runs in.
    looks : mapping of float to str, optional
        What a patch of an SNR looks like, in the user's own words.
    """

    def __init__(self, name: str = "", folder: str | Path = ".", looks: Mapping[float, str] = LOOKS) -> None:
        folder = Path(folder).resolve()
        self.store = PlanStore(folder, name, check=lambda plan: picture(plan, plan.case.filters[0].name))
        self.plan = self.store.plan
        self.hours = 10.0
        self._looks = looks
        self._origins: dict[str, str] = {}
        self.filter_name = self.plan.case.filters[0].name
        self.light_name = knobs.neediest(self.plan, self.filter_name)
        self.picture = picture(self.plan, self.filter_name, self.light_name)
        self.sure: Sure | None = None

        self.plan_row = PlanRow(self.store, self._load)
        self.verdict = Verdict()
        self.filter = Choice("Filter in view", self._look_at)
        self.light = Choice("Light in view", self._turn_to)
        self.brightness = {kind: Number(knob, self._shine) for kind, knob in knobs.LIGHT_KNOBS.items()}
        self.beside = {line: Number(knob, self._mixer(line)) for line, knob in COMPANION_KNOBS.items()}
        self.without = w.Button(description="Take this light out", layout=w.Layout(width="160px"))
        self.without.on_click(lambda _: self.light.attempt(self._take_out))
        self.look_up = LookUp(self._use)
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
        self._stage = w.VBox(layout=w.Layout(width="100%", min_height=f"{HEIGHT}px"))
        self._figures: dict[str, Any] = {}
        self._soon = Soon(self._refresh)
        self._refresh()
        self.work.poke()
        self.widget = frame(
            self.plan_row.widget,
            self.verdict.widget,
            beside(
                [self.filter.widget, self.folds.widget],
                [w.HBox([self.pick, self.work.widget], layout=w.Layout(width="100%")), self._stage],
            ),
            w.HBox([self.table.button, self.sure_table.button, self.measure_table.button]),
            self.table.body,
            self.sure_table.body,
            self.measure_table.body,
            ExportRow(folder, lambda: self.plan).widget,
        )

    def _groups(self) -> list[tuple[str, list[w.Widget]]]:
        number = {name: control.widget for name, control in self.numbers.items()}
        lights = [control.widget for control in (*self.brightness.values(), *self.beside.values())]
        habits = [number[name] for name in ("clip", "dither", "box", "darks", "flats", "flatness")]
        return [
            ("Target", [self.light.widget, *lights, number["patch"], self.without]),
            ("Look a brightness up", self.look_up.widgets),
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
        light_name = light_name if light_name in knobs.lights(plan) else knobs.neediest(plan, filter_name)
        shown = picture(plan, filter_name, light_name)
        words(shown, None)  # what it refuses, it refuses before anything is changed
        self.plan, self.filter_name, self.picture, self.sure = plan, filter_name, shown, None
        self.light_name = light_name
        if self.pick.value == SNR and SNR in self._figures:
            self._figures[SNR].draw(shown)  # what the eye waits for goes out first
        self._soon.ask()
        self.work.poke()

    def _look_at(self, filter_name: str) -> None:
        found = {row.light for row in self.picture.found.rows if row.filter_name == filter_name}
        light = self.light_name if self.light_name in found else knobs.neediest(self.plan, filter_name)
        self._take(self.plan, filter_name, light)

    def _turn_to(self, light_name: str) -> None:
        self._take(self.plan, self.filter_name, light_name)

    def _shine(self, value: float | None) -> None:
        assert value is not None  # a light always has a brightness
        plan = self.plan.with_values(knobs.light_turned(self.plan, self.light_name, value))
        self._shine_from("set here", plan, self.light_name)

    def _mixer(self, line: str) -> Callable[[float | None], None]:
        def mix(value: float | None) -> None:
            plan = self.plan.with_values(companion_turned(self.plan, self.light_name, line, value))
            self._shine_from("set here", plan, self.light_name, line)

        return mix

    def _shine_from(self, origin: str, plan: Plan, light_name: str, line: str = "") -> None:
        """Take a plan with a new brightness of one light, or of a line beside it."""
        before = self._origins
        beside = {} if line or origin == "set here" else {f"{light_name} {one}": origin for one in self.beside}
        self._origins = {**before, **beside, f"{light_name} {line}".strip(): origin}
        try:
            self._take(plan, self.filter_name, light_name)
        except ValueError:
            self._origins = before
            raise

    def _use(self, light: Mapping[str, str], origin: str) -> str:
        changes, name = knobs.light_used(self.plan, light)
        new = name not in knobs.lights(self.plan)
        self._shine_from(origin, self.plan.with_values(changes), name)
        return f"{name} comes in addition to the plan's own light." if new else f"The plan's {name} is this now."

    def _take_out(self) -> None:
        self._change(knobs.light_taken_out(self.plan, self.light_name))

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
        old, self._figures, self._origins = self._figures, {}, {}
        self._stage.children = ()
        for figure in old.values():
            figure.widget.close()
        self._take(plan, name, knobs.neediest(plan, name))

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
        if self.pick.value == SNR:
            self._figures[SNR].mark(self.picture, sure)
        elif self.pick.value == LEVERS:
            self._figures[LEVERS].show(levers(self.picture))
        self._show_words()
        self._show_tables()

    def _show_picture(self) -> None:
        """Bring the picture in view up to date; the others follow when they are looked at."""
        name, shown = self.pick.value, self.picture
        figure = self._figures.get(name)
        if figure is None:
            figure = self._figures[name] = self._drawn(name, shown)
            self._stage.children = (*self._stage.children, figure.widget)
        elif name == SNR:
            figure.draw(shown)
            figure.mark(shown, self.sure)
        elif name == NOISE:
            figure.show(noise_bars(shown))
        elif name == DEPTH:
            figure.show(depth(shown))
        elif name == SHARES:
            figure.show(*shares(shown, self.hours))
        elif name == SEEN:
            figure.show(shown, self.hours)
        elif self.sure is not None:  # what helps takes longer: it comes with the range
            figure.show(levers(shown))
        for other, drawn in self._figures.items():
            drawn.widget.layout.display = None if other == name else "none"

    def _drawn(self, name: str, shown: Picture) -> Any:
        if name == SNR:
            return SnrFigure(shown, self.sure)
        if name == NOISE:
            return SharesFigure(_NOISE_TITLE, _NOISE_SENTENCE, noise_bars(shown), "stack noise")
        if name == DEPTH:
            return DepthFigure(depth(shown), [f.shown_name for f in self.plan.case.filters])
        if name == LEVERS:
            return LeversFigure(levers(shown))
        if name == SEEN:
            return SeenView(shown, self.hours)
        return SharesOfHoursFigure(*shares(shown, self.hours))

    def _show_words(self) -> None:
        said = words(self.picture, self.sure, self._looks)
        self.verdict.say(said.headline, said.rest, f"{said.basis} {said.change}")

    def _show_tables(self) -> None:
        tables = {
            SNR: lambda: snr_table(self.picture, self.sure),
            NOISE: lambda: noise_table(self.picture),
            DEPTH: lambda: depth_table(self.picture),
            LEVERS: lambda: levers_table(self.picture),
            SHARES: lambda: shares_table(self.picture, self.hours),
            SEEN: lambda: seen_table(self._figures[SEEN].shown),
        }
        self.table.show(tables[self.pick.value])
        self.sure_table.show(lambda: sure_table(self.picture, self.sure))
        self.measure_table.show(lambda: measure_table(self.picture, self.sure))

    def _show_controls(self) -> None:
        plan = self.plan
        self.plan_row.show(plan)
        values = knobs.shown(plan, self.filter_name)
        for name, value in values.items():
            self.numbers[name].show(value)
        self.filter.show(filter_menu(plan.case), self.filter_name)
        lights = knobs.lights(plan)
        self.light.show(lights, self.light_name)
        self.without.layout.display = None if len(lights) > 1 else "none"
        kind = knobs.light_kind(knobs.light_named(plan, self.light_name))
        for other, control in self.brightness.items():
            control.widget.layout.display = None if other == kind else "none"
        origin = self._origins.get(self.light_name, "plan")
        self.brightness[kind].knob = knobs.light_knob(knobs.light_named(plan, self.light_name))
        self.brightness[kind].show(knobs.light_shown(plan, self.light_name, origin))
        for line, control in self.beside.items():
            seen = line in companions_of(knobs.light_named(plan, self.light_name))
            control.widget.layout.display = None if seen else "none"
            if seen:
                source = self._origins.get(f"{self.light_name} {line}", "plan")
                control.show(companion_shown(plan, self.light_name, line, source))
        self.stacking.show(knobs.STACKING, *knobs.stacking(plan))
        self.at_hand.show(knobs.hours_shown(self.hours))
        looks = escape(f"looks “{say_snr(self.picture.goal, self._looks)}”")
        looks = f'<span class="expo-small">{looks}</span>'
        if self.looks_like.value != looks:
            self.looks_like.value = looks
        self.measured.show(plan, self.filter_name)
        told = knobs.summary(plan, values, self.light_name, self.hours, self.look_up.said)
        self.folds.say({**told, "Sky by a test sub": say_measured(plan, self.filter_name)})


def show(name: str = "", looks: Mapping[float, str] = LOOKS) -> w.Widget:
    """The panel as the last line of a notebook's cell."""
    bring_plots()
    return HoursPanel(name, looks=looks).widget
