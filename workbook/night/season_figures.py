"""Pictures of the nights to come: hours against the date, a calendar, the schedule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape

import ipywidgets as w
import numpy as np
from bokeh.models import ColumnDataSource, FactorRange, FixedTicker, HoverTool, NoOverlap, Range1d

from expocalc.night.night import Campaign
from workbook.night.drawing import AFTER_MARK_PX, HEIGHT, ROOM_PX, bar_columns, hatched, mark_columns, marked, say_hours
from workbook.night.season import Cell, ScheduledNight, Season, calendar, season
from workbook.parts.figures import WORDS, move, put, quiet_figure, say_ticks, stand
from workbook.parts.looks import INK, PAPER, filter_look
from workbook.parts.places import spread

__all__ = ["NightsFigure", "SeasonPair"]

_UP, _DOWN = 0.18, 0.3
"""Where the bars stand above the middle of their row, and the words below it. [rows]"""
_DARK, _LIT = "#4477aa", "#cc9933"


class SeasonFigure:
    """Hours of each kind against the date, stacked, with the equivalent dark hours of each filter as lines."""

    def __init__(self, shown: Season) -> None:
        self.nights = ColumnDataSource(name="season")
        self.best = ColumnDataSource(name="best week")
        self.ends = ColumnDataSource(name="season ends")
        self.marks = ColumnDataSource(name="season marks")
        self._reach, self._hours = Range1d(0, 60), Range1d(0, 12)
        fig = quiet_figure(
            "Hours of each night to come, with the Moon down and with the Moon up, and what they are worth in each "
            "filter; the best week is framed.",
            title="Hours of each night", height=HEIGHT // 2 - 12, x_range=self._reach, y_range=self._hours,
            min_border_right=ROOM_PX,
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
        fig.text("begin", "top", "words", source=self.best, y_offset=-8, text_color=INK, **WORDS)
        fig.text("x", "y", "words", source=self.ends, x_offset=AFTER_MARK_PX, text_color="colour", **WORDS)
        marked(fig, self.marks)
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
        move(self._reach, (-0.7, count - 0.3))
        move(self._hours, (0.0, 1.18 * most))
        firsts = {float(n): f"{date:%b}" for n, date in enumerate(shown.dates) if date.day == 1}
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
                "y": spread(last, 0.14 * most, 0.0, 1.12 * most),
                "words": words,
                "colour": ["#7a5c14", "#2f557a", *(filter_look(n).colour for n in range(len(shown.names)))],
            },
        )
        ends = list(zip(self.ends.data["x"], self.ends.data["y"], strict=True))[2:]
        put(self.marks, mark_columns(np.arange(count, dtype=float), shown.equivalent_h, ends))


class CalendarFigure:
    """The nights as a calendar: a month in a row, the darker the more hours, with their number in each field."""

    def __init__(self, cells: Sequence[Cell]) -> None:
        self.cells = ColumnDataSource(name="calendar")
        self._months = FactorRange()
        fig = quiet_figure(
            "Calendar of the nights to come with the equivalent dark hours of each, mean of the filters; the best week "
            "is framed.",
            title="Equivalent dark hours, mean", height=HEIGHT // 2 + 12,
            x_range=FactorRange(*[str(day) for day in range(1, 32)]), y_range=self._months,
        )  # fmt: skip
        fig.grid.visible = False
        fig.xaxis.major_label_policy = NoOverlap(min_distance=3)
        fields = fig.rect(
            "day", "month", 0.96, 0.9, source=self.cells, fill_color=_DARK, fill_alpha="share", line_color="line",
            line_width="line_width",
        )  # fmt: skip
        small = {**WORDS, "text_font_size": "10px"}
        fig.text("day", "month", "words", source=self.cells, text_align="center", text_color=INK, **small)
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
            "The schedule of the nights to come: a row for each night, a bar for each block, below it what is left.",
            title="Schedule, and hours left", height=HEIGHT - 24, x_range=self._reach,
            y_range=self._rows,
        )  # fmt: skip
        fig.ygrid.visible = False
        said = "; ".join(f"{filter_look(n).hatch_words}: {name}" for n, name in enumerate(names))
        said += "; below each night what is then left at best, on average weather"
        legend = w.HTML(f'<span class="expo-small">{escape(said)}</span>', layout=w.Layout(margin="0 0 0 8px"))
        bars = hatched(fig, self.blocks, y="row", left="begin", right="end", height=0.42)
        fig.add_tools(HoverTool(renderers=[bars], tooltips=[("block", "@words")], visible=False))
        small = {**WORDS, "text_font_size": "11px"}
        fig.text("x", "row", "words", source=self.left, x_offset=4, text_color=INK, **small)
        self.show(rows, words)
        self.widget = w.VBox([legend, stand(fig)], layout=w.Layout(width="100%"))

    def show(self, rows: Sequence[ScheduledNight], words: Mapping[float, str]) -> None:
        """Draw the schedule."""
        say_hours(self._figure, words)
        bars = [bar for row in rows for bar in row.bars]
        places = [n - _UP for n, row in enumerate(rows) for _ in row.bars]
        begin = min((bar.begin for bar in bars), default=6.0)
        end = max((bar.end for bar in bars), default=18.0)
        move(self._reach, (float(np.floor(begin)), float(np.ceil(end))))
        move(self._rows, (len(rows) - 0.4 if rows else 1.0, -0.6))
        axis = self._figure.yaxis[0]
        labels = {float(n): f"{row.date:%a} {row.date.day} {row.date:%b}" for n, row in enumerate(rows)}
        if not labels or axis.major_label_overrides != labels:
            axis.ticker = FixedTicker(ticks=list(labels))
            axis.major_label_overrides = labels
        put(self.blocks, bar_columns(bars, places))
        put(
            self.left,
            {
                "x": [float(np.floor(begin))] * len(rows),
                "row": [n + _DOWN for n in range(len(rows))],
                "words": ["nothing left" if row.left == "nothing" else row.left for row in rows],
            },
        )


class SeasonPair:
    """Hours against the date, and the calendar under them."""

    def __init__(self, campaign: Campaign) -> None:
        found = season(campaign)
        self.hours, self.calendar = SeasonFigure(found), CalendarFigure(calendar(found))
        self.widget = w.VBox([self.hours.widget, self.calendar.widget], layout=w.Layout(width="100%"))

    def show(self, campaign: Campaign) -> None:
        """Show other nights."""
        found = season(campaign)
        self.hours.show(found)
        self.calendar.show(calendar(found))
