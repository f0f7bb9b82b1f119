"""The pictures of the camera: photon transfer, and dark current against temperature."""

from __future__ import annotations

from typing import Any

import ipywidgets as w
from bokeh.models import ColumnDataSource, HoverTool, NoOverlap

from workbook.frames.camera_model import CameraPicture
from workbook.parts.figures import NUMBERS, put, quiet_figure, say_ticks, stand
from workbook.parts.looks import INK, PAPER, QUANTITIES

__all__ = ["CameraFigure"]

HEIGHT = 186


class CameraFigure:
    """Two figures under each other; fitted points are full, the others hollow."""

    def __init__(self) -> None:
        self.points = ColumnDataSource(name="photon transfer")
        self.line = ColumnDataSource(name="transfer line")
        self.darks = ColumnDataSource(name="dark current")
        self.law = ColumnDataSource(name="dark law")
        read, dark = QUANTITIES["read noise"], QUANTITIES["dark"]
        transfer: Any = quiet_figure(
            "Noise squared of the flats, the bias's taken off, against their level: points, and the line whose slope "
            "is one over the electrons per ADU.",
            title="Noise squared against light (hollow: not fitted)",
            height=HEIGHT, half=True, x_axis_type="log", y_axis_type="log",
        )  # fmt: skip
        say_ticks(transfer.xaxis, NUMBERS)
        transfer.xaxis.axis_label, transfer.yaxis.axis_label = "level above the bias, ADU", "noise squared, ADU²"
        transfer.line("level", "variance", source=self.line, line_color=INK, line_width=1.5)
        points = transfer.scatter(
            "level", "variance", source=self.points, size=9, line_color=read.colour, line_width=2, fill_color="fill"
        )
        words = [("level", "@level{0.} ADU"), ("noise squared", "@variance{0.} ADU²")]
        transfer.add_tools(HoverTool(renderers=[points], tooltips=words, visible=False))
        cold: Any = quiet_figure(
            "Dark current against the sensor's temperature: points with their intervals, and the activation law.",
            title="Dark current against temperature", height=HEIGHT, half=True, y_axis_type="log",
        )  # fmt: skip
        cold.xaxis.axis_label, cold.yaxis.axis_label = "temperature of the sensor, °C", "electron/s"
        cold.yaxis.major_label_policy = NoOverlap(min_distance=4)
        cold.line("temperature", "rate", source=self.law, line_color=dark.colour, line_dash=dark.dash, line_width=2)
        cold.segment("temperature", "low", "temperature", "high", source=self.darks, line_color=dark.colour)
        spots = cold.scatter(
            "temperature", "rate", source=self.darks, size=9, line_color=dark.colour, fill_color=PAPER, line_width=2
        )
        cold.add_tools(
            HoverTool(renderers=[spots], tooltips=[("at @temperature °C", "@rate electron/s")], visible=False)
        )
        self.transfer, self.cold = stand(transfer), stand(cold)
        self.widget = w.VBox([self.transfer, self.cold], layout=w.Layout(width="100%"))

    def show(self, shown: CameraPicture) -> None:
        """Show a bench."""
        full = QUANTITIES["read noise"].colour
        fills = [full if fitted else PAPER for fitted in shown.fitted]
        put(self.points, {"level": shown.level, "variance": shown.variance, "fill": fills})
        put(self.line, {"level": shown.line[0], "variance": shown.line[1]})
        put(
            self.darks,
            {"temperature": shown.temperature, "rate": shown.rate, "low": shown.low, "high": shown.high},
        )
        put(self.law, {"temperature": shown.law[0], "rate": shown.law[1]})
        self.cold.layout.display = None if shown.temperature else "none"
