"""One row of the form: a box, and beside it what it means, or what is wrong with what was typed."""

from __future__ import annotations

from html import escape
from typing import Protocol

import ipywidgets as w

from expocalc.base.field import Field
from expocalc.plan import Where
from workbook.parts.controls import say_wrong
from workbook.parts.units import Units
from workbook.parts.verdict import kept_whole
from workbook.plan.model import Box
from workbook.plan.rules import label_of

__all__ = ["Desk", "FieldRow", "button", "words_of"]

_EMPTY = ""


class Desk(Protocol):
    """What the rows need of the page."""

    units: Units

    def box(self, field: Field, table: Where) -> Box:
        """What the box of a field shows."""

    def type(self, field: Field, table: Where, text: str) -> None:
        """Take a typed text; ValueError or TypeError to refuse."""


def words_of(text: str) -> str:
    """Small words as HTML."""
    return f'<span class="expo-small">{kept_whole(text)}</span>'


def button(word: str, tooltip: str = "", width: str = "auto") -> w.Button:
    """A button in the form's look."""
    return w.Button(description=word, tooltip=tooltip or word, layout=w.Layout(width=width, height="28px"))


class FieldRow:
    """Box of one field.

    Parameters
    ----------
    desk : Desk
    field : Field
    table : tuple
        Place of the table that holds the field.
    """

    def __init__(self, desk: Desk, field: Field, table: Where) -> None:
        self._desk, self._field, self._table, self._showing = desk, field, table, False
        self._refused = self._typed_text = ""
        look = {
            "description": label_of((*table, field.name), field),
            "style": {"description_width": "150px"},
            "layout": w.Layout(width="390px", max_width="100%", flex="0 0 auto", margin="1px 8px 1px 0"),
        }
        words = [word for word in field.choices if word != "auto"]
        if field.kind == "choice":
            options = [(self._name(word), word) for word in field.choices]
            if field.required or field.default is None:
                options = [("(choose)" if field.required else "(not given)", _EMPTY), *options]
            self.input: w.Widget = w.Dropdown(options=options, **look)
        elif words and field.kind in ("curve", "text"):
            self.input = w.Combobox(options=words, continuous_update=False, **look)
        else:
            self.input = w.Text(continuous_update=False, **look)
        self.words = w.HTML(layout=w.Layout(flex="1 1 260px", min_width="0", margin="2px 0"))
        self.widget = w.HBox([self.input, self.words], layout=w.Layout(width="100%", flex_flow="row wrap"))
        self.widget.add_class("expo-line")
        self.refresh()
        self.input.observe(self._changed, "value")

    def _name(self, word: str) -> str:
        """A word of a plan as a newcomer reads it."""
        if self._field.name == "mosaic":
            return {"none": "mono (none)", "RGGB": "colour (RGGB)"}.get(word, word)
        return word

    def refresh(self) -> None:
        """Show what the plan holds now."""
        shown = self._desk.box(self._field, self._table)
        self._showing = True
        try:
            if isinstance(self.input, w.Dropdown):
                self.input.value = shown.text or (self._field.default if self._defaults else _EMPTY)
            elif not self._refused:
                self.input.value, self.input.placeholder = shown.text, shown.empty
        finally:
            self._showing = False
        html = f'<b>{escape(shown.state)}</b> · <span class="expo-small">{escape(shown.meaning)}</span>'
        html = f"{say_wrong(self._refused)}<br>{html}" if self._refused else html
        if self.words.value != html:
            self.words.value = html

    @property
    def _defaults(self) -> bool:
        return not self._field.required and self._field.default is not None

    def _changed(self, change: dict[str, str]) -> None:
        if self._showing:
            return
        self._refused = ""
        try:
            self._desk.type(self._field, self._table, str(change["new"]))
        except (TypeError, ValueError) as error:
            self._refused = str(error)
        self.refresh()
