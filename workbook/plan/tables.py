"""Tables of the form: rows for each field, and lists to which entries are added."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from typing import Any, Protocol

import ipywidgets as w

from expocalc.base.field import Field, fields_of
from expocalc.plan import Where
from workbook.parts.replaced import close_all
from workbook.plan.entry import say_entry
from workbook.plan.folds import Fold, Note, Part
from workbook.plan.gaps import kind_of
from workbook.plan.model import say_table
from workbook.plan.rows import Desk, FieldRow, button, words_of
from workbook.plan.rules import FOLDED, label_of, pattern
from workbook.plan.usual import free_name
from workbook.plan.values import at, entries

__all__ = ["Adder", "ListForm", "TableDesk", "TableForm"]


class TableDesk(Desk, Protocol):
    """What tables need of the page."""

    @property
    def values(self) -> Mapping[str, Any]:
        """Of the plan."""

    def change(self, changes: Mapping[Where, Any]) -> None:
        """Change the plan; ValueError to refuse."""

    def helper(self, where: Where) -> Part | None:
        """What helps to fill that field in, to stand above it."""

    def adder(self, where: Where, add: Callable[[Any], None]) -> Adder | None:
        """What an entry of that list is added with, where the usual button won't do."""


class Adder(Protocol):
    """What an entry is added with."""

    widget: w.Widget


class TableForm:
    """Rows of one table.

    Parameters
    ----------
    desk : TableDesk
    noun : type
        What is built from it.
    table : tuple
        Its place.
    """

    def __init__(self, desk: TableDesk, noun: type, table: Where) -> None:
        self._desk, self._table = desk, table
        given = at(desk.values, table, {})
        fields = fields_of(noun)
        folded = [f for f in fields if self._waits(f) and f.name not in given]
        self._parts: list[Part] = []
        for field in fields:
            helper = desk.helper((*table, field.name))
            self._parts += [helper] if helper is not None else []
            self._parts += [self._part(field)] if field not in folded else []
        if folded:
            names = ", ".join(label_of((*table, field.name), field).lower() for field in folded)
            self._parts.append(Fold("More", lambda: [self._part(field) for field in folded], lambda: names))
        self.widget = w.VBox([part.widget for part in self._parts], layout=w.Layout(width="100%"))

    def _waits(self, field: Field) -> bool:
        where = (*self._table, field.name)
        if where == ("sky", "luminance") and self._desk.units.sky == "mcd/m2":
            return False
        return (field.advanced and not (field.nouns and field.required)) or pattern(where) in FOLDED

    def _part(self, field: Field) -> Part:
        where = (*self._table, field.name)
        if not field.nouns:
            return FieldRow(self._desk, field, self._table)
        if field.kind != "table":
            return ListForm(self._desk, field, where)
        noun = field.nouns[0]
        return Fold(
            field.label,
            lambda: [Note(field.meaning), TableForm(self._desk, noun, where)],
            lambda: say_table(at(self._desk.values, where, {}), self._desk.units) or "nothing given",
            field.required,
        )

    def refresh(self) -> None:
        """Show what the plan holds now."""
        for part in self._parts:
            part.refresh()


class ListForm:
    """Entries of a list, or of tables by a name of one's own; each can be copied and taken out.

    Parameters
    ----------
    desk : TableDesk
    field : Field
        Of the kind "list" or "tables".
    where : tuple
        Its place.
    """

    def __init__(self, desk: TableDesk, field: Field, where: Where) -> None:
        self._desk, self._field, self._where = desk, field, where
        self.one = field.label.lower().removesuffix("s")
        self._folds: list[Fold] = []
        self._shape: list[Any] = []
        self._list = w.VBox(layout=w.Layout(width="100%"))
        self.said = w.HTML(layout=w.Layout(width="100%", display="none"))
        self._add = desk.adder(where, self.add)
        if self._add is None:
            plain = button(f"Add a {self.one}")
            plain.on_click(lambda _: self.add({}))
        below = w.HBox([plain]) if self._add is None else self._add.widget
        self.widget = w.VBox([self._list, below, self.said], layout=w.Layout(width="100%"))
        self._build(opened=0 if len(self._names()) == 1 else None)

    def _names(self) -> list[Any]:
        """Steps to the entries."""
        if self._field.kind == "tables":
            return list(at(self._desk.values, self._where, {}))
        return list(range(len(entries(self._desk.values, self._where))))

    def _kinds(self) -> list[Any]:
        return [(step, kind_of(self._field, self._entry(step))) for step in self._names()]

    def _entry(self, step: Any) -> Mapping[str, Any]:
        if self._field.kind == "tables":
            return at(self._desk.values, (*self._where, step), {})
        return entries(self._desk.values, self._where)[step]

    def _build(self, opened: int | None) -> None:
        for fold in self._folds:
            close_all(fold.widget)
        self._shape = self._kinds()
        self._folds = [
            Fold(self._name(number, step), lambda step=step: self._parts(step), lambda step=step: self._say(step),
                 number == opened)
            for number, step in enumerate(self._names())
        ]  # fmt: skip
        self._list.children = tuple(fold.widget for fold in self._folds)

    def _name(self, number: int, step: Any) -> str:
        return str(step) if self._field.kind == "tables" else f"{self.one.capitalize()} {number + 1}"

    def _say(self, step: Any) -> str:
        entry = self._entry(step)
        if self._field.kind == "tables":
            return say_table(entry, self._desk.units)
        return ", ".join(say_entry(value) for value in entry.values() if isinstance(value, str | int | float))[:90]

    def _parts(self, step: Any) -> list[Part]:
        form = TableForm(self._desk, kind_of(self._field, self._entry(step)), (*self._where, step))
        name = [KeyRow(self, step)] if self._field.kind == "tables" else []
        return [*name, form, _Buttons(self, step)]

    # What a person does

    def add(self, entry: Any) -> None:
        """Add an entry, open."""

        def do() -> None:
            if self._field.kind == "tables":
                name = free_name(f"{self.one} 1", list(map(str, self._names())))
                self._desk.change({(*self._where, name): entry})
            else:
                self._desk.change({self._where: [*entries(self._desk.values, self._where), entry]})

        self._attempt(do, opened=len(self._names()))

    def copy(self, step: Any) -> None:
        """Copy an entry under a free name."""
        entry = dict(self._entry(step))
        if self._field.kind == "tables":
            name = free_name(f"{step} copy", list(map(str, self._names())))
            self._attempt(lambda: self._desk.change({(*self._where, name): entry}), opened=len(self._names()))
            return
        if "name" in entry:
            taken = [str(one.get("name", "")) for one in entries(self._desk.values, self._where)]
            entry["name"] = free_name(f"{entry['name']} copy", taken)
        self.add(entry)

    def take_out(self, step: Any) -> None:
        """Take an entry out."""
        changes: dict[Where, Any] = {(*self._where, step): None}
        if self._where == ("camera", "gains") and at(self._desk.values, ("camera", "gain")) == step:
            changes[("camera", "gain")] = None
        name = self._entry(step).get("name")
        if self._where == ("filters",) and name in at(self._desk.values, ("sky", "measured"), {}):
            changes[("sky", "measured", str(name))] = None
        self._attempt(lambda: self._desk.change(changes), opened=None)

    def rename(self, step: Any, name: str) -> None:
        """Give an entry that goes by a name another one."""
        names = list(self._names())
        if name in names:
            msg = f"Name of the {self.one} must be another than those there are ({', '.join(names)}), got {name}"
            raise ValueError(msg)
        old = at(self._desk.values, self._where, {})
        changes: dict[Where, Any] = {self._where: {name if key == step else key: one for key, one in old.items()}}
        if self._where == ("camera", "gains") and at(self._desk.values, ("camera", "gain")) == step:
            changes[("camera", "gain")] = name
        self._desk.change(changes)
        self._build(opened=names.index(step))

    def _attempt(self, do: Callable[[], None], opened: int | None) -> None:
        self.said.layout.display = "none"
        try:
            do()
        except ValueError as error:
            self.said.value, self.said.layout.display = f'<span class="expo-wrong">{escape(str(error))}</span>', None
            return
        self._build(opened)

    def refresh(self) -> None:
        """Show what the plan holds now."""
        if self._kinds() != self._shape:
            self._build(opened=None)
        for fold in self._folds:
            fold.refresh()


class _Buttons:
    """Copy and take out."""

    def __init__(self, owner: ListForm, step: Any) -> None:
        copy, out = button(f"Copy this {owner.one}"), button(f"Take this {owner.one} out")
        copy.on_click(lambda _: owner.copy(step))
        out.on_click(lambda _: owner.take_out(step))
        self.widget = w.HBox([copy, out])

    def refresh(self) -> None:
        """Nothing changes."""


class KeyRow:
    """Name of an entry that goes by one."""

    def __init__(self, owner: ListForm, step: str) -> None:
        self._owner, self._step = owner, step
        self.input = w.Text(
            step, description="Name", continuous_update=False, style={"description_width": "150px"},
            layout=w.Layout(width="390px", max_width="100%"),
        )  # fmt: skip
        self.words = w.HTML(words_of("A name of your own."), layout=w.Layout(flex="1 1 260px", min_width="0"))
        self.widget = w.HBox([self.input, self.words], layout=w.Layout(width="100%", flex_flow="row wrap"))
        self.input.observe(self._typed, "value")

    def _typed(self, change: dict[str, str]) -> None:
        try:
            name = change["new"].strip()
            if not name:
                msg = f"Name must be one line of letters or digits, got {change['new']!r}"
                raise ValueError(msg)
            self._owner.rename(self._step, name)
        except ValueError as error:
            self.words.value = f'<span class="expo-wrong">{escape(str(error))}</span>'

    def refresh(self) -> None:
        """Nothing changes."""
