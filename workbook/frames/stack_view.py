"""The view of the stack."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import ipywidgets as w

from workbook.frames import stack_model
from workbook.frames.asking import NOTHING, View
from workbook.frames.demo import NIGHT
from workbook.frames.stack_figure import StackFigure
from workbook.parts.controls import Choice, Entry, filter_menu
from workbook.parts.table import Table

if TYPE_CHECKING:
    from workbook.frames.view import FramesPanel

__all__ = ["StackView"]


class StackView(View):
    """Whether the grain falls as it should."""

    work_name, demo_kind = "Stack", NIGHT
    asks = "Name a folder with subs, and see whether more of them help as they should."

    def __init__(self, panel: FramesPanel) -> None:
        self.figure = StackFigure()
        super().__init__(panel)

    def boxes(self) -> list[w.Widget]:
        """The folder."""
        self.folder = self.entry("Folder", "with subs of one length and filter")
        self.filter = Choice("Filter", lambda _: self.work.poke())
        names = [one.name for one in self.panel.plan.case.filters]
        self.filter.show(filter_menu(self.panel.plan.case), names[0])
        self.patch = self.entry("Patch", "row, column, side: 300, 500, 20")
        self.sky = self.entry("Sky beside it", "row, column, side of empty sky")
        return [one.widget for one in (self.folder, self.filter, self.patch, self.sky)]

    def first_box(self) -> Entry:
        """The folder."""
        return self.folder

    def forget(self) -> None:
        """Another plan has other filters."""
        super().forget()
        names = [one.name for one in self.panel.plan.case.filters]
        self.filter.show(filter_menu(self.panel.plan.case), names[0])

    def look(self, report: Callable[[float], None]) -> stack_model.StackPicture:
        """Lay the subs on each other; what the morning after left out stays out."""
        asked = stack_model.Asked(
            folder=self.folder.box.value, filter_name=str(self.filter.menu.value), patch=self.patch.box.value,
            sky=self.sky.box.value,
        )  # fmt: skip
        return stack_model.look_at_stack(
            self.panel.plan, self.panel.folder, asked, self.panel.left_out, report
        )  # fmt: skip

    def numbers(self) -> Table:
        """Noise by subs and by squares."""
        return NOTHING if self.shown is None else stack_model.numbers(self.shown)
