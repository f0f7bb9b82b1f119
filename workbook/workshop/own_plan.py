"""One's own plan on one page, on the screen: a few boxes, the verdict, a table, and a button that saves it."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as w

from expocalc.plan import PlanError
from workbook.parts import knob
from workbook.parts.controls import Number, say_wrong
from workbook.parts.frame import frame
from workbook.parts.verdict import Verdict
from workbook.workshop.own_plan_model import DIALS, Page, own_plan, page, start
from workbook.workshop.shown import Shown

__all__ = ["OwnPlan"]

NAME = "my-plan.toml"


class OwnPlan(Shown):
    """The page.

    Parameters
    ----------
    folder : str or pathlib.Path, optional
        The notebook's; by default the one that the kernel runs in. The plan is saved in the folder of plans beside it,
        where the other notebooks look for plans, or in `folder` itself where there is none.
    """

    def __init__(self, folder: str | Path = ".") -> None:
        folder = Path(folder).resolve()
        plans = folder.parent / "plans"
        self.path = (plans if plans.is_dir() else folder) / NAME
        self.values = start()
        self.numbers = {name: Number(dial, self._turner(name)) for name, dial in DIALS.items()}
        self.verdict = Verdict()
        self.table = w.HTML(layout=w.Layout(flex="1 1 300px", width="auto", margin="0 0 0 24px"))
        self.save = w.Button(
            description="Save my plan", tooltip="Write the plan into a file", layout=w.Layout(width="130px")
        )
        self.said = w.HTML()
        self.save.on_click(lambda _: self._save())
        for number in self.numbers.values():
            number.origin.layout.display = "none"
        boxes = w.VBox(
            [number.widget for number in self.numbers.values()],
            layout=w.Layout(flex="1 1 400px", width="auto"),
        )
        self.widget = frame(
            self.verdict.widget,
            w.HBox([boxes, self.table], layout=w.Layout(width="100%", flex_flow="row wrap")),
            w.HBox([self.save, self.said]),
        )
        self.widget.add_class("expo-own-plan")
        self._show(page(self.values))

    def _turner(self, name: str) -> Any:
        return lambda value: self._change({**self.values, name: value})

    def _change(self, values: dict[str, float]) -> None:
        """Take a new number, or raise and leave everything as it was."""
        shown = page(values)
        self.values = values
        self._show(shown)

    def _show(self, shown: Page) -> None:
        self.verdict.say(shown.headline, shown.rest, shown.basis)
        self.table.value = shown.table.to_html()
        for name, number in self.numbers.items():
            value = self.values[name]
            number.show(knob.Shown(value=value, text=DIALS[name].say(value), origin=""))

    def _save(self) -> None:
        try:
            own_plan(self.values).save(self.path)
        except PlanError as error:
            self.said.value = say_wrong(error)
        else:
            name = escape(f"{self.path.parent.name}/{NAME}")
            self.said.value = f'<span class="expo-done" role="status">Saved as {name}.</span>'
