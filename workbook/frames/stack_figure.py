"""The pictures of the stack: noise against the number of subs, and against the side of squares."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import ipywidgets as w
from bokeh.models import ColumnDataSource, HoverTool

from workbook.frames.stack_model import StackPicture
from workbook.parts.figures import NUMBERS, move, put, quiet_figure, say_ticks, stand
from workbook.parts.looks import INK, filter_look

__all__ = ["StackFigure"]

HEIGHT = 186
_BESIDE = 1.15
"""Room beside the first and the last disc, as a factor."""


def _figure(title: str, description: str, axis: str) -> Any:
    fig = quiet_figure(
        description,
        title=title,
        height=HEIGHT,
        half=True,
        x_axis_type="log",
        y_axis_type="log",
        x_range=(1, 9),
        y_range=(1, 9),
    )
    fig.xaxis.axis_label, fig.yaxis.axis_label = axis, "noise, electron"
    return fig


def _frame(fig: Any, across: Sequence[int], up: Sequence[float]) -> None:
    """Ends and ticks of a figure's axes: each number of subs, and noise by 1, 2, 5 and so on."""
    for reach, values in ((fig.x_range, across), (fig.y_range, up)):
        move(reach, (min(values) / _BESIDE, max(values) * _BESIDE))
    say_ticks(fig.xaxis, {value: str(value) for value in across})
    say_ticks(fig.yaxis, NUMBERS)


class StackFigure:
    """Discs are measured; the solid line falls with the square root; the dashed one is the plan's."""

    def __init__(self) -> None:
        self.falls = ColumnDataSource(name="noise by subs")
        self.blocks = ColumnDataSource(name="noise by block")
        look = filter_look(0)
        subs = _figure(
            "Noise by subs (line: square root, dashed: plan)",
            "Noise of a pixel against the number of subs in the stack, the square root's line and the plan's.",
            "subs in the stack",
        )
        subs.line("subs", "square_root", source=self.falls, line_color=INK, line_width=1.5)
        subs.line("subs", "predicted", source=self.falls, line_color=INK, line_dash="dashed", line_width=1.5)
        discs = subs.scatter("subs", "noise", source=self.falls, size=9, color=look.colour)
        words = [("@subs subs", "@noise{0.00}"), ("square root", "@square_root{0.00}"), ("plan", "@predicted{0.00}")]
        subs.add_tools(HoverTool(renderers=[discs], tooltips=words, visible=False))
        squares = _figure(
            "Noise by side of squares (line: independent)",
            "Noise of the mean over squares against their side, with the line of independent pixels.",
            "side of the squares, pixels",
        )
        squares.line("side", "line", source=self.blocks, line_color=INK, line_width=1.5)
        discs = squares.scatter("side", "noise", source=self.blocks, size=9, color=look.colour)
        words = [("side @side", "@noise{0.000}"), ("independent", "@line{0.000}")]
        squares.add_tools(HoverTool(renderers=[discs], tooltips=words, visible=False))
        self._figures = subs, squares
        self.widget = w.VBox([stand(subs), stand(squares)], layout=w.Layout(width="100%"))

    def show(self, shown: StackPicture) -> None:
        """Show a stack."""
        fall, blocks = shown.told.falling, shown.told.blocks
        subs, side = fall.subs.tolist(), blocks.side_px.tolist()
        by_subs = {"noise": fall.noise.tolist(), "square_root": fall.line.tolist()}
        by_subs["predicted"] = shown.told.predicted_e.tolist()
        by_side = {"noise": blocks.noise.tolist(), "line": blocks.line.tolist()}
        for fig, across, up in zip(self._figures, (subs, side), (by_subs, by_side), strict=True):
            _frame(fig, across, [noise for column in up.values() for noise in column])
        put(self.falls, {"subs": subs, **by_subs})
        put(self.blocks, {"side": side, **by_side})
