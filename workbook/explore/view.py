"""The maps of hours on the screen: a choice of picture, and one figure for each kind of map. They compute nothing.

References
----------
.. [brewer] Harrower, M. & Brewer, C. A. 2003, ColorBrewer.org: an online tool for selecting colour schemes for maps,
   The Cartographic Journal 40(1), 27-37: the sequential scheme "YlGnBu", safe for colour-vision deficiency.
"""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as w
import numpy as np
from bokeh.core.properties import value
from bokeh.models import ColumnDataSource, CustomJSHover, HoverTool, LinearScale, Range1d
from bokeh.palettes import YlGnBu9, interp_palette
from bokeh.plotting.contour import contour_data

from expocalc.plan import Plan
from workbook.explore.hours_map import LEVELS_H, SKY, SUB_S, WIDTH, HoursMap, map_table
from workbook.explore.model import Steps, map_steps, no_map
from workbook.parts.figures import SAY_TIME, SECONDS, WORDS, put, quiet_figure, say_ticks, stand
from workbook.parts.folded_table import FoldedTable
from workbook.parts.looks import INK, PAPER, QUANTITIES, Look
from workbook.parts.slow_work import SlowWork

__all__ = ["CURVES", "MapFigure", "Maps"]

CURVES = "Curves"
_KINDS = {CURVES: "", "Map by sky": SKY, "Map by filter width": WIDTH}
_LOG_LEVELS = np.log10(LEVELS_H)
_LIGHT_TO_DARK = interp_palette(tuple(reversed(YlGnBu9)), 64)[:56]
"""Few hours are light, many dark [brewer]_; the darkest would hide the lines."""
_EDGES = {
    "read noise": Look(QUANTITIES["read noise"].colour, "solid"),
    "mount": Look(INK, "solid"),
    "star": Look(INK, "dotted"),
    "sky": Look(QUANTITIES["sky"].colour, "dashed"),
}
_WIDTH_TICKS = {float(x): f"{x:g}" for x in (0.5, 1, 2, 3, 5, 7, 10, 15, 20, 30, 50, 100, 200, 300, 500, 1000)}


class MapFigure:
    """Hours as colours and labelled lines, with the plan's own place.

    Parameters
    ----------
    shown : HoursMap
        What it shows first; later maps are of the same kind.
    height : int
        [px]
    """

    def __init__(self, shown: HoursMap, height: int = 255) -> None:
        self.edges = ColumnDataSource(name=f"{shown.kind} edges")
        self.labels = ColumnDataSource(name=f"{shown.kind} labels")
        self.here = ColumnDataSource(name=f"{shown.kind} here")
        self.cells = ColumnDataSource(name=f"{shown.kind} cells")
        self.beyond = ColumnDataSource(name=f"{shown.kind} beyond")
        self._subs, self._ups = Range1d(1, 3600), Range1d(1, 2)
        self._figure = fig = quiet_figure(
            f"Hours by length of sub, along the bottom, and {'sky' if shown.kind == SKY else 'filter width'}, up the "
            "side: lines join equal hours and carry their number, a ring marks the plan.",
            title=" ",
            tall=True,
            height=height,
            x_axis_type="log",
            y_axis_type="linear" if shown.kind == SKY else "log",
            x_range=self._subs,
            y_range=self._ups,
            extra_y_ranges={"frame": Range1d(0, 1)},
            extra_y_scales={"frame": LinearScale()},
        )
        fig.grid.visible = False
        fig.xaxis.axis_label = "length of one sub"
        say_ticks(fig.xaxis, SECONDS)
        if shown.kind == WIDTH:
            say_ticks(fig.yaxis, _WIDTH_TICKS)
        self._contours = fig.contour(
            SUB_S, shown.up, _log_hours(shown), _LOG_LEVELS, fill_color=_colours(shown), line_color=INK,
            line_alpha=0.75, line_width=1,
        )  # fmt: skip
        self._draw_marks(fig)
        self.show(shown)
        self.widget = stand(fig)

    def _draw_marks(self, fig: Any) -> None:
        cells = fig.quad("left", "right", "bottom", "top", source=self.cells, fill_alpha=0, line_color=None)
        fig.patch(
            "sub_s", "up", source=self.beyond, fill_color=PAPER, fill_alpha=0.45, line_color=None,
            hatch_pattern="right_diagonal_line", hatch_color=INK, hatch_alpha=0.35, hatch_scale=14, hatch_weight=1,
        )  # fmt: skip
        for colour, dash, width in ((PAPER, value("solid"), 6), ("colour", "dash", 2.5)):
            fig.multi_line(
                "sub_s", "up", source=self.edges, line_color=colour, line_dash=dash, line_width=width, line_alpha=0.95
            )
        fig.scatter("sub_s", "up", source=self.here, size=15, fill_color=PAPER, line_color=INK, line_width=3)
        fig.scatter("sub_s", "up", source=self.here, size=5, fill_color=INK, line_color=INK)
        fig.text(
            "sub_s", "row", "words", source=self.labels, y_range_name="frame", text_align="align", x_offset="offset",
            text_font_style="style", text_color=INK, background_fill_color=PAPER, background_fill_alpha=0.85, **WORDS,
        )  # fmt: skip
        say = {
            "@sub_s": CustomJSHover(code=SAY_TIME, args={"unit_s": 1}),
            "@hours": CustomJSHover(code=SAY_TIME, args={"unit_s": 3600}),
        }
        tips = [("sub", "@sub_s{custom}"), ("", "@up"), ("hours", "@hours{custom}")]
        fig.add_tools(HoverTool(renderers=[cells], tooltips=tips, formatters=say, visible=False))

    def show(self, shown: HoursMap) -> None:
        """Draw another map of the kind."""
        fig = self._figure
        if fig.title.text != shown.title:
            fig.title.text = shown.title
            fig.yaxis.axis_label = shown.up_label
            if shown.up_ticks:
                say_ticks(fig.yaxis, shown.up_ticks)
        low, high = shown.sub_reach
        self._subs.start, self._subs.end = low, high
        self._ups.start, self._ups.end = float(shown.up[0]), float(shown.up[-1])
        self._contours.set_data(contour_data(SUB_S, shown.up, _log_hours(shown), _LOG_LEVELS))
        self._contours.fill_renderer.data_source.data["fill_color"] = _colours(shown)
        end = np.minimum(shown.beyond, high)
        put(
            self.beyond,
            {"sub_s": [*end.tolist(), high, high], "up": [*shown.up.tolist(), float(shown.up[-1]), float(shown.up[0])]},
        )
        put(
            self.edges,
            {
                "sub_s": [edge.sub_s.tolist() for edge in shown.edges],
                "up": [shown.up.tolist()] * len(shown.edges),
                "colour": [_EDGES[edge.kind].colour for edge in shown.edges],
                "dash": [_EDGES[edge.kind].dash for edge in shown.edges],
            },
        )
        self._show_words(shown)
        self._show_cells(shown)

    def _show_words(self, shown: HoursMap) -> None:
        labels = shown.labels
        gaps = {"hours": 0, "here": 12, "edge": 7, "never": 7}
        sides = {"left": 1, "center": 0, "right": -1}
        put(
            self.labels,
            {
                "kind": [label.kind for label in labels],
                "sub_s": [label.sub_s for label in labels],
                "row": [label.row for label in labels],
                "words": [label.words for label in labels],
                "align": [label.align for label in labels],
                "offset": [gaps[label.kind] * sides[label.align] for label in labels],
                "style": ["bold" if label.kind == "here" else "normal" for label in labels],
            },
        )
        put(self.here, {"sub_s": [shown.sub_s], "up": [shown.up_here]})

    def _show_cells(self, shown: HoursMap) -> None:
        sides, rims = np.sqrt(SUB_S[1:] * SUB_S[:-1]), (shown.up[1:] + shown.up[:-1]) / 2
        left, right = [SUB_S[0], *sides], [*sides, SUB_S[-1]]
        bottom, top = [shown.up[0], *rims], [*rims, shown.up[-1]]
        rows, columns = shown.hours.shape
        put(
            self.cells,
            {
                "left": np.tile(left, rows).tolist(),
                "right": np.tile(right, rows).tolist(),
                "bottom": np.repeat(bottom, columns).tolist(),
                "top": np.repeat(top, columns).tolist(),
                "sub_s": np.tile(SUB_S, rows).tolist(),
                "up": np.repeat(shown.ups_said, columns).tolist(),
                "hours": shown.hours.ravel().tolist(),
            },
        )


def _log_hours(shown: HoursMap) -> Any:
    """Logarithm of the hours; where no hours will do it lies far above the last line."""
    return np.log10(np.where(np.isfinite(shown.hours), shown.hours, 100 * LEVELS_H[-1]))


def _colours(shown: HoursMap) -> list[str]:
    """Colour of each step from one line to the next: the whole scheme for the hours that are seen."""
    low, high = np.log10(shown.hours_reach)
    middles = (_LOG_LEVELS[1:] + _LOG_LEVELS[:-1]) / 2
    at = np.clip((middles - low) / max(high - low, 0.3), 0, 1) * (len(_LIGHT_TO_DARK) - 1)
    return [_LIGHT_TO_DARK[round(float(number))] for number in at]


class Maps:
    """A choice of curves or maps, and the map in view.

    Attributes
    ----------
    pick, widget, table : widget
        The choice, the map, and the numbers behind it.
    """

    def __init__(self) -> None:
        self.pick = w.ToggleButtons(
            options=list(_KINDS), tooltips=[f"Picture: {name}" for name in _KINDS], style={"button_width": "auto"}
        )
        self.work = SlowWork("Map", self._steps, self._draw)
        self.row = w.HBox([self.pick, self.work.widget], layout=w.Layout(width="100%"))
        self.said = w.HTML(layout=w.Layout(display="none"))
        self.table = FoldedTable("Map in numbers")
        self.widget = w.VBox([self.said], layout=w.Layout(width="100%", display="none"))
        self.table.button.layout.display = "none"
        self._figures: dict[str, MapFigure] = {}
        self._plan: Plan | None = None
        self._filter_name = ""

    @property
    def kind(self) -> str:
        """Kind of the map in view; empty for the curves."""
        return _KINDS[self.pick.value]

    def show(self, plan: Plan, filter_name: str) -> None:
        """Take a plan and the filter in view; a map that is seen follows when the hand rests."""
        self._plan, self._filter_name = plan, filter_name
        self.look()

    def look(self) -> None:
        """Bring what is chosen into view."""
        kind = self.kind
        self.widget.layout.display = None if kind else "none"
        if not kind or self._plan is None:
            self.table.button.layout.display = self.table.body.layout.display = "none"
            return
        missing = no_map(self._plan, self._filter_name, kind)
        self.said.value = f"<p>{escape(missing)}</p>" if missing else ""
        self.said.layout.display = None if missing else "none"
        self.table.button.layout.display = "none" if missing else None
        for other, figure in self._figures.items():
            figure.widget.layout.display = None if other == kind and not missing else "none"
        if not missing:
            self.work.poke()

    def _steps(self) -> Steps:
        assert self._plan is not None
        return map_steps(self._plan, self._filter_name, self.kind)

    def _draw(self, shown: HoursMap) -> None:
        figure = self._figures.get(shown.kind)
        if figure is None:
            figure = self._figures[shown.kind] = MapFigure(shown)
            self.widget.children = (*self.widget.children, figure.widget)
        else:
            figure.show(shown)
        for other, drawn in self._figures.items():
            drawn.widget.layout.display = None if other == shown.kind else "none"
        self.table.show(lambda: map_table(shown))
