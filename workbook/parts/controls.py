"""Controls: a number with slider and box, a choice, and folds that hold them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from html import escape

import ipywidgets as w

from expocalc.budget.case import Case
from workbook.parts.knob import Knob, Shown

__all__ = ["Choice", "Control", "Entry", "Folds", "Number", "filter_menu", "say_wrong"]


def filter_menu(case: Case) -> tuple[tuple[str, str], ...]:
    """Filters of a case as options of a menu: as they are shown, and by name."""
    return tuple((one.shown_name, one.name) for one in case.filters)


def say_wrong(error: Exception | str) -> str:
    """An error's sentence as HTML, escaped."""
    return f'<span class="expo-wrong" role="alert">{escape(str(error))}</span>'


class Control:
    """A row of a label and its widgets, where the value comes from, and under it what is wrong."""

    def __init__(self, label: str, *widgets: w.Widget) -> None:
        self.origin = w.Label("", layout=w.Layout(width="88px", flex="0 0 auto", margin="0 0 0 4px"))
        self.origin.add_class("expo-origin")
        self.wrong = w.HTML(layout=w.Layout(display="none", margin="0 0 4px 128px", width="auto"))
        name = w.Label(label, layout=w.Layout(width="124px", flex="0 0 auto", margin="0 4px 0 0"))
        row = w.HBox([name, *widgets, self.origin], layout=w.Layout(width="100%"))
        row.add_class("expo-row")
        self.widget = w.VBox([row, self.wrong], layout=w.Layout(width="100%"))

    def attempt(self, action: Callable[[], None]) -> None:
        """Do it; an input that is refused leaves its sentence, one that is taken removes the last."""
        self.forgive()
        try:
            action()
        except (TypeError, ValueError) as error:
            self.refuse(error)

    def refuse(self, error: Exception) -> None:
        """Say what is wrong with the input."""
        self.wrong.value, self.wrong.layout.display = say_wrong(error), None

    def forgive(self) -> None:
        """Take the sentence away: the control shows a good value again."""
        if self.wrong.value:
            self.wrong.value, self.wrong.layout.display = "", "none"


class Number(Control):
    """A number with a slider, and a box that takes any unit of its kind and a decimal comma.

    Parameters
    ----------
    knob : Knob
    change : callable
        Called with the new number (None for having none); it raises ValueError to refuse.
    """

    def __init__(self, knob: Knob, change: Callable[[float | None], None]) -> None:
        self.knob, self._change, self._showing = knob, change, False
        self._turn: float | None = None
        kind = w.FloatLogSlider if knob.log else w.FloatSlider
        reach = {"min": knob.turn(knob.low), "max": knob.turn(knob.high), "value": knob.low, "step": knob.step}
        self.slider = kind(
            **reach,
            description=f"{knob.label}, slider",  # its name for a screen reader; others see the label beside it
            readout=False,
            continuous_update=True,
            layout=w.Layout(flex="1 1 auto", width="90px", min_width="60px"),
        )
        self.slider.add_class("expo-slider")
        self.box = w.Text(tooltip=knob.label, continuous_update=False, layout=w.Layout(width="148px", flex="0 0 auto"))
        super().__init__(knob.label, self.slider, self.box)
        self.slider.observe(self._slid, "value")
        self.box.observe(self._typed, "value")

    def show(self, shown: Shown) -> None:
        """Show a value without asking for a change."""
        self._showing = True
        try:
            self._turn = self.knob.turn(shown.value)
            if not self._stands(self.knob.turn(self.slider.value)):
                self.slider.value = 10**self._turn if self.knob.log else self._turn
            self.box.value = shown.text
            self.origin.value = shown.origin
        finally:
            self._showing = False
        self.forgive()

    def _stands(self, turn: float) -> bool:
        """Whether that position shows the value at hand, as near as the slider's steps go."""
        return self._turn is not None and abs(turn - self._turn) <= self.knob.step / 2

    def _slid(self, change: dict[str, float]) -> None:
        turn = self.knob.turn(change["new"])
        # The browser rounds a value to the slider's next step and tells us: that is no one's wish.
        if not self._showing and not self._stands(turn):
            self.attempt(lambda: self._change(self.knob.at(turn)))

    def _typed(self, change: dict[str, str]) -> None:
        if not self._showing:
            self.attempt(lambda: self._change(self.knob.read(change["new"])))


class Choice(Control):
    """One of several names.

    Parameters
    ----------
    label : str
    change : callable
        Called with the new name; it raises ValueError to refuse.
    """

    def __init__(self, label: str, change: Callable[[str], None]) -> None:
        self._change, self._showing = change, False
        self.menu = w.Dropdown(tooltip=label, layout=w.Layout(flex="1 1 auto", width="90px"))
        super().__init__(label, self.menu)
        self.menu.observe(self._chosen, "value")

    def show(self, names: Iterable[str | tuple[str, str]], name: str, origin: str = "") -> None:
        """Show the names, or pairs of words and name, and the one in use, without asking for a change."""
        self._showing = True
        try:
            if self.menu.options != (names := tuple(names)):
                self.menu.options = names
            self.menu.value = name
            self.origin.value = origin
        finally:
            self._showing = False

    def _chosen(self, change: dict[str, str]) -> None:
        if not self._showing:
            self.attempt(lambda: self._change(change["new"]))


class Entry(Control):
    """A line of text.

    Parameters
    ----------
    label : str
    change : callable
        Called with the new text; it raises ValueError to refuse.
    example : str
        Shown while the line is empty.
    offered : iterable of str, optional
        Texts that are offered while one types; others may be typed as well.
    """

    def __init__(
        self, label: str, change: Callable[[str], None], example: str = "", offered: Iterable[str] = ()
    ) -> None:
        self._change, self._showing = change, False
        look = {"tooltip": label, "placeholder": example, "continuous_update": False}
        layout = w.Layout(flex="1 1 auto", width="90px")
        self.box = w.Combobox(options=offered, layout=layout, **look) if offered else w.Text(layout=layout, **look)
        super().__init__(label, self.box)
        self.box.observe(self._typed, "value")

    def show(self, text: str) -> None:
        """Show a text without asking for a change."""
        self._showing = True
        try:
            self.box.value = text
        finally:
            self._showing = False
        self.forgive()

    def _typed(self, change: dict[str, str]) -> None:
        if not self._showing:
            self.attempt(lambda: self._change(change["new"]))


class Folds:
    """Groups of controls of which one is open; the others show their values in one line.

    Parameters
    ----------
    groups : iterable of (str, widgets)
        Name and contents of each group; the first is open.
    """

    def __init__(self, groups: Iterable[tuple[str, list[w.Widget]]]) -> None:
        self._names: list[str] = []
        self._heads: list[w.Button] = []
        self._bodies: list[w.VBox] = []
        self._said: dict[str, str] = {}
        for name, widgets in groups:
            head = w.Button(layout=w.Layout(width="100%", margin="1px 0"))
            head.add_class("expo-fold")
            head.on_click(lambda _, name=name: self.open("" if name == self.opened else name))
            self._names.append(name)
            self._heads.append(head)
            self._bodies.append(w.VBox(widgets, layout=w.Layout(width="100%", padding="2px 0 6px 0")))
        pairs = zip(self._heads, self._bodies, strict=True)
        self.widget = w.VBox([part for pair in pairs for part in pair], layout=w.Layout(width="100%"))
        self.open(self._names[0])

    def open(self, opened: str) -> None:
        """Open one group and fold the others; "" folds all."""
        self.opened = opened
        for name, body in zip(self._names, self._bodies, strict=True):
            body.layout.display = None if name == opened else "none"
        self.say(self._said)

    def say(self, said: dict[str, str]) -> None:
        """Tell each folded group's values, by its name."""
        self._said = said
        for name, head in zip(self._names, self._heads, strict=True):
            open_ = name == self.opened
            words = f"▾ {name}" if open_ else f"▸ {name}: {said.get(name, '')}".rstrip(": ")
            if head.description != words:
                head.description = words
