"""The panel on real frames: it asks, measures in the background, and shows what the models say."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as w

from expocalc.budget.answer import answer
from expocalc.plan import Plan, PlanError, Where
from workbook.frames.asking import View
from workbook.frames.camera_view import CameraView
from workbook.frames.night_view import NightView
from workbook.frames.stack_view import StackView
from workbook.frames.sub_view import TestSubView
from workbook.lab.plots import bring_plots
from workbook.parts.controls import say_wrong
from workbook.parts.folded_table import FoldedTable
from workbook.parts.frame import frame
from workbook.parts.plan_row import PlanRow
from workbook.parts.plan_store import PlanStore
from workbook.parts.verdict import Verdict

__all__ = ["FramesPanel", "show"]

VIEWS: Mapping[str, type[View]] = {
    "Test sub": TestSubView,
    "Camera": CameraView,
    "Morning after": NightView,
    "Stack": StackView,
}


class FramesPanel:
    """What the camera, the sky and the night really were, and what that does to the plan.

    Parameters
    ----------
    name, folder
        As in :class:`workbook.parts.plan_store.PlanStore`.
    """

    def __init__(self, name: str = "", folder: str | Path = ".") -> None:
        self.folder = Path(folder).resolve()
        self.store = PlanStore(self.folder, name, check=lambda plan: answer(plan.case))
        self.plan = self.store.plan
        self.plan_row = PlanRow(self.store, self._load)
        self.verdict = Verdict()
        self.table = FoldedTable("Numbers behind the picture")
        self.done = w.HTML(layout=w.Layout(width="auto", margin="0 0 0 8px"))
        self.left_out: frozenset[str] = frozenset()
        self.views: dict[str, View] = {}
        self.pick = w.ToggleButtons(
            options=tuple(VIEWS), tooltips=[f"View: {one}" for one in VIEWS], style={"button_width": "112px"}
        )
        self.pick.observe(lambda _: self._look_elsewhere(), "value")
        self._stage = w.VBox(layout=w.Layout(width="100%"))
        self._look_elsewhere()
        self.plan_row.show(self.plan)
        self.widget = frame(
            self.plan_row.widget,
            self.verdict.widget,
            self.pick,
            self._stage,
            w.HBox([self.table.button, self.done]),
            self.table.body,
        )

    @property
    def view(self) -> View:
        """The view in sight."""
        return self.views[self.pick.value]

    def _look_elsewhere(self) -> None:
        name = self.pick.value
        if name not in self.views:
            self.views[name] = VIEWS[name](self)
            self._stage.children = (*self._stage.children, self.views[name].widget)
        for other, view in self.views.items():
            view.widget.layout.display = None if other == name else "none"
        self.views[name].come()
        self.told()

    def told(self) -> None:
        """Show the words and numbers of the view in sight."""
        said = self.view.words
        self.verdict.say(said[0], *said[1:])
        self.table.show(self.view.numbers)

    def change(self, changes: Mapping[Where, Any], said: str) -> None:
        """Take measured values into the plan at hand, which is saved by the plan's row."""
        try:
            plan = self.plan.with_values(changes)
            answer(plan.case)
        except (PlanError, ValueError) as error:
            self.done.value = say_wrong(error)
            return
        self.plan = plan
        self.plan_row.show(plan)
        self.say_done(said)

    def say_done(self, said: str | Exception) -> None:
        """Say what was done, or why not."""
        if isinstance(said, Exception):
            self.done.value = say_wrong(said)
            return
        self.done.value = f'<span class="expo-done" role="status">{escape(said)}</span>'

    def _load(self, plan: Plan) -> None:
        answer(plan.case)  # refuses before anything is changed
        self.plan = plan
        self.plan_row.show(plan)
        for view in self.views.values():
            view.forget()
        self.view.come()
        self.told()


def show(name: str = "") -> w.Widget:
    """The panel as the last line of a notebook's cell."""
    bring_plots()
    return FramesPanel(name).widget
