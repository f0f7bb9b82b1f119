"""The view of the camera."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import ipywidgets as w

from workbook.frames import camera_model
from workbook.frames.asking import NOTHING, View
from workbook.frames.camera_figure import CameraFigure
from workbook.frames.demo import CAMERA
from workbook.parts.controls import Entry
from workbook.parts.table import Table

if TYPE_CHECKING:
    from workbook.frames.view import FramesPanel

__all__ = ["CameraView"]


class CameraView(View):
    """The camera from biases, flats and darks."""

    work_name, demo_kind = "Camera", CAMERA
    asks = "Name a folder with biases, pairs of flats and darks."

    def __init__(self, panel: FramesPanel) -> None:
        self.figure = CameraFigure()
        super().__init__(panel)

    def boxes(self) -> list[w.Widget]:
        """The folder."""
        self.folder = self.entry("Folder", "with biases, pairs of flats and darks")
        return [self.folder.widget]

    def results(self) -> list[w.Widget]:
        """Button that puts the camera into the plan."""
        self.write = self._button(
            "Put this camera into the plan", "A gain setting with today's date, and the dark current", self._write
        )
        self.write.disabled = True
        return [self.write]

    def first_box(self) -> Entry:
        """The folder."""
        return self.folder

    def look(self, report: Callable[[float], None]) -> camera_model.CameraPicture:
        """Run the bench."""
        return camera_model.look_at_camera(self.panel.plan, self.panel.folder, self.folder.box.value, report)

    def draw(self) -> None:
        """The bench, and the button."""
        super().draw()
        self.write.disabled = False

    def _write(self) -> None:
        found = self.shown.found
        self.panel.change(camera_model.changes(found), f"The plan's gain setting is “{found.section['gain']}” now.")

    def numbers(self) -> Table:
        """Every number with its interval."""
        return NOTHING if self.shown is None else camera_model.numbers(self.shown)
