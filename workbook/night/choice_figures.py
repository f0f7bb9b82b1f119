"""Pictures of two choices: how often to dither, and what to shoot."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import ipywidgets as w
import numpy as np
from bokeh.models import ColumnDataSource, HoverTool, Range1d

from workbook.night.dither import DRAWN, Dither
from workbook.night.shoot import RankBar
from workbook.parts.figures import HOURS, SECONDS, WORDS, put, quiet_figure, say_ticks, stand
from workbook.parts.looks import INK, PAPER, QUANTITIES
from workbook.parts.narrow import AT_END
from workbook.parts.places import spread

__all__ = ["CadenceFigure", "RankFigure"]

HEIGHT = 372
_ROOM_PX = 150
_LONGEST_NAME = 30
_LOOKS = tuple(QUANTITIES.values())[: len(DRAWN)]
_NIGHTS = {float(n): str(n) for n in (0, 10, 20, 30, 60, 90, 120, 180, 240, 300, 365)}


class CadenceFigure:
    """Hours to the goal against the sub length, one curve for each dither cadence, with the best length as a band."""

    def __init__(self, shown: Dither) -> None:
        self.lines = [ColumnDataSource(name=f"cadence {every}") for every in DRAWN]
        self.best = ColumnDataSource(name="best length")
        self.ends = ColumnDataSource(name="cadence words")
        self._subs, self._hours = Range1d(10, 1800), Range1d(1, 100)
        self._figure = fig = quiet_figure(
            "Hours on the clock to the goal against the sub length, one curve for each dither cadence; the best length "
            "is shaded.",
            title=" ", height=HEIGHT, x_axis_type="log", y_axis_type="log", x_range=self._subs, y_range=self._hours,
            min_border_right=_ROOM_PX,
        )  # fmt: skip
        fig.xaxis.axis_label, fig.yaxis.axis_label = "sub length", "hours to the goal, at best"
        say_ticks(fig.xaxis, SECONDS)
        say_ticks(fig.yaxis, HOURS)
        fig.quad(
            left="low", right="high", bottom="bottom", top="top", source=self.best, fill_color="#88aacc",
            fill_alpha=0.25, line_color=INK, line_alpha=0.4,
        )  # fmt: skip
        for every, look, source in zip(DRAWN, _LOOKS, self.lines, strict=True):
            line = fig.line("sub", "hours", source=source, line_color=look.colour, line_dash=look.dash, line_width=2.5)
            tips = [("sub", "@sub{0} s"), (f"dither every {every}", "@hours{0.0} h")]
            fig.add_tools(HoverTool(renderers=[line], mode="vline", tooltips=tips, visible=False))
        fig.text("x", "y", "words", source=self.ends, x_offset=8, text_color="colour", name=AT_END, **WORDS)
        self.show(shown)
        self.widget = stand(fig)

    def show(self, shown: Dither) -> None:
        """Draw the hours of one filter."""
        self._figure.title.text = f"Hours in {shown.filter_name}"
        rows = dict(zip(shown.cadences, shown.hours, strict=True))
        known = [row[np.isfinite(row)] for row in shown.hours]
        known = [row for row in known if row.size]
        for every, source in zip(DRAWN, self.lines, strict=True):
            row = rows.get(every)
            sub = [] if row is None else shown.sub_s.tolist()
            put(source, {"sub": sub, "hours": [] if row is None else row.tolist()})
        if not known or shown.found is None:
            put(self.best, {name: [] for name in ("low", "high", "bottom", "top")})
            put(self.ends, {name: [] for name in ("x", "y", "words", "colour")})
            return
        least = min(float(row.min()) for row in known)
        low, high = 0.9 * least, min(6 * least, 1.1 * max(float(row.max()) for row in known))
        ends = (float(shown.sub_s[0]), float(shown.sub_s[-1]))
        if (self._subs.start, self._subs.end) != ends:
            self._subs.start, self._subs.end = ends
        if (self._hours.start, self._hours.end) != (low, high):
            self._hours.start, self._hours.end = low, high
        best = shown.found
        put(self.best, {"low": [best.low_s / 1.02], "high": [best.high_s * 1.02], "bottom": [low], "top": [high]})
        at = [float(np.log(np.clip(row[-1], low, high))) for row in shown.hours]
        gap = 0.055 * float(np.log(high / low))
        put(
            self.ends,
            {
                "x": [ends[1]] * len(at),
                "y": np.exp(spread(at, gap, float(np.log(low)) + gap / 2, float(np.log(high)) - gap / 2)).tolist(),
                "words": [f"dither every {every}" if every > 1 else "dither every sub" for every in shown.cadences],
                "colour": [look.colour for look in _LOOKS],
            },
        )


class RankFigure:
    """Nights until the goal, a bar for each region, best first."""

    def __init__(self, bars: Sequence[RankBar], title: str) -> None:
        self.bars = ColumnDataSource(name="ranked")
        self.title = w.HTML(layout=w.Layout(margin="0 0 0 8px"))
        self._reach, self._rows = Range1d(0, 100), Range1d(1, 0)
        fig = quiet_figure(
            "Nights on the calendar until the goal at best, a bar for each region, the best on top.",
            height=HEIGHT - 24, x_range=self._reach, y_range=self._rows,
        )  # fmt: skip
        fig.ygrid.visible = fig.yaxis.visible = False  # the words stand on the bars: a narrow page has room for them
        fig.xaxis.axis_label = "nights on the calendar, at best"
        say_ticks(fig.xaxis, _NIGHTS)
        bars_ = fig.hbar(
            y="row", left=0, right="nights", height=0.8, source=self.bars, fill_color="#0072B2", fill_alpha=0.35,
            line_color=PAPER,
        )  # fmt: skip
        fig.text(0, "row", "said", source=self.bars, x_offset=4, text_color=INK, **WORDS)
        fig.add_tools(HoverTool(renderers=[bars_], tooltips=[("region", "@name"), ("", "@words")], visible=False))
        self.show(bars, title)
        self.widget = w.VBox([self.title, stand(fig)], layout=w.Layout(width="100%"))

    def show(self, bars: Sequence[RankBar], title: str) -> None:
        """Draw a list."""
        self.title.value = f'<span class="expo-small">{escape(title)}</span>'
        most = max((bar.nights for bar in bars), default=1)
        self._reach.end = 1.05 * max(most, 4)
        self._rows.start, self._rows.end = (len(bars) - 0.4 if bars else 1.0), -0.6
        put(
            self.bars,
            {
                "row": [float(n) for n in range(len(bars))],
                "nights": [bar.nights for bar in bars],
                "name": [bar.name for bar in bars],
                "words": [bar.words for bar in bars],
                "said": [f"{_short(bar.name)}: {bar.words}" for bar in bars],
            },
        )


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1]}…"
