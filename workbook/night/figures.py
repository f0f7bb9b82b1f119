"""The pictures of the night panel: they take what the models give and draw it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np
from bokeh.core.properties import value
from bokeh.layouts import column
from bokeh.models import ColumnDataSource, FactorRange, FixedTicker, HoverTool, Range1d

from workbook.night.season import Cell, ScheduledNight, Season
from workbook.night.tonight import Bar, Evening
from workbook.parts.dress import dress
from workbook.parts.figures import FONT, put, quiet_figure, say_ticks, stand
from workbook.parts.looks import INK, PAPER, QUANTITIES, filter_look
from workbook.parts.places import spread

__all__ = ["HEIGHT", "CalendarFigure", "NightsFigure", "SeasonFigure", "TonightFigure"]

HEIGHT = 372
"""Of all pictures of one view together. [px]"""
_ROOM_PX = 120
_WORDS: Mapping[str, Any] = MappingProxyType(
    {"text_font": value(FONT), "text_font_size": "12px", "text_baseline": "middle", "level": "annotation"}
)
HATCHES = (" ", "right_diagonal_line", "dot", "horizontal_line", "cross")
"""Of the filters' bars, in the plan's order."""
_DARK, _LIT = "#4477aa", "#cc9933"
_TARGET, _MOON = QUANTITIES["target"], QUANTITIES["dark"]
_ALTITUDES = {0.0: "0°", 30.0: "30°", 60.0: "60°", 90.0: "90°"}
_ROOM_H = 1.5
"""A bar as long has room for its words. [h]"""
_SHARES = {0.0: "0", 0.5: "½", 1.0: "1"}


def _move(reach: Range1d, ends: tuple[float, float]) -> None:
    if (reach.start, reach.end) != ends:
        reach.start, reach.end = ends


def _say_hours(fig: Any, words: Mapping[float, str]) -> None:
    """Ticks at whole hours, said by the clock of the place."""
    if fig.xaxis[0].major_label_overrides != words:
        fig.xaxis.ticker = FixedTicker(ticks=list(words)[::2])
        fig.xaxis.major_label_overrides = dict(words)


def _hatched(fig: Any, source: ColumnDataSource, **places: Any) -> Any:
    return fig.hbar(
        source=source, fill_color="colour", line_color=PAPER, hatch_pattern="hatch", hatch_color=PAPER,
        hatch_alpha=0.75, hatch_scale=8, hatch_weight=1.5, **places,
    )  # fmt: skip


def _bar_columns(bars: Sequence[Bar], rows: Sequence[float]) -> dict[str, list[Any]]:
    return {
        "row": list(rows),
        "begin": [bar.begin for bar in bars],
        "end": [bar.end for bar in bars],
        "words": [bar.words for bar in bars],
        "colour": [filter_look(bar.number).colour for bar in bars],
        "hatch": [HATCHES[bar.number % len(HATCHES)] for bar in bars],
    }


class TonightFigure:
    """Altitudes against the clock with the windows, and under them the worth of an hour with the blocks."""

    def __init__(self, shown: Evening, words: Mapping[float, str]) -> None:
        self.lines = ColumnDataSource(name="tonight")
        self.windows = ColumnDataSource(name="windows")
        self.above = ColumnDataSource(name="altitude words")
        self.below = ColumnDataSource(name="worth words")
        self.blocks = ColumnDataSource(name="blocks")
        self._reach = Range1d(0, 24)
        self._above = quiet_figure(
            "Altitude of the target and of the Moon against the local time, with the skyline under the target; the "
            "windows in which one can image are shaded, hatched where the Moon is up.",
            title="Where target and Moon stand",
            height=HEIGHT // 2 - 8, x_range=self._reach, y_range=Range1d(0, 90), min_border_right=_ROOM_PX,
        )  # fmt: skip
        self._below = quiet_figure(
            "Worth of an hour in each filter against the local time, as a share of a moonless hour at the zenith; bars "
            "under the curves are the blocks of the schedule.",
            title="What an hour is worth, against a moonless hour at the zenith",
            height=HEIGHT // 2 + 8, x_range=self._reach, y_range=Range1d(-0.65, 1.05), min_border_right=_ROOM_PX,
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
            below.line("hours", f"worth_{number}", line_color=look.colour, line_dash=look.dash, **line)
        for fig, source in ((above, self.above), (below, self.below)):
            fig.text("x", "y", "words", source=source, x_offset=8, text_color="colour", **_WORDS)
        bars = _hatched(below, self.blocks, y=-0.15, left="begin", right="end", height=0.2)
        below.add_tools(HoverTool(renderers=[bars], tooltips=[("block", "@words")], visible=False))
        below.text("begin", "said_at", "said", source=self.blocks, text_color="colour", **_WORDS)
        for fig, name in ((above, "over"), (below, "under")):
            carrier = fig.line("hours", name, source=self.lines, line_alpha=0)
            rows = [("time", "@clock")]
            if fig is above:
                rows += [("target", "@target{0}°"), ("skyline", "@skyline{0}°"), ("Moon", "@moon{0}°")]
            else:
                rows += [(name, f"@worth_{number}{{0.00}}") for number, name in enumerate(shown.names)]
            fig.add_tools(HoverTool(renderers=[carrier], mode="vline", tooltips=rows, visible=False))
        self.draw(shown, words)
        self.mark(())
        for fig in (above, below):
            dress(fig)
        self.widget = stand(column(above, below, sizing_mode="stretch_width"))  # one document: they share their axis

    def draw(self, shown: Evening, words: Mapping[float, str]) -> None:
        """Draw a night of a plan with these filters."""
        _move(self._reach, shown.reach)
        for fig in (self._above, self._below):
            _say_hours(fig, words)
        put(
            self.lines,
            {
                "hours": shown.hours.tolist(),
                "clock": list(shown.words),
                "target": shown.target_deg.tolist(),
                "skyline": shown.skyline_deg.tolist(),
                "moon": shown.moon_deg.tolist(),
                "over": [88.0] * shown.hours.size,
                "under": [1.0] * shown.hours.size,
                **{f"worth_{number}": row.tolist() for number, row in enumerate(shown.worth)},
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
        for source, rows, gap, low, high in ((self.above, above, 11.0, 4.0, 86.0), (self.below, below, 0.13, 0.0, 1.0)):
            put(
                source,
                {
                    "x": [shown.reach[1]] * len(rows),
                    "y": spread([row[0] for row in rows], gap, low, high),
                    "words": [row[1] for row in rows],
                    "colour": [row[2] for row in rows],
                },
            )

    def mark(self, bars: Sequence[Bar]) -> None:
        """Draw the blocks of the schedule."""
        said = [bar.words if bar.end - bar.begin >= _ROOM_H else "" for bar in bars]
        put(
            self.blocks,
            {
                **_bar_columns(bars, [-0.15] * len(bars)),
                "said": said,
                "said_at": [(-0.36, -0.53)[n % 2] for n in range(len(bars))],
            },
        )


def _last(row: Any) -> float:
    known = row[np.isfinite(row)]
    return float(known[-1]) if known.size else float("nan")


class SeasonFigure:
    """Hours of each kind against the date, stacked, with the equivalent dark hours of each filter as lines."""

    def __init__(self, shown: Season) -> None:
        self.nights = ColumnDataSource(name="season")
        self.best = ColumnDataSource(name="best week")
        self.ends = ColumnDataSource(name="season ends")
        self._reach, self._hours = Range1d(0, 60), Range1d(0, 12)
        fig = quiet_figure(
            "Hours of each night to come, with the Moon down and with the Moon up, and what they are worth in each "
            "filter; the best week is framed.",
            title="Hours of each night", height=HEIGHT // 2 + 10, x_range=self._reach, y_range=self._hours,
            min_border_right=_ROOM_PX,
        )  # fmt: skip
        fig.yaxis.axis_label = "hours"
        bars = fig.vbar_stack(
            ["dark", "lit"], x="night", width=0.9, source=self.nights, fill_color=[_DARK, _LIT], fill_alpha=0.45,
            line_color=None, hatch_pattern=[" ", "right_diagonal_line"], hatch_color=PAPER, hatch_scale=8,
        )  # fmt: skip
        for number in range(len(shown.names)):
            look = filter_look(number)
            fig.line(
                "night",
                f"worth_{number}",
                source=self.nights,
                line_color=look.colour,
                line_dash=look.dash,
                line_width=2.5,
            )
        fig.quad(
            left="begin", right="end", bottom=0, top="top", source=self.best, fill_alpha=0, line_color=INK, line_width=2
        )
        fig.text("begin", "top", "words", source=self.best, y_offset=-8, text_color=INK, **_WORDS)
        fig.text("x", "y", "words", source=self.ends, x_offset=8, text_color="colour", **_WORDS)
        rows = [("night", "@date"), ("Moon down", "@dark{0.0} h"), ("Moon up", "@lit{0.0} h")]
        rows += [(name, f"@worth_{number}{{0.0}} h equivalent dark") for number, name in enumerate(shown.names)]
        fig.add_tools(HoverTool(renderers=list(bars), mode="vline", tooltips=rows, visible=False))
        self._figure = fig
        self.show(shown)
        self.widget = stand(fig)

    def show(self, shown: Season) -> None:
        """Draw a season of a plan with these filters."""
        count = len(shown.dates)
        most = max(float((shown.dark_h + shown.moonlit_h).max()), 1.0)
        _move(self._reach, (-0.7, count - 0.3))
        _move(self._hours, (0.0, 1.18 * most))
        firsts = {float(n): f"{date.day} {date:%b}" for n, date in enumerate(shown.dates) if date.day in (1, 11, 21)}
        say_ticks(self._figure.xaxis, firsts)
        put(
            self.nights,
            {
                "night": list(range(count)),
                "date": [str(date) for date in shown.dates],
                "dark": shown.dark_h.tolist(),
                "lit": shown.moonlit_h.tolist(),
                **{f"worth_{number}": row.tolist() for number, row in enumerate(shown.equivalent_h)},
            },
        )
        seen = any(row.max() > 0 for row in shown.equivalent_h)
        put(
            self.best,
            {
                "begin": [shown.best - 0.5] if seen else [],
                "end": [shown.best + 6.5] if seen else [],
                "top": [1.04 * most] if seen else [],
                "words": ["best week"] if seen else [],
            },
        )
        words = ["Moon up", "Moon down", *shown.names]
        last = [float(shown.dark_h[-1] + shown.moonlit_h[-1] * 0.5), float(shown.dark_h[-1] * 0.5)]
        last += [float(row[-1]) for row in shown.equivalent_h]
        put(
            self.ends,
            {
                "x": [count - 0.3] * len(words),
                "y": spread(last, 0.13 * most, 0.0, 1.1 * most),
                "words": words,
                "colour": ["#7a5c14", "#2f557a", *(filter_look(n).colour for n in range(len(shown.names)))],
            },
        )


class CalendarFigure:
    """The nights as a calendar: a month in a row, the darker the more hours, with their number in each field."""

    def __init__(self, cells: Sequence[Cell]) -> None:
        self.cells = ColumnDataSource(name="calendar")
        self._months = FactorRange()
        fig = quiet_figure(
            "Calendar of the nights to come with the equivalent dark hours of each; the best week is framed.",
            title="Equivalent dark hours, mean of the filters", height=HEIGHT // 2 - 10,
            x_range=FactorRange(*[str(day) for day in range(1, 32)]), y_range=self._months, min_border_right=_ROOM_PX,
        )  # fmt: skip
        fig.grid.visible = False
        fields = fig.rect(
            "day", "month", 0.96, 0.9, source=self.cells, fill_color=_DARK, fill_alpha="share", line_color="line",
            line_width="line_width",
        )  # fmt: skip
        fig.text("day", "month", "words", source=self.cells, text_align="center", text_color=INK, **_WORDS)
        fig.add_tools(
            HoverTool(renderers=[fields], tooltips=[("night", "@month-@day"), ("hours", "@words")], visible=False)
        )
        self.show(cells)
        self.widget = stand(fig)

    def show(self, cells: Sequence[Cell]) -> None:
        """Draw the nights."""
        months = sorted({cell.month for cell in cells}, reverse=True)
        if list(self._months.factors) != months:
            self._months.factors = months
        put(
            self.cells,
            {
                "day": [cell.day for cell in cells],
                "month": [cell.month for cell in cells],
                "share": [0.6 * cell.share for cell in cells],
                "words": [cell.words for cell in cells],
                "line": [INK if cell.best else PAPER for cell in cells],
                "line_width": [2.0 if cell.best else 0.5 for cell in cells],
            },
        )


class NightsFigure:
    """The schedule: a night in a row, its blocks against the clock."""

    def __init__(self, rows: Sequence[ScheduledNight], names: Sequence[str], words: Mapping[float, str]) -> None:
        self.blocks = ColumnDataSource(name="schedule")
        self.left = ColumnDataSource(name="left")
        self._reach, self._rows = Range1d(4, 24), Range1d(1, 0)
        self._figure = fig = quiet_figure(
            "The schedule of the nights to come: a row for each night, a bar for each block, and what is then left.",
            title=" ", height=HEIGHT, x_range=self._reach, y_range=self._rows, min_border_right=270,
        )  # fmt: skip
        fig.ygrid.visible = False
        self._names = names
        bars = _hatched(fig, self.blocks, y="row", left="begin", right="end", height=0.72)
        fig.add_tools(HoverTool(renderers=[bars], tooltips=[("block", "@words")], visible=False))
        fig.text("x", "row", "words", source=self.left, x_offset=8, text_color=INK, **_WORDS)
        self.show(rows, words)
        self.widget = stand(fig)

    def show(self, rows: Sequence[ScheduledNight], words: Mapping[float, str]) -> None:
        """Draw the schedule."""
        _say_hours(self._figure, words)
        keys = ("plain", "hatched", "dotted", "lined", "crossed")
        said = ", ".join(f"{name} ({keys[n % len(keys)]})" for n, name in enumerate(self._names))
        self._figure.title.text = f"Schedule: {said}; at the right what is then left"
        bars = [bar for row in rows for bar in row.bars]
        places = [float(n) for n, row in enumerate(rows) for _ in row.bars]
        begin = min((bar.begin for bar in bars), default=6.0)
        end = max((bar.end for bar in bars), default=18.0)
        _move(self._reach, (float(np.floor(begin)), float(np.ceil(end))))
        _move(self._rows, (len(rows) - 0.4 if rows else 1.0, -0.6))
        axis = self._figure.yaxis[0]
        labels = {float(n): f"{row.date:%a} {row.date.day} {row.date:%b}" for n, row in enumerate(rows)}
        if axis.major_label_overrides != labels:
            axis.ticker = FixedTicker(ticks=list(labels))
            axis.major_label_overrides = labels
        put(self.blocks, _bar_columns(bars, places))
        put(
            self.left,
            {
                "x": [float(np.ceil(end))] * len(rows),
                "row": [float(n) for n in range(len(rows))],
                "words": [row.left for row in rows],
            },
        )
