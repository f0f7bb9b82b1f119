"""A brightness that is looked up: in the library by name, or in the survey of H-alpha by position."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape

import ipywidgets as w

from expocalc.base.words import say_number
from expocalc.light.halpha_map import halpha_brightness
from expocalc.light.library import TARGETS, region
from workbook.parts.controls import Entry

__all__ = ["LookUp"]


class LookUp:
    """Lines to look a brightness up, what was found, and a button that brings it into the plan.

    What is found is only shown, until the button is pressed: the plan's own value stays until then.

    Parameters
    ----------
    use : callable
        Called with the item for a plan's list of light and where it comes from: "library" or "survey".
    """

    def __init__(self, use: Callable[[Mapping[str, str], str], str]) -> None:
        self._use = use
        self.light: Mapping[str, str] | None = None
        self.origin = ""
        self.name = Entry("Name in the library", self._by_name, "like NGC 2237, Rosette Nebula", tuple(TARGETS))
        self.right_ascension = Entry("Right ascension", lambda _: self._by_place(), 'like "5h35m" or "83.8 deg"')
        self.declination = Entry("Declination", lambda _: self._by_place(), 'like "-5d23m" or "-5.4 deg"')
        self.found = w.HTML(layout=w.Layout(width="auto"))
        self.button = w.Button(description="Use it", layout=w.Layout(width="84px", display="none"))
        self.button.on_click(self._pressed)
        hint = w.HTML("<small>Or the H-alpha of a place on the sky, from a survey of one degree:</small>")
        self.widgets: list[w.Widget] = [
            self.name.widget, hint, self.right_ascension.widget, self.declination.widget, self.found, self.button,
        ]  # fmt: skip

    @property
    def said(self) -> str:
        """What was found, in a few words."""
        if self.light is None:
            return "library or survey"
        return f"{self.light.get('line', 'continuum')} {self.light.get('brightness') or self.light['continuum']}"

    def place(self, right_ascension: str, declination: str) -> None:
        """Show a position without looking it up."""
        self.right_ascension.show(right_ascension)
        self.declination.show(declination)

    def _by_name(self, name: str) -> None:
        if not name.strip():
            return
        found = region(name.strip())
        self.name.show(found.name)
        self.place(f"{found.right_ascension_deg:.4g} deg", f"{found.declination_deg:+.4g} deg")
        self._show(found.light(), "library", f"{found.shown}.", found.caution, f"Grade {found.grade}.")

    def _by_place(self) -> None:
        places = self.right_ascension.box.value, self.declination.box.value
        if not all(place.strip() for place in places):
            return
        found = halpha_brightness(*places)
        error = "" if found.error_r is None else f" (± {say_number(found.error_r)} R)"
        self.right_ascension.forgive()
        self.declination.forgive()
        shown = f"H-alpha {say_number(found.rayleigh)} R{error}."
        self._show(found.light(), "survey", shown, found.caution, found.licence)

    def _show(self, light: Mapping[str, str], origin: str, *said: str) -> None:
        self.light, self.origin = light, origin
        head, *rest = (escape(one) for one in said)
        self.found.value = f'<p class="expo-small" role="status"><b>{head}</b> {"<br>".join(rest)}</p>'
        self.button.layout.display = None

    def _pressed(self, _: object) -> None:
        if self.light is not None:
            self.name.attempt(lambda: self._tell(self._use(self.light or {}, self.origin)))

    def _tell(self, said: str) -> None:
        self.found.value += f'<p class="expo-done" role="status">{escape(said)}</p>'
