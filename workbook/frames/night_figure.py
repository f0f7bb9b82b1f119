"""The pictures of the morning after: the night's course in three strips, and each filter's way to its goal."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import ipywidgets as w
from bokeh.core.properties import value
from bokeh.models import ColumnDataSource, FactorRange, HoverTool, NumeralTickFormatter, Range1d

from workbook.frames.night_model import NightPicture
from workbook.parts.figures import FONT, put, quiet_figure, stand
from workbook.parts.looks import INK, PAPER, QUANTITIES, filter_look

__all__ = ["NightFigure"]

_STRIP = 104
_LEFT = 64
"""Room for the numbers at the left: the same for all strips, so that a moment stands under itself. [px]"""
_NAMES = ("sky", "light", "width")


class NightFigure:
    """Kept subs are full discs, those left out are crosses; a level line is what the plan says."""

    def __init__(self) -> None:
        self.kept = [ColumnDataSource(name=f"kept {name}") for name in _NAMES]
        self.dropped = [ColumnDataSource(name=f"left out {name}") for name in _NAMES]
        self.ways = ColumnDataSource(name="way to the goal")
        self._figures, self._lines = [], []
        colours = (QUANTITIES["sky"].colour, filter_look(0).colour, filter_look(1).colour)
        for name, colour, kept, dropped in zip(_NAMES, colours, self.kept, self.dropped, strict=True):
            fig: Any = quiet_figure(
                f"Course of the night: {name} of each sub over time; crosses are subs that were left out.",
                title=" ", height=_STRIP + (44 if name == _NAMES[-1] else 0), x_axis_type="datetime",
                x_range=Range1d(0, 1),
                min_border_left=_LEFT,
            )  # fmt: skip
            fig.yaxis.ticker.desired_num_ticks = 3
            fig.y_range.range_padding = 0.3
            fig.xaxis.visible = name == _NAMES[-1]
            fig.xaxis.axis_label = "UTC"
            line = ColumnDataSource(name=f"planned {name}")
            fig.line("time", "planned", source=line, line_color=INK, line_dash="dashed")
            full = fig.scatter("time", name, source=kept, size=7, color=colour)
            fig.scatter("time", name, source=dropped, marker="x", size=10, line_color=colour, line_width=2.5)
            crosses = fig.renderers[-1]
            words = [("sub", "@file"), (name, f"@{name}{{0.000}}"), ("", "@reason")]
            fig.add_tools(HoverTool(renderers=[full, crosses], tooltips=words, visible=False))
            self._figures.append(fig)
            self._lines.append(line)
        self._names = FactorRange(factors=[""])
        self._share = Range1d(0, 1.3)
        way: Any = quiet_figure(
            "Share of the goal that each filter has gathered, night by night, as bars.",
            title="The way to the goal at best", height=110, y_range=self._names, x_range=self._share,
        )  # fmt: skip
        way.hbar(
            y="filter", left="from", right="to", height=0.55, source=self.ways, fill_color="colour", line_color=PAPER,
            line_width=2,
        )  # fmt: skip
        way.text("to", "filter", "words", source=self.ways, x_offset=8, text_font=value(FONT), text_font_size="12px",
                 text_baseline="middle", text_color=INK)  # fmt: skip
        way.line([1, 1], [-1, 50], line_color=INK, line_width=1.5)
        way.xaxis.ticker.desired_num_ticks = 5
        way.xaxis.formatter = NumeralTickFormatter(format="0 %")
        way.add_tools(HoverTool(tooltips=[("night", "@night"), ("share of the goal", "@share{0 %}")], visible=False))
        self.way = stand(way)
        self.widget = w.VBox([*(stand(fig) for fig in self._figures), self.way], layout=w.Layout(width="100%"))

    def show(self, shown: NightPicture) -> None:
        """Show a night."""
        spare = timedelta(seconds=60) + (max(shown.time) - min(shown.time)) / 40
        for strip, fig, line in zip(shown.strips, self._figures, self._lines, strict=True):
            # figures of different documents can't share a range, but its ends
            fig.x_range.start, fig.x_range.end = min(shown.time) - spare, max(shown.time) + spare
            fig.title.text = strip.title
            put(line, {"time": shown.time if strip.planned else [], "planned": strip.planned})
        for sources, kept in ((self.kept, True), (self.dropped, False)):
            at = [place for place, one in enumerate(shown.kept) if one is kept]
            for name, strip, source in zip(_NAMES, shown.strips, sources, strict=True):
                put(
                    source,
                    {
                        "time": [shown.time[p] for p in at], name: [strip.value[p] for p in at],
                        "file": [shown.files[p] for p in at], "reason": [shown.reasons[p] for p in at],
                    },
                )  # fmt: skip
        rows: dict[str, list[Any]] = {key: [] for key in ("filter", "from", "to", "night", "share", "words", "colour")}
        for number, way in enumerate(shown.ways):
            reached = 0.0
            for at, (night, share) in enumerate(way.nights):
                last = at == len(way.nights) - 1
                row = (way.name, reached, reached + share, night, share, way.words if last else "",
                       filter_look(number).colour)  # fmt: skip
                for key, entry in zip(rows, row, strict=True):
                    rows[key].append(entry)
                reached += share
        self._names.factors = [way.name for way in reversed(shown.ways)] or [""]
        self._share.end = max(1.35, *(1.35 * to for to in rows["to"])) if rows["to"] else 1.35
        put(self.ways, rows)
