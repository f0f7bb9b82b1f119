"""The picture of a test sub with the mesh on it; a click says place and value."""

from __future__ import annotations

from typing import Any

from bokeh.core.properties import value
from bokeh.events import Tap
from bokeh.models import ColumnDataSource, CustomJS, HoverTool, LinearColorMapper, Range1d
from bokeh.palettes import gray

from workbook.frames.sub_model import SubPicture
from workbook.parts.figures import FONT, put, quiet_figure, stand

__all__ = ["SubFigure"]

HEIGHT = 372
_LINE = "#E69F00"
_GROUND, _LIGHT = "#1B1E22", "#E3E5E8"
# Runs in the page, so that it answers without the kernel; whatever is shown are numbers.
_SAY = """
const image = source.data.image[0], [rows, columns] = image.shape ?? source.data.shape[0]
const width = source.data.dw[0], height = source.data.dh[0]
const column = Math.floor(cb_obj.x / width * columns), row = Math.floor(cb_obj.y / height * rows)
if (row >= 0 && column >= 0 && row < rows && column < columns) {
  const side = source.data.side[0], mean = side > 1 ? ` (mean of ${side} x ${side} pixels)` : ''
  const value = image[row * columns + column]
  mark.data = {x: [cb_obj.x], y: [cb_obj.y], words:
    [`row ${Math.floor(cb_obj.y)}, column ${Math.floor(cb_obj.x)}: ${value.toFixed(0)} ADU${mean}`]}
}
"""


def _dark_ground(fig: Any) -> None:
    """Light words on the dark ground that a picture of the night has around it."""
    fig.background_fill_color = fig.border_fill_color = _GROUND
    fig.title.text_color = _LIGHT
    for axis in fig.axis:
        axis.axis_label_text_color = axis.major_label_text_color = _LIGHT
        axis.axis_line_color = axis.major_tick_line_color = axis.minor_tick_line_color = _LIGHT


# The sky has no wide and narrow side. The figure is as wide as the page lets it, but not higher than most of a screen;
# what rounding leaves beside the picture is ground.
_SQUARE = """
if (source.data.dw.length && fig.inner_width > 0 && fig.inner_height > 0) {
  const columns = source.data.dw[0], rows = source.data.dh[0]
  const beside = fig.outer_width - fig.inner_width, above = fig.outer_height - fig.inner_height
  const tall = Math.max(280, 0.56 * screen.availHeight)
  const size = {max_width: Math.round(tall * columns / rows + beside),
    height: Math.round(fig.inner_width * rows / columns + above)}
  for (const name in size) if (fig[name] !== size[name]) fig.setv({[name]: size[name]}, {sync: false})
  const pixel = Math.max(columns / fig.inner_width, rows / fig.inner_height)
  const wide = pixel * fig.inner_width, high = pixel * fig.inner_height
  fig.x_range.setv({start: (columns - wide) / 2, end: (columns + wide) / 2})
  fig.y_range.setv({start: (rows + high) / 2, end: (rows - high) / 2})
}
"""


class SubFigure:
    """The frame stretched for the screen; cells that tell no sky are crossed out."""

    def __init__(self) -> None:
        self.image = ColumnDataSource({"image": [], "dw": [], "dh": []}, name="frame")
        self.cells = ColumnDataSource(name="cells")
        self.crossed = ColumnDataSource(name="cells left out")
        self.mark = ColumnDataSource({"x": [], "y": [], "words": []}, name="clicked")
        self._across, self._down = Range1d(0, 1), Range1d(1, 0)
        self._colours = LinearColorMapper(palette=gray(256), low=0, high=1)
        fig: Any = quiet_figure(
            "The frame in grey, stretched for the screen, with the mesh of cells in which the sky is told; cells that "
            "hold nebula or bright stars are crossed out.",
            height=HEIGHT, x_range=self._across, y_range=self._down, title=" \n ",
        )  # fmt: skip
        fig.css_classes = []  # no negative of the sky: the ground is dark in both themes
        _dark_ground(fig)
        fig.grid.visible = False
        fig.xaxis.axis_label, fig.yaxis.axis_label = "column", "row"
        self._axes = fig.xaxis[0], fig.yaxis[0]
        fig.image("image", x=0, y=0, dw="dw", dh="dh", source=self.image, color_mapper=self._colours, level="underlay")
        look = {"fill_color": None, "line_color": _LINE, "line_alpha": 0.35, "line_width": 1}
        cells = fig.quad("left", "right", "top", "bottom", source=self.cells, **look)
        fig.segment("left", "top", "right", "bottom", source=self.crossed, line_color=_LINE, line_width=1.5)
        fig.segment("left", "bottom", "right", "top", source=self.crossed, line_color=_LINE, line_width=1.5)
        fig.scatter("x", "y", source=self.mark, marker="cross", size=16, line_color="#D55E00", line_width=2)
        fig.text(
            "x", "y", "words", source=self.mark, x_offset=8, y_offset=-8, text_font=value(FONT), text_font_size="13px",
            text_color="#111111", background_fill_color="#ffffff", background_fill_alpha=0.85,
        )  # fmt: skip
        fig.add_tools(HoverTool(renderers=[cells], tooltips=[("sky of this cell", "@level")], visible=False))
        fig.js_on_event(Tap, CustomJS(args={"source": self.image, "mark": self.mark}, code=_SAY))
        square = CustomJS(args={"source": self.image, "fig": fig}, code=_SQUARE)
        for side in ("inner_width", "inner_height"):
            fig.js_on_change(side, square)
        self.image.js_on_change("data", square)
        self._title = fig.title
        self.widget = stand(fig)

    def show(self, shown: SubPicture) -> None:
        """Show a frame."""
        rows, columns = shown.shape
        self._colours.low, self._colours.high = shown.low, shown.high
        self._across.start, self._across.end = 0, columns
        self._down.start, self._down.end = rows, 0
        for axis, length in zip(self._axes, (columns, rows), strict=True):
            axis.bounds = (0, length)  # no numbers beside the picture
        self.mark.data = {"x": [], "y": [], "words": []}
        self.image.data = {
            "image": [shown.image], "dw": [columns], "dh": [rows], "side": [shown.side],
            "shape": [list(shown.image.shape)],
        }  # fmt: skip
        cells = shown.cells
        data = {name: getattr(cells, name) for name in ("left", "right", "top", "bottom", "level")}
        put(self.cells, data)
        out = [at for at, crossed in enumerate(cells.left_out) if crossed]
        put(self.crossed, {name: [values[at] for at in out] for name, values in data.items()})
        self._title.text = shown.stretch_words
