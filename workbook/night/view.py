"""The night panel's widgets: they show what the models say, and compute nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import ipywidgets as w

from expocalc.budget.night import read_hour
from expocalc.night.night import Campaign, Tonight, tonight_of
from expocalc.night.ranking import Ranked
from expocalc.night.words import cloud_sentence
from expocalc.plan import Plan, Where, one_sentence
from workbook.lab.plots import bring_plots
from workbook.night import knobs
from workbook.night.dither import dither, dither_table
from workbook.night.losses_fold import LossesFold
from workbook.night.mount_fold import MountFold
from workbook.night.season import schedule_table, season, season_table
from workbook.night.sheets import CAUTIONS, FORMATS
from workbook.night.shoot import rank_steps, rank_table
from workbook.night.shoot_fold import ShootFold
from workbook.night.stage import Known, NightStage
from workbook.night.tonight import blocks_table, evening, evening_table
from workbook.night.verdict import DITHER, FOLDS, NIGHTS, PICTURES, SEASON, SHOOT, TONIGHT, campaign_steps, words_for
from workbook.parts.controls import Choice, Entry, Folds, Number, filter_menu
from workbook.parts.export_row import ExportRow
from workbook.parts.folded_table import FoldedTable, tables_row
from workbook.parts.frame import beside, frame
from workbook.parts.plan_row import PlanRow
from workbook.parts.plan_store import PlanStore
from workbook.parts.slow_work import SlowWork
from workbook.parts.soon import Soon
from workbook.parts.verdict import Verdict
from workbook.sheets.formats import Format

__all__ = ["NightPanel", "show"]


class NightPanel:
    """When it is dark, what each hour is worth in each filter, and what to do with it.

    Parameters
    ----------
    name, folder
        As in :class:`workbook.parts.plan_store.PlanStore`.
    """

    def __init__(self, name: str = "", folder: str | Path = ".") -> None:
        folder = Path(folder).resolve()
        self.store = PlanStore(folder, name, check=_night)
        self.plan = self.store.plan
        self.night = _night(self.plan)
        self.campaign: Campaign | None = None
        self.ranked: tuple[Ranked, ...] = ()
        self.filter_name = self.plan.case.filters[0].name

        self.plan_row = PlanRow(self.store, self._load)
        self.verdict = Verdict()
        self.numbers = {name: Number(knob, self._turner(name)) for name, knob in knobs.KNOBS.items()}
        self.entries = {
            name: Entry(label, self._typist(name), example) for name, (label, _, example) in knobs.ENTRIES.items()
        }
        self.filter = Choice("Filter in view", self._look_at)
        self.cloud = Entry("If cloudy until", self._cloud_until, "01:00")
        self.cloudy: float | None = None
        self.losses = LossesFold(lambda: self.plan, self._change)
        self.mount = MountFold(self.numbers, self._change)
        self.shoot = ShootFold(folder, self._rank_anew, self._bring)
        self.folds = Folds(self._groups())
        self.table = FoldedTable("Numbers behind the picture")
        self.blocks_table = FoldedTable("Blocks tonight")
        self.pick = w.ToggleButtons(
            options=PICTURES, tooltips=[f"Picture: {one}" for one in PICTURES], style={"button_width": "128px"}
        )
        self.pick.observe(lambda _: self._look_elsewhere(), "value")
        self.work = SlowWork("Schedule", lambda: campaign_steps(self.night), self._know)
        self.ranking = SlowWork(
            "What to shoot",
            lambda: rank_steps(self.plan.case, self.shoot.own, self.night.evening.date),
            self._know_rank,
        )
        self.stage = NightStage()
        self._soon = Soon(self._refresh)
        self._refresh()
        self.work.poke()
        cautions = "".join(f"<p class='expo-small' style='margin:0;font-size:12px'>{line}</p>" for line in CAUTIONS)
        self.widget = frame(
            self.plan_row.widget,
            self.verdict.widget,
            beside([self.folds.widget], [self.pick, self.stage.widget]),
            tables_row(self.table.button, self.blocks_table.button, self.work.widget, self.ranking.widget),
            self.table.body,
            self.blocks_table.body,
            ExportRow(folder, lambda: self.plan, FORMATS, self._written, "tonight").widget,
            w.HTML(cautions, layout=w.Layout(width="100%")),
        )

    def _groups(self) -> list[tuple[str, list[w.Widget]]]:
        number = {name: control.widget for name, control in self.numbers.items()}
        entry = {name: control.widget for name, control in self.entries.items()}
        return [
            ("Night", [entry["date"], number["clear"], number["sun"], entry["earliest"], entry["latest"],
                       self.cloud.widget]),
            (
                "Place and target",
                [
                    *(entry[name] for name in ("latitude", "longitude", "zone")),
                    number["horizon"], entry["name"], entry["position"],
                ],
            ),
            ("Goal and sky", [number["goal"], number["sky"]]),
            ("What takes time", [number[name] for name in ("flip", "change", "focus_every", "focus_time")]),
            ("Mount and focus", self.mount.widgets),
            ("Losses and dither", [self.filter.widget, *self.losses.widgets]),
            ("What to shoot", self.shoot.widgets),
        ]  # fmt: skip

    # What a person does

    def _turner(self, name: str) -> Callable[[float | None], None]:
        return lambda value: self._change(knobs.changes(self.plan, name, value))

    def _typist(self, name: str) -> Callable[[str], None]:
        return lambda text: self._change(knobs.entry_typed(name, text))

    def _change(self, changes: Mapping[Where, Any]) -> None:
        """Take changed values, or raise and leave everything as it was."""
        self._take(self.plan.with_values(changes))

    def _take(self, plan: Plan) -> None:
        night = _night(plan)
        self.plan, self.night, self.campaign = plan, night, None
        names = [f.name for f in plan.case.filters]
        self.filter_name = self.filter_name if self.filter_name in names else names[0]
        if self.pick.value == TONIGHT:
            self.stage.move(night)  # what the eye waits for goes out first
        self._soon.ask()
        self.work.poke()
        if self.pick.value == SHOOT:
            self.ranking.poke()
        else:
            self.ranked = ()

    def _load(self, plan: Plan) -> None:
        _night(plan)  # refuses before anything is changed
        self.stage.clear()
        self._take(plan)

    def _cloud_until(self, text: str) -> None:
        """Take the time of day until which it may be cloudy; it is no part of the plan."""
        self.cloudy = read_hour("If cloudy until", text) if text.strip() else None
        self._show_words()

    def _look_at(self, filter_name: str) -> None:
        self.filter_name = filter_name
        self._refresh()

    def _rank_anew(self) -> None:
        self.pick.value = SHOOT
        self.ranking.poke()

    def _bring(self, name: str) -> None:
        """Make one of the ranked regions the plan's target."""
        one = next(one for one in self.ranked if one.candidate.name == name)
        self.pick.value = TONIGHT
        self._change(one.candidate.changes())

    def _look_elsewhere(self) -> None:
        if self.pick.value in FOLDS:
            self.folds.open(FOLDS[self.pick.value])
        self._show_picture()
        self._show_words()
        self._show_tables()
        if self.pick.value == SHOOT and not self.ranked:
            self.ranking.poke()

    # What is shown

    def _refresh(self) -> None:
        self._show_picture()
        self._show_words()
        self._show_controls()
        self._show_tables()

    def _know(self, campaign: Campaign | None) -> None:
        """The schedule is known now."""
        self.campaign = campaign
        self._show_picture()
        self._show_words()
        self._show_tables()

    def _know_rank(self, ranked: tuple[Ranked, ...]) -> None:
        self.ranked = ranked
        self._show_picture()
        self._show_words()
        self._show_tables()
        self.shoot.show(ranked)

    def _show_picture(self) -> None:
        """Bring the picture in view up to date; the others follow when they are looked at."""
        self.stage.show(self.pick.value, Known(self.night, self.campaign, self.ranked, self.filter_name))

    def _cloudy_s(self) -> float | None:
        return None if self.cloudy is None else self.night.evening.after_noon(self.cloudy)

    def _written(self, form: Format) -> str:
        return form.write(self.night, self._cloudy_s())

    def _show_words(self) -> None:
        found = words_for(self.pick.value, self.night, self.campaign, self.ranked, self.filter_name)
        until_s = self._cloudy_s() if self.campaign is not None and self.pick.value in (TONIGHT, NIGHTS) else None
        second = "" if until_s is None else cloud_sentence(self.night, until_s)
        self.verdict.say(found.headline, second, *found.rest)

    def _show_tables(self) -> None:
        name = self.pick.value
        if name == DITHER:
            self.table.show(lambda: dither_table(dither(self.night, self.filter_name)))
        elif name == SHOOT:
            self.table.show(lambda: rank_table(self.ranked))
        elif name == TONIGHT or self.campaign is None:
            self.table.show(lambda: evening_table(evening(self.night)))
        else:
            campaign = self.campaign
            self.table.show(
                (lambda: season_table(season(campaign))) if name == SEASON else (lambda: schedule_table(campaign))
            )
        if self.campaign is not None:
            self.blocks_table.show(lambda: blocks_table(self.night))

    def _show_controls(self) -> None:
        plan = self.plan
        self.plan_row.show(plan)
        values = knobs.shown(plan)
        for name, value in values.items():
            self.numbers[name].show(value)
        for name, entry in self.entries.items():
            entry.show(knobs.entry_shown(plan, name))
        self.filter.show(filter_menu(self.plan.case), self.filter_name)
        self.losses.show(plan)
        self.mount.show(plan)
        told = {
            **knobs.summary(plan, values),
            "Mount and focus": self.mount.summary,
            "Losses and dither": self.losses.summary,
            "What to shoot": self.shoot.summary,
        }
        self.folds.say(told)


def _night(plan: Plan) -> Tonight:
    """The plan's night, its hours worked out; PlanError where its numbers can't be computed with."""
    with one_sentence():
        night = tonight_of(plan.case)
        assert night.hours is not None
        return night


def show(name: str = "") -> w.Widget:
    """The panel as the last line of a notebook's cell."""
    bring_plots()
    return NightPanel(name).widget
