"""The view of one test sub or two."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import ipywidgets as w

from expocalc.frames.tell.plan_side import measured_changes
from workbook.frames import sub_model
from workbook.frames.asking import NOTHING, View
from workbook.frames.demo import TEST
from workbook.frames.sub_figure import SubFigure
from workbook.parts.controls import Choice, Entry, filter_menu
from workbook.parts.table import Table

if TYPE_CHECKING:
    from workbook.frames.view import FramesPanel

__all__ = ["TestSubView"]


class TestSubView(View):
    """Sky from one test sub or two."""

    __test__ = False  # no test of pytest's
    work_name, demo_kind = "Test sub", TEST
    asks = "Name a test sub, and see whether the sky is what the plan says."

    def __init__(self, panel: FramesPanel) -> None:
        self.figure = SubFigure()
        super().__init__(panel)
        self.draw_filters()

    def boxes(self) -> list[w.Widget]:
        """Frame, filter, and what is no light."""
        self.frame = self.entry("Frame", "a FITS file, or a path to one")
        self.second = self.entry("Second frame", "of other length: no bias is needed")
        self.filter = Choice("Filter", lambda name: self._look_through(name))
        self.below = self.entry("Dark, bias or level", "the plan's bias level; or a file; or 500")
        self.gain = self.entry("Electrons per ADU", "the header's; a number here stands above it")
        self.star = self.entry("A star you know", "row, column, V magnitude: 300, 500, 9.8; it tells haze")
        return [one.widget for one in (self.frame, self.second, self.filter, self.below, self.gain, self.star)]

    def results(self) -> list[w.Widget]:
        """Button that writes the sky into the plan."""
        self.write = self._button(
            "Put this sky into the plan", "The plan's hours then rest on the measured sky", self._write
        )
        self.write.disabled = True
        return [self.write]

    def draw_filters(self) -> None:
        """Filters of the plan at hand."""
        names = [one.name for one in self.panel.plan.case.filters]
        self.filter_name = names[0]
        self.filter.show(filter_menu(self.panel.plan.case), names[0])

    def _look_through(self, name: str) -> None:
        self.filter_name = name
        self.work.poke()

    def forget(self) -> None:
        """Another plan has other filters."""
        super().forget()
        self.draw_filters()

    def first_box(self) -> Entry:
        """The frame."""
        return self.frame

    def demo_text(self) -> str:
        """One frame of the demo's folder."""
        return f"{super().demo_text()}/sub_0001.fits"

    def look(self, report: Callable[[float], None]) -> sub_model.SubPicture:
        """Measure the frame."""
        asked = sub_model.Asked(
            frame=self.frame.box.value, second=self.second.box.value, filter_name=self.filter_name,
            below=self.below.box.value, electrons_per_adu=self.gain.box.value, star=self.star.box.value,
        )  # fmt: skip
        return sub_model.look_at_sub(self.panel.plan, self.panel.folder, asked, report)

    def draw(self) -> None:
        """The frame, and the button: there is a sky to put into the plan, or none was seen."""
        super().draw()
        self.write.disabled = self.shown.told.now is None

    def _write(self) -> None:
        told = self.shown.told
        case = self.panel.plan.case
        changes = measured_changes(told.found, case, told.filter_name, told.seen)
        under = ", where those of the other filters were measured" if ("measured_under",) not in changes else ""
        shown = case.filter_shown(str(told.filter_name))
        self.panel.change(changes, f"The plan's sky in {shown} is this now{under} (for {told.seen.words}).")

    def numbers(self) -> Table:
        """Numbers colour by colour."""
        return NOTHING if self.shown is None else sub_model.numbers(self.shown)
