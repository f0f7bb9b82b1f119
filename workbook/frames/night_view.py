"""The view of the morning after."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from expocalc.base.words import say_count
from expocalc.frames.tell.ledger import append
from expocalc.frames.tell.night import with_choice
from workbook.frames import night_model
from workbook.frames.asking import NOTHING, View, wide
from workbook.frames.demo import NIGHT
from workbook.frames.night_figure import NightFigure
from workbook.parts.controls import Entry
from workbook.parts.table import Table

if TYPE_CHECKING:
    from workbook.frames.view import FramesPanel

__all__ = ["NightView"]

_FEW = 8
"""Subs that stand out are listed up to so many; the table has them all."""

_WRAP = """<style>
.expo-panel .expo-sentence label { white-space: normal; height: auto; line-height: 1.3; align-items: flex-start; }
</style>"""


class NightView(View):
    """The morning after."""

    work_name, demo_kind = "Night", NIGHT
    asks = "Name a folder with a night's subs."

    def __init__(self, panel: FramesPanel) -> None:
        self.figure = NightFigure()
        self.read: night_model.Read | None = None
        self.choices: dict[str, bool] = {}
        super().__init__(panel)

    def boxes(self) -> list[w.Widget]:
        """Folder and ledger."""
        self.folder = self.entry("Folder", "with a night's subs")
        self.ledger = wide(Entry("Ledger", self._take_ledger, "frames/ledger.ecsv: nights before count too"))
        return [self.folder.widget, self.ledger.widget]

    def results(self) -> list[w.Widget]:
        """What stands out, each to keep or drop, and the ledger's button."""
        self.odd = w.VBox(layout=w.Layout(width="100%", margin="4px 0 0 0"))
        self.add = self._button("Add to the ledger", "Write these subs into the ledger's file", self._add)
        self.count = self._button(
            "Put the counts into the plan", "Taken and spoiled subs: the plan's losses can then be learned", self._count
        )
        self.own = self._button(
            "Put my own factor into the plan",
            "The hours to plan for then rest on your nights in the ledger",
            self._take_own,
        )
        self.add.disabled = self.count.disabled = self.own.disabled = True
        buttons = w.HBox([self.add, self.count, self.own], layout=w.Layout(flex_flow="row wrap"))
        return [buttons, self.odd]

    def first_box(self) -> Entry:
        """The folder."""
        return self.folder

    def forget(self) -> None:
        """Another plan."""
        super().forget()
        self.read, self.choices = None, {}

    def _ledger_path(self) -> Path | None:
        name = self.ledger.box.value.strip()
        return self.panel.folder / name if name else None

    def look(self, report: Callable[[float], None]) -> night_model.NightPicture:
        """Measure the folder; a person's choices are forgotten with it."""
        read = night_model.read_night(self.panel.plan, self.panel.folder, self.folder.box.value, report)
        self.read, self.choices = read, {}
        return night_model.look_at_night(self.panel.plan, read, self._ledger_path(), {})

    def _again(self) -> None:
        """Tell the same night anew."""
        if self.read is not None:
            self._know(night_model.look_at_night(self.panel.plan, self.read, self._ledger_path(), self.choices))

    def _take_ledger(self, _: str) -> None:
        self._again()

    def draw(self) -> None:
        """The night, and a box for each sub that stands out."""
        super().draw()
        self.add.disabled = self.count.disabled = False
        self.own.disabled = self.shown.found.own is None
        self.panel.left_out = frozenset(one.file for one in self.shown.found.entries if not one.kept)
        listed = self.shown.odd[:_FEW]
        head = f"{_stand_out(len(self.shown.odd))}; keep those with a tick" if self.shown.odd else "No sub stands out."
        rows: list[w.Widget] = [w.HTML(f'{_WRAP}<span class="expo-small">{escape(head)}</span>')]
        for one in listed:
            tick = w.Checkbox(
                value=one.kept, description=f"{one.file}: {one.reason or 'left out by you'}", indent=False,
                tooltip=f"Keep {one.file}", layout=w.Layout(width="100%", height="auto"),
            )  # fmt: skip
            tick.add_class("expo-sentence")
            tick.observe(self._chooser(one.file), "value")
            rows.append(tick)
        if len(self.shown.odd) > _FEW:
            rows.append(w.HTML('<span class="expo-small">The others stand in the table below.</span>'))
        for old in self.odd.children:
            old.close()
        self.odd.children = tuple(rows)

    def _chooser(self, file: str) -> Callable[[Any], None]:
        def choose(change: Any) -> None:
            self.choices = with_choice(self.shown.found, {**self.choices, file: change["new"]})
            self._again()

        return choose

    def _count(self) -> None:
        changes = night_model.counts_taken(self.panel.plan, self.shown.found)
        self.panel.change(changes, "The plan holds this night's counts now.")

    def _take_own(self) -> None:
        own = self.shown.found.own
        said = f"The plan's hours rest on your own {own.nights} nights now: {own.factor:.2g} times those at best."
        self.panel.change({("doubt", "practice"): own.plan_value}, said)

    def _add(self) -> None:
        path = self._ledger_path()
        if path is None:
            self.ledger.show("frames/ledger.ecsv")
            path = self._ledger_path()
        assert path is not None
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            held = append(path, self.shown.found.entries)
        except (OSError, ValueError) as error:
            self.panel.say_done(error)
            return
        nights = len({one.night for one in held.entries})
        self.panel.say_done(f"The ledger holds {len(held.entries)} subs of {nights} night{'s' * (nights > 1)} now.")

    def numbers(self) -> Table:
        """One row a sub."""
        return NOTHING if self.shown is None else night_model.numbers(self.shown)


def _stand_out(count: int) -> str:
    return f"{say_count(count, 'sub')} {'stands' if count == 1 else 'stand'} out"
