"""A sky measured by hand: the middle of a test sub, typed, becomes the plan's own sky in the filter in view."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from html import escape
from typing import Any

import ipywidgets as w

from expocalc.base.quantity import read_number, read_quantity
from expocalc.base.words import colour_word, say_number
from expocalc.frames.tell.typed import BELOW, TypedSky, sky_of_medians
from expocalc.plan import Plan, Where, one_sentence
from workbook.parts.controls import Choice, Entry, say_wrong
from workbook.parts.typed import is_none, written

__all__ = ["MeasuredSky", "say_measured"]

_ASKS = "The middle (median) of a test sub and of a bias or dark, as any viewer shows it, and the sub's seconds."
_COLOURS = ("mono", "R", "G", "B")


def say_measured(plan: Plan, filter_name: str) -> str:
    """The sky that the plan holds as measured through a filter, in a few words.

    Examples
    --------
    >>> from workbook.copies import shipped
    >>> say_measured(Plan.read(shipped() / "plans/colour-dual-band.toml"), "Dual 6 nm")
    'not measured yet'
    """
    found = (plan.case.sky.measured or {}).get(filter_name)
    if found is None:
        return "not measured yet"
    if found.mag_ab is not None:
        return f"{found.mag_ab:.2f} mag/arcsec² (AB)"
    rates = found.colours or {"": found.electron_s or 0.0}
    said = ", ".join(f"{colour_word(colour)} {say_number(rate, 3)}".strip() for colour, rate in rates.items())
    return f"{said} electron/s"


class MeasuredSky:
    """Boxes for a test sub's numbers, what they mean, and a button that brings it into the plan.

    Parameters
    ----------
    change : callable
        Called with changes of the plan; it raises ValueError to refuse.

    Attributes
    ----------
    widgets : list of widget
    found : TypedSky or None
        What the boxes mean, once all are filled.
    """

    def __init__(self, change: Callable[[Mapping[Where, Any]], None]) -> None:
        self._change = change
        self._plan: Plan | None = None
        self._filter_name = ""
        self.found: TypedSky | None = None
        self.medians = {one: Entry(_label(one), lambda _: self._look(), _example(one)) for one in _COLOURS}
        self.below = Entry("Level below, ADU", lambda _: self._look(), "like 500")
        self.kind = Choice("That level is of a", lambda _: self._look())
        self.kind.show(BELOW, BELOW[0])
        self.seconds = Entry("Length of that sub", lambda _: self._look(), "like 120 s")
        self.said = w.HTML(layout=w.Layout(width="100%"))
        self.use = self._button("Put this sky into the plan", self._use)
        self.forget = self._button("Back to the reading", self._forget)
        asks = w.HTML(f'<span class="expo-small">{escape(_ASKS)}</span>', layout=w.Layout(width="100%"))
        boxes = [*self.medians.values(), self.below, self.kind, self.seconds]
        self.widgets = [asks, *(one.widget for one in boxes), self.said, w.HBox([self.use, self.forget])]
        for entry in boxes:
            entry.origin.layout.display = "none"

    @staticmethod
    def _button(word: str, press: Callable[[], None]) -> w.Button:
        button = w.Button(description=word, tooltip=word, layout=w.Layout(width="auto"))
        button.on_click(lambda _: press())
        return button

    def show(self, plan: Plan, filter_name: str) -> None:
        """Speak of a plan and the filter in view; what is typed stays."""
        self._plan, self._filter_name = plan, filter_name
        for colour, entry in self.medians.items():
            entry.widget.layout.display = None if colour in plan.case.camera.colours else "none"
        level = plan.case.camera.setting.bias_level
        self.below.box.placeholder = "like 500" if level is None else f"{level:g}, the plan's bias level"
        self._look()

    def refuse(self, error: Exception) -> None:
        """Say why the plan can't take it."""
        self.said.value = say_wrong(error)

    # What the boxes mean

    def _look(self) -> None:
        """Work out what is typed, and say it or what is missing."""
        self.found, said = None, ""
        assert self._plan is not None
        try:
            self.found = self._read(self._plan)
        except (TypeError, ValueError) as error:
            said = say_wrong(error)
        held = say_measured(self._plan, self._filter_name)
        if self.found is not None:
            said = f'<p class="expo-small" role="status" style="margin: 0">{escape(self.found.sentence)}</p>'
        held = f"In the plan for {self._plan.case.filter_shown(self._filter_name)}: {held}."
        now = f'<p class="expo-small" style="margin: 0">{escape(held)}</p>'
        if self.said.value != said + now:
            self.said.value = said + now
        self.use.disabled = self.found is None
        self.forget.layout.display = None if self._filter_name in (self._plan.case.sky.measured or {}) else "none"

    def _read(self, plan: Plan) -> TypedSky | None:
        """What the boxes hold; None while one is empty."""
        camera = plan.case.camera
        wanted = {colour: self.medians[colour].box.value for colour in camera.colours}
        seconds, level = self.seconds.box.value, self.below.box.value
        medians = {c: read_number(_label(c), one, minimum=0) for c, one in wanted.items() if one.strip()}
        below_adu = 0.0 if level.strip() and is_none(level) else camera.setting.bias_level
        if level.strip() and not is_none(level):
            below_adu = read_number("Level below, ADU", level, minimum=0, example="500")
        if seconds.strip():
            typed = written(seconds, "s")
            length_s = read_quantity("Length of that sub", typed, "s", above=0, maximum=86_400, example='"120 s"')
        if len(medians) < len(wanted) or not seconds.strip() or below_adu is None:
            return None
        with one_sentence():
            return sky_of_medians(
                plan.case, self._filter_name, medians, float(below_adu), length_s, str(self.kind.menu.value)
            )

    # What a person does

    def _use(self) -> None:
        if self.found is None or self._plan is None:
            return
        changes: dict[Where, Any] = {("sky", "measured", self._filter_name): self.found.value}
        if set(self._plan.values.get("measured_under", {})) <= {"date"}:
            changes["measured_under", "date"] = dt.date.today().isoformat()
        self._attempt(changes)

    def _forget(self) -> None:
        assert self._plan is not None
        held = self._plan.values["sky"].get("measured", {})
        if self._filter_name not in held:
            return
        last: tuple[Where, ...] = () if len(held) > 1 else (("measured_under",),)
        place = ("sky", "measured", self._filter_name) if len(held) > 1 else ("sky", "measured")
        self._attempt({place: None, **{one: None for one in last if one[0] in self._plan.values}})

    def _attempt(self, changes: Mapping[Where, Any]) -> None:
        try:
            self._change(changes)
        except (TypeError, ValueError) as error:
            self.refuse(error)


def _label(colour: str) -> str:
    return "Median, ADU" if colour == "mono" else f"Median in {colour_word(colour)}"


def _example(colour: str) -> str:
    return {"mono": "like 540", "R": "like 612", "G": "like 655", "B": "like 580"}[colour]
