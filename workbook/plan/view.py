"""The page of gear and targets: the plan as a form, and on top the answer or what is missing for one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import ipywidgets as w

from expocalc.base.field import Field, fields_of
from expocalc.budget.case import Case
from expocalc.plan import Plan, Where
from workbook.parts.folded_table import FoldedTable
from workbook.parts.frame import frame
from workbook.parts.plan_row import PlanRow
from workbook.parts.replaced import close_all
from workbook.parts.soon import Soon
from workbook.parts.units import LENGTHS, SKIES, Units, keep_units, kept_units
from workbook.parts.verdict import Verdict
from workbook.plan.adders import FilterAdder, LampChooser, LightAdder, SensorChooser
from workbook.plan.edit import edits
from workbook.plan.entry import say_unit
from workbook.plan.folds import Fold, Note, Part
from workbook.plan.form_store import FormStore
from workbook.plan.gaps import gaps
from workbook.plan.model import Box, Words, box, hours_table, say_table, summary, words
from workbook.plan.rows import FieldRow, button, words_of
from workbook.plan.rules import GROUPS, Group
from workbook.plan.tables import Adder, ListForm, TableForm

__all__ = ["PlanPage", "show"]

_FIELDS = {field.name: field for field in fields_of(Case)}
_DEMO = "This plan is a demo; it stays as it is. Begin one of your own:"
_READINGS = "One reading is enough: the boxes of the others then show what they would be."
_UNITS = "Units of all pages; those that are open follow when they are opened again."
STYLE = """<style>
.expo-panel .expo-line { align-items: center; border-bottom: 1px solid rgba(128, 128, 128, .25); }
.expo-panel .expo-line .widget-html-content { font-size: 12px; line-height: 1.3; }
.expo-panel .expo-line .widget-label { font-size: 12.5px; }
.jp-OutputArea:has(.expo-groups), .jp-OutputArea-child:has(.expo-groups), .jp-OutputArea-output:has(.expo-groups),
.jp-OutputArea-output .widget-vbox:has(.expo-groups), .expo-panel:has(.expo-groups) { overflow: visible; }
.expo-panel .expo-stays { position: sticky; top: 0; z-index: 5; background: var(--jp-layout-color0, white); }
.expo-panel .expo-groups > .widget-vbox { margin: 0; }
.expo-panel .expo-fold { overflow: hidden; text-overflow: ellipsis; }
</style>"""


class PlanPage:
    """The plan at hand as a form.

    Parameters
    ----------
    name, folder
        As in :class:`workbook.parts.plan_store.PlanStore`.
    """

    def __init__(self, name: str = "", folder: str | Path = ".") -> None:
        self.store = FormStore(Path(folder).resolve(), name)
        self.units = kept_units(self.store.files.root)
        self.said: Words = words(self.store.values, None)
        self.plan_row = PlanRow(self.store, self._take)
        self.plan_row.new.tooltip = "Begin a plan from nothing"
        self.verdict = Verdict()
        self.verdict.widget.add_class("expo-stays")
        self.about = w.HTML(layout=w.Layout(width="100%", padding="0 0 4px 17px"))
        self.table = FoldedTable("Hours of each filter")
        self._soon = Soon(self._answer)
        self._demo = self._demo_row()
        self._title = w.VBox(layout=w.Layout(width="100%"))
        self._groups: dict[str, Fold] = {}
        self._stage = w.VBox(layout=w.Layout(width="100%"))
        self._stage.add_class("expo-groups")
        self._build()
        self._answer()
        style = w.HTML(STYLE, layout=w.Layout(height="0", margin="0"))
        answer = [self.verdict.widget, self.about, w.HBox([self.table.button]), self.table.body]
        form = [self._title, self._stage, self._units_row()]
        self.widget = frame(style, self.plan_row.widget, self._demo, *answer, *form)

    # What the rows and tables need

    @property
    def values(self) -> Mapping[str, Any]:
        """Of the plan, complete or not."""
        return self.store.values

    def box(self, field: Field, table: Where) -> Box:
        """What the box of a field shows."""
        return box(field, table, self.store.values, self.units)

    def type(self, field: Field, table: Where, text: str) -> None:
        """Take a typed text."""
        self.change(edits(field, table, text, self.store.values, self.units))

    def change(self, changes: Mapping[Where, Any]) -> None:
        """Change the plan, and show what follows."""
        self.store.change(changes)
        self._show()

    def adder(self, where: Where, add: Callable[[Any], None]) -> Adder | None:
        """What a filter or a light is added with."""
        if where == ("filters",):
            return FilterAdder(self, add)
        return LightAdder(self, add) if where == ("target", "light") else None

    def helper(self, where: Where) -> Part | None:
        """What helps to fill a field in, to stand above it."""
        if where == ("sky", "zenith_brightness"):
            return Note(_READINGS)
        if where == ("sky", "lamps"):
            return LampChooser(self)
        return SensorChooser(self) if where == ("camera", "pixel") else None

    # What a person does

    def _take(self, _: Plan) -> None:
        """Another plan, or another version of it, came from the row of plans."""
        self._build()
        self._show()

    def _demo_row(self) -> w.HBox:
        new, copy = button("From nothing"), button("From a copy of this demo")
        new.on_click(lambda _: self.plan_row.new.click())
        copy.on_click(lambda _: self.plan_row.copy.click())
        row = w.HBox([w.HTML(words_of(_DEMO), layout=w.Layout(width="auto")), new, copy])
        row.layout.flex_flow = "row wrap"
        return row

    def _units_row(self) -> w.HBox:
        length = w.Dropdown(options=LENGTHS, value=self.units.length, description="Lengths in")
        sky = w.Dropdown(options=[(say_unit(one), one) for one in SKIES], value=self.units.sky, description="Sky in")
        for one in (length, sky):
            one.layout.width = "210px"

        def choose(_: object) -> None:
            self.units = Units(length=length.value, sky=sky.value)
            keep_units(self.store.files.root, self.units)
            self._build()
            self._show()

        length.observe(choose, "value")
        sky.observe(choose, "value")
        note = w.HTML(words_of(_UNITS), layout=w.Layout(width="auto"))
        return w.HBox([length, sky, note], layout=w.Layout(flex_flow="row wrap", width="100%"))

    # What is shown

    def _build(self) -> None:
        """Make the form anew, with the group open that was."""
        opened = [name for name, fold in self._groups.items() if fold.opened] or [self._first_to_open()]
        for fold in self._groups.values():
            close_all(fold.widget)
        for child in self._title.children:
            close_all(child)
        self._title_row = FieldRow(self, _FIELDS["title"], ())
        self._title.children = (self._title_row.widget,)
        self._groups = {group.name: self._fold(group, group.name in opened) for group in GROUPS}
        self._stage.children = tuple(fold.widget for fold in self._groups.values())

    def _first_to_open(self) -> str:
        lacks = gaps(self.store.values)
        return lacks[0].group if lacks else ""

    def _fold(self, group: Group, opened: bool) -> Fold:
        def say() -> str:
            return summary(group, self.store.values, gaps(self.store.values), self.units)

        return Fold(group.name, lambda: self._parts(group), say, opened, alone=self._alone)

    def _alone(self, one: Fold) -> None:
        """One group is open at a time, so that a page stays light."""
        for fold in self._groups.values():
            if fold is not one and fold.opened:
                fold.open(False)

    def _parts(self, group: Group) -> list[Part]:
        parts: list[Part] = []
        for number, section in enumerate(group.sections):
            field = _FIELDS[section]
            if field.kind != "table":
                parts.append(ListForm(self, field, (section,)))
                continue
            if number:
                parts.append(self._section(field))
                continue
            parts += [Note(field.meaning), TableForm(self, field.nouns[0], (section,))]
        return parts

    def _section(self, field: Field) -> Fold:
        where = (field.name,)

        def say() -> str:
            return say_table(self.store.values.get(field.name, {}), self.units) or "nothing given"

        return Fold(field.label, lambda: [Note(field.meaning), TableForm(self, field.nouns[0], where)], say)

    def _show(self) -> None:
        """Show the plan's values at once; the answer follows in a moment."""
        store = self.store
        incomplete = store.sketch is not None
        self.plan_row.show(store.plan, str(store.values.get("title", "A plan without a title")) if incomplete else "")
        self.plan_row.home.layout.display = "none" if incomplete else None
        if self.plan_row.name.value != store.name:
            self.plan_row.name.value = store.name
        self._demo.layout.display = None if store.demo else "none"
        self._title_row.refresh()
        for fold in self._groups.values():
            fold.refresh()
        self._soon.ask()

    def _answer(self) -> None:
        store = self.store
        if store.met:
            self._build()
            self.plan_row.tell(store.met)
            store.met = ""
        self.said = words(store.values, None if store.sketch is not None else store.plan, store.snag)
        self.verdict.say(self.said.headline)
        self.about.value = "<br>".join(map(words_of, self.said.rest))
        found = self.said.answer
        self.table.button.layout.display = "none" if found is None else None
        if found is None:
            self.table.button.value = False
        else:
            self.table.show(lambda: hours_table(found))


def show(name: str = "") -> w.Widget:
    """The page as the last line of a notebook's cell."""
    return PlanPage(name).widget
