"""What helps to fill the form in: usual filters, lights looked up, published sensors, lamps in plain words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from typing import Any, Protocol

import ipywidgets as w

from expocalc.base.quantity import read_quantity
from expocalc.gear.sensors import SENSORS
from expocalc.light.lamp_shares import FROM_RATES
from expocalc.plan import Where
from workbook.hours.lookup import LookUp
from workbook.parts.controls import say_wrong
from workbook.parts.typed import written
from workbook.plan.rows import button, words_of
from workbook.plan.usual import KINDS, LAMP_MIXES, NARROW, WIDTHS, filter_like, free_name
from workbook.plan.values import at, entries

__all__ = ["FilterAdder", "LampChooser", "LightAdder", "SensorChooser"]

_LIGHT = ("target", "light")
_TYPED = "(typed from my data sheet)"
_NOT_SAID = "(not said: assumed)"
_OTHER = "(another mix, typed below)"
_TOLD = "(told by the sky that I measured)"


class AdderDesk(Protocol):
    """What the helpers need of the page."""

    @property
    def values(self) -> Mapping[str, Any]:
        """Of the plan."""

    def change(self, changes: Mapping[Where, Any]) -> None:
        """Change the plan; ValueError to refuse."""


def _row(*widgets: w.Widget) -> w.HBox:
    row = w.HBox(widgets, layout=w.Layout(width="100%", flex_flow="row wrap"))
    row.add_class("expo-line")
    return row


def _menu(name: str, options: tuple[str, ...], value: str, width: str = "390px") -> w.Dropdown:
    return w.Dropdown(
        options=options, value=value, description=name, style={"description_width": "150px"},
        layout=w.Layout(width=width, max_width="100%", margin="1px 8px 1px 0"),
    )  # fmt: skip


class FilterAdder:
    """Adds a filter of a usual kind and width.

    Parameters
    ----------
    desk : AdderDesk
    add : callable
        Takes the new filter.
    """

    def __init__(self, desk: AdderDesk, add: Callable[[Any], None]) -> None:
        self._desk, self._add = desk, add
        self.kind = _menu("Kind of filter", KINDS, KINDS[0])
        self.width = w.Combobox(
            options=WIDTHS, value="7 nm", description="Width", style={"description_width": "50px"},
            layout=w.Layout(width="150px", margin="1px 8px 1px 0"),
        )  # fmt: skip
        self.button = button("Add this filter")
        self.kind.observe(lambda _: self._show(), "value")
        self.button.on_click(lambda _: self._press())
        self.said = w.HTML(layout=w.Layout(width="auto"))
        self.widget = _row(self.kind, self.width, self.button, self.said)

    def _show(self) -> None:
        self.width.layout.display = None if self.kind.value in NARROW else "none"

    def _press(self) -> None:
        width = written(self.width.value, "nm")
        new = filter_like(self.kind.value, width)
        taken = [str(one.get("name", "")) for one in entries(self._desk.values, ("filters",))]
        self.said.value = ""
        try:
            if self.kind.value in NARROW:
                read_quantity("Width", width, "nm", minimum=0.05, maximum=800, example='"7 nm"')
        except (TypeError, ValueError) as error:
            self.said.value = say_wrong(error)
        else:
            self._add({**new, "name": free_name(new["name"], taken)})


class LightAdder:
    """Adds a light of the target: looked up, or to be typed.

    Parameters
    ----------
    desk : AdderDesk
    add : callable
        Takes the new light.
    """

    def __init__(self, desk: AdderDesk, add: Callable[[Any], None]) -> None:
        self._desk, self._add = desk, add
        self._look_up = LookUp(self._use)
        line, continuum, star = button("Add a line"), button("Add a galaxy's or dust's light"), button("Add a star")
        line.on_click(lambda _: add({"line": "H-alpha"}))
        continuum.on_click(lambda _: add({"continuum": ""}))
        star.on_click(lambda _: add({"star": ""}))
        hint = w.HTML(words_of("Look the brightness up, or add a light and type it."))
        self.widget = w.VBox([_row(line, continuum, star), hint, *self._look_up.widgets], layout=w.Layout(width="100%"))

    def _use(self, light: Mapping[str, str], origin: str) -> str:
        """Bring a light that was looked up into the plan; a light of its kind is replaced."""
        listed = entries(self._desk.values, _LIGHT)
        name = light.get("line", "continuum")
        same = [number for number, one in enumerate(listed) if one.get("line", "continuum") == name]
        place = same[0] if same else len(listed)
        new = [*listed[:place], dict(light), *listed[place + 1 :]]
        changes: dict[Where, Any] = {_LIGHT: new}
        target = at(self._desk.values, ("target",), {})
        if origin == "library" and "name" not in target:
            changes[("target", "name")] = self._look_up.name.box.value
        if "right_ascension" not in target and "declination" not in target:
            changes[("target", "right_ascension")] = self._look_up.right_ascension.box.value
            changes[("target", "declination")] = self._look_up.declination.box.value
        self._desk.change(changes)
        return f"The plan's {name} is this now." if same else f"{name} is a light of the target now."


class SensorChooser:
    """Fills the camera in from what was published of a type of sensor.

    Parameters
    ----------
    desk : AdderDesk
    """

    def __init__(self, desk: AdderDesk) -> None:
        self._desk = desk
        self.menu = _menu("Values", (_TYPED, *SENSORS), _TYPED)
        self.words = w.HTML(
            words_of("Or start from what was published of a type of sensor; it takes the place of what stands below."),
            layout=w.Layout(flex="1 1 260px", min_width="0"),
        )
        self.menu.observe(self._chosen, "value")
        self.widget = _row(self.menu, self.words)

    def _chosen(self, change: dict[str, str]) -> None:
        if change["new"] == _TYPED:
            return
        sensor = SENSORS[change["new"]]
        camera = {**at(self._desk.values, ("camera",), {}), **sensor.camera()}
        camera.pop("gain", None)
        try:
            self._desk.change({("camera",): camera})
        except ValueError as error:
            self.words.value = say_wrong(error)
            return
        self.words.value = words_of(sensor.about)

    def refresh(self) -> None:
        """Nothing changes."""


class LampChooser:
    """The lamps of a town, in plain words.

    Parameters
    ----------
    desk : AdderDesk
    """

    def __init__(self, desk: AdderDesk) -> None:
        self._desk, self._showing = desk, False
        self.menu = _menu("Lamps around you", (_NOT_SAID, *LAMP_MIXES, _TOLD, _OTHER), _NOT_SAID)
        said = "What lights the streets: it colours the sky, and matters most for broad filters."
        self.words = w.HTML(words_of(said), layout=w.Layout(flex="1 1 260px", min_width="0"))
        self.widget = _row(self.menu, self.words)
        self.refresh()
        self.menu.observe(self._chosen, "value")

    def refresh(self) -> None:
        """Show the mix that the plan holds."""
        given = at(self._desk.values, ("sky", "lamps"))
        mixes = {**{name: dict(mix) for name, mix in LAMP_MIXES.items()}, _TOLD: FROM_RATES}
        known = next((name for name, mix in mixes.items() if mix == given), _OTHER)
        self._showing = True
        self.menu.value = _NOT_SAID if given is None else known
        self._showing = False

    def _chosen(self, change: dict[str, str]) -> None:
        if self._showing or change["new"] == _OTHER:
            return
        mix = LAMP_MIXES.get(change["new"])
        told = FROM_RATES if change["new"] == _TOLD else None
        try:
            self._desk.change({("sky", "lamps"): told if mix is None else dict(mix)})
        except ValueError as error:
            self.words.value = f'<span class="expo-wrong">{escape(str(error))}</span>'
