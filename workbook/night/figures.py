"""The picture of one night: it takes what the model gives and draws it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from bokeh.layouts import column
from bokeh.models import ColumnDataSource, HoverTool, Range1d

from workbook.night.drawing import AFTER_MARK_PX, HEIGHT, ROOM_PX, bar_columns, hatched, mark_columns, marked, say_hours
from workbook.night.tonight import Bar, Evening
from workbook.parts.dress import dress
from workbook.parts.figures import WORDS, move, put, quiet_figure, say_ticks, stand
from workbook.parts.looks import INK, QUANTITIES, filter_look
from workbook.parts.places import spread

__all__ = ["TonightFigure"]

_DARK, _LIT = "#4477aa", "#cc9933"
_TARGET, _MOON = QUANTITIES["target"], QUANTITIES["dark"]
_ALTITUDES = {0.0: "0°", 30.0: "30°", 60.0: "60°", 90.0: "90°"}
_ROOM_H = 1.5
"""A bar as long has room for its words. [h]"""
_SHARES = {0.0: "0", 0.5: "½", 1.0: "1"}


class TonightFigure:
    """Altitudes against the clock with the windows, and under them the worth of an hour with the blocks."""

    def __init__(self, shown: Evening, words: Mapping[float, str], blocks: Sequence[Bar] = ()) -> None:
        self.lines = ColumnDataSource(name="tonight")
        self.worth = ColumnDataSource(name="worth")
        self.windows = ColumnDataSource(name="windows")
        self.above = ColumnDataSource(name="altitude words")
        self.below = ColumnDataSource(name="worth words")
        self.blocks = ColumnDataSource(name="blocks")
        self.marks = ColumnDataSource(name="worth marks")
        self._reach = Range1d(0, 24)
        self._above = quiet_figure(
            "Altitude of the target and of the Moon against the local time, with the skyline under the target; the "
            "windows in which one can image are shaded, hatched where the Moon is up.",
            title="Where target and Moon stand",
            height=HEIGHT // 2 - 8, x_range=self._reach, y_range=Range1d(0, 90), min_border_right=ROOM_PX,
        )  # fmt: skip
        self._below = quiet_figure(
            "Worth of an hour in each filter against the local time, as a share of a moonless hour at the zenith; bars "
            "under the curves are the blocks of the schedule.",
            title="Worth of an hour; 1: dark, zenith",
            height=HEIGHT // 2 + 8, x_range=self._reach, y_range=Range1d(-0.6, 1.05), min_border_right=ROOM_PX,
        )  # fmt: skip
        for fig, top, bottom in ((self._above, 90, 0), (self._below, 1.05, 0)):
            fig.quad(
                left="begin", right="end", top=top, bottom=bottom, source=self.windows, fill_color="#88aacc",
                fill_alpha=0.22, line_color=None, hatch_pattern="hatch", hatch_color="#aa8833", hatch_alpha=0.35,
                hatch_scale=10,
            )  # fmt: skip
        above, below = self._above, self._below
        say_ticks(above.yaxis, _ALTITUDES)
        say_ticks(below.yaxis, _SHARES)
        line = {"source": self.lines, "line_width": 2.5}
        above.line("hours", "skyline", line_color=INK, line_dash="dotted", **{**line, "line_width": 1.5})
        above.line("hours", "moon", line_color=_MOON.colour, line_dash="dashed", **line)
        above.line("hours", "target", line_color=_TARGET.colour, **line)
        for number in range(len(shown.names)):
            look = filter_look(number)
            of_worth = {**line, "source": self.worth}
            below.line("hours", f"worth_{number}", line_color=look.colour, line_dash=look.dash, **of_worth)
        for fig, source in ((above, self.above), (below, self.below)):
            fig.text("x", "y", "words", source=source, x_offset=AFTER_MARK_PX, text_color="colour", **WORDS)
        marked(below, self.marks)
        bars = hatched(below, self.blocks, y=-0.15, left="begin", right="end", height=0.2)
        below.add_tools(HoverTool(renderers=[bars], tooltips=[("block", "@words")], visible=False))
        below.text("begin", "said_at", "said", source=self.blocks, text_color="colour", **WORDS)
        for fig, name, source in ((above, "over", self.lines), (below, "under", self.worth)):
            carrier = fig.line("hours", name, source=source, line_alpha=0)
            rows = [("time", "@clock")]
            if fig is above:
                rows += [("target", "@target{0}°"), ("skyline", "@skyline{0}°"), ("Moon", "@moon{0}°")]
            else:
                rows += [(name, f"@worth_{number}{{0.00}}") for number, name in enumerate(shown.names)]
            fig.add_tools(HoverTool(renderers=[carrier], mode="vline", tooltips=rows, visible=False))
        self.draw(shown, words)
        self.mark(blocks)
        for fig in (above, below):
            dress(fig)
        pair = column(above, below, sizing_mode="stretch_width", css_classes=["quiet-pair"])  # they share an axis
        self.widget = stand(pair)

    def draw(self, shown: Evening, words: Mapping[float, str]) -> None:
        """Draw a night of a plan with these filters."""
        move(self._reach, shown.reach)
        for fig in (self._above, self._below):
            say_hours(fig, words)
        when = {"hours": shown.hours.tolist(), "clock": list(shown.words)}
        put(
            self.worth,
            {
                **when,
                "under": [1.0] * shown.hours.size,
                **{f"worth_{number}": row.tolist() for number, row in enumerate(shown.worth)},
            },
        )
        put(
            self.lines,
            {
                **when,
                "target": shown.target_deg.tolist(),
                "skyline": shown.skyline_deg.tolist(),
                "moon": shown.moon_deg.tolist(),
                "over": [88.0] * shown.hours.size,
            },
        )
        put(
            self.windows,
            {
                "begin": [begin for begin, _, _ in shown.windows],
                "end": [end for _, end, _ in shown.windows],
                "hatch": ["right_diagonal_line" if lit else " " for _, _, lit in shown.windows],
            },
        )
        self._say_ends(shown)

    def _say_ends(self, shown: Evening) -> None:
        """Name the lines at the right."""
        above = [
            (_last(shown.target_deg), "target", _TARGET.colour),
            (_last(shown.moon_deg), "Moon", _MOON.colour),
            (_last(shown.skyline_deg), "skyline", INK),
        ]
        above = [one for one in above if np.isfinite(one[0])]
        below = [
            (_last(row), name, filter_look(number).colour)
            for number, (name, row) in enumerate(zip(shown.names, shown.worth, strict=True))
            if np.isfinite(_last(row))
        ]
        for source, rows, gap, low, high in (
            (self.above, above, 11.0, 4.0, 86.0),
            (self.below, below, 0.17, -0.1, 1.0),
        ):
            put(
                source,
                {
                    "x": [shown.reach[1]] * len(rows),
                    "y": spread([row[0] for row in rows], gap, low, high),
                    "words": [row[1] for row in rows],
                    "colour": [row[2] for row in rows],
                },
            )
        said = dict(zip((row[1] for row in below), self.below.data["y"], strict=True))
        ends = [(shown.reach[1], said.get(name, float("nan"))) for name in shown.names]
        put(self.marks, mark_columns(shown.hours, shown.worth, ends))

    def mark(self, bars: Sequence[Bar]) -> None:
        """Draw the blocks of the schedule."""
        said = [bar.words if bar.end - bar.begin >= _ROOM_H else "" for bar in bars]
        put(
            self.blocks,
            {
                **bar_columns(bars, [-0.15] * len(bars)),
                "said": said,
                "said_at": [(-0.36, -0.53)[n % 2] for n in range(len(bars))],
            },
        )


def _last(row: Any) -> float:
    known = row[np.isfinite(row)]
    return float(known[-1]) if known.size else float("nan")
