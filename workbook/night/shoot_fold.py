"""The controls for what to shoot: the user's own list, and the region that comes into the plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from pathlib import Path

import ipywidgets as w

from expocalc.night.ranking import Candidate, Ranked
from workbook.night.shoot import names, own_list, say_ranked
from workbook.parts.controls import Choice, Entry

__all__ = ["ShootFold"]

_NONE = "(not ranked yet)"


class ShootFold:
    """A list of one's own, the ranked names, and a button that makes one the plan's target.

    Parameters
    ----------
    folder : pathlib.Path
        The notebook's.
    again : callable
        Asks for a new ranking.
    bring : callable
        Takes the name of the region for the plan; it raises ValueError to refuse.
    """

    def __init__(self, folder: Path, again: Callable[[], None], bring: Callable[[str], None]) -> None:
        self._folder, self._again = folder, again
        self.own: tuple[Candidate, ...] = ()
        self._found: Sequence[Ranked] = ()
        self.file = Entry("Own list", self._read, "my-targets.ecsv")
        self.choice = Choice("Region", self._chosen)
        self.choice.show((_NONE,), _NONE)
        self.about = w.HTML(layout=w.Layout(margin="0 0 4px 128px", width="auto"))
        self.rank = w.Button(description="Rank", tooltip="Rank all regions", layout=w.Layout(width="76px"))
        self.rank.on_click(lambda _: again())
        self.bring = w.Button(
            description="Bring into the plan", tooltip="Make this region the plan's target", disabled=True,
            layout=w.Layout(width="150px"),
        )  # fmt: skip
        self.bring.on_click(lambda _: self.choice.attempt(lambda: bring(self.choice.menu.value)))
        buttons = w.HBox([self.rank, self.bring], layout=w.Layout(margin="0 0 0 126px"))
        self.widgets = [self.file.widget, self.choice.widget, self.about, buttons]
        self.summary = "not ranked yet"

    def _read(self, name: str) -> None:
        self.own = own_list(self._folder, name) if name.strip() else ()
        self._again()

    def _chosen(self, name: str) -> None:
        one = next((one for one in self._found if one.candidate.name == name), None)
        words = say_ranked(one) if one else ""
        self.about.value = f'<span class="expo-small">{escape(words)}</span>'

    def show(self, found: Sequence[Ranked]) -> None:
        """Show a ranking."""
        self._found = found
        reached = names(found)
        self.choice.show(reached or (_NONE,), reached[0] if reached else _NONE)
        self.bring.disabled = not reached
        self.summary = f"{len(reached)} of {len(found)} within a year"
        if reached:
            self._chosen(reached[0])
