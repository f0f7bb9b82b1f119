"""The two figures of the comparison panel: hours on both sides, and what each difference does alone."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from bokeh.core.properties import value
from bokeh.models import ColumnDataSource, HoverTool, Range1d

from expocalc.base.words import say_duration
from workbook.compare.model import Comparison
from workbook.compare.sides import Pair
from workbook.compare.words import say_times
from workbook.parts.dress import make_as_high, make_room
from workbook.parts.figures import FONT, HOURS, put, quiet_figure, say_ticks, stand
from workbook.parts.looks import INK, PAPER
from workbook.parts.places import nice_above, nice_below

__all__ = ["PairsFigure", "ReasonsFigure"]

_MOST_PAIRS = 8
_LEAST_PX = 260
"""Width of the pictures at least: that of a narrow telephone's page."""
_FIRST_TICK_PX = 24
"""Room at the left for half of the first tick's words, so that they need not move onto those behind them. [px]"""
_ROW_PX, _LABEL_UP = 37, 0.38
"""Height of a row, and how far its label stands above its line, as a share of that."""
_MARK = 0.035
"""Room of half a mark at the end of the axis, as a share of its length."""
_NEVER_PX, _LAST_PX = 88, 20
"""Room at the right for the words of a mark at the end of the axis, and for the last tick's where there is none."""
_MOST_REASONS, _REASON_PX = 5, 26
_WORDS = {"text_font": value(FONT), "text_font_size": "12px", "text_color": INK, "text_baseline": "middle"}
_TIMES: Mapping[float, str] = MappingProxyType(
    {times: f"× {times:g}" for times in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 1000)}
)


class PairsFigure:
    """Hours of each light on both sides: a disc for the left, an open square for the right, a line between them.

    Parameters
    ----------
    found : Comparison
        What it shows first.
    """

    def __init__(self, found: Comparison) -> None:
        self.marks = {side: ColumnDataSource(name=f"{side} hours") for side in ("left", "right")}
        self.pairs = ColumnDataSource(name="pairs")
        self.labels = ColumnDataSource(name="pair labels")
        self._reach, self._rows = Range1d(1, 100), Range1d(1, -1)
        fig = quiet_figure(
            "Hours on the clock, one row for each light: a disc for the left side, an open square for the right.",
            title="Hours on the clock at best: ● left, □ right",
            height=140,
            min_width=_LEAST_PX,
            min_border_left=_FIRST_TICK_PX,
            x_axis_type="log",
            x_range=self._reach,
            y_range=self._rows,
        )
        fig.xaxis.axis_label = "time on the clock"
        say_ticks(fig.xaxis, HOURS)
        fig.yaxis.visible = False
        fig.ygrid.ticker = list(range(_MOST_PAIRS))  # a line in each row, on which its label stands
        fig.segment("left", "row", "right", "row", source=self.pairs, line_color="#888888", line_width=3)
        looks = {"left": ("circle", INK), "right": ("square", PAPER)}
        marks = [
            fig.scatter(
                "hours",
                "row",
                source=self.marks[side],
                marker=marker,
                size=12,
                fill_color=fill,
                line_color=INK,
                line_width=2,
            )
            for side, (marker, fill) in looks.items()
        ]
        for side in looks:
            fig.text(
                "hours", "row", "words", source=self.marks[side], text_align="align", x_offset="offset",
                level="annotation", background_fill_color=PAPER, background_fill_alpha=0.85, **_WORDS,
            )  # fmt: skip
        fig.text(
            "hours",
            "label_row",
            "label",
            source=self.labels,
            x_offset=4,
            level="annotation",
            **_WORDS,
        )
        fig.add_tools(
            HoverTool(
                renderers=marks,
                tooltips=[("side", "@side"), ("filter", "@filter"), ("sub", "@sub"), ("clock", "@said")],
                visible=False,
            )
        )
        self._figure = fig
        self.show(found)
        self.widget = stand(fig)

    def show(self, found: Comparison) -> None:
        """Draw a comparison."""
        shown = found.pairs[:_MOST_PAIRS]
        low, high = found.hours_reach
        if (self._reach.start, self._reach.end) != found.hours_reach:
            self._reach.start, self._reach.end = found.hours_reach
        bottom = max(len(shown), 1) - 0.5
        if (self._rows.start, self._rows.end) != (bottom, -0.8):
            self._rows.start, self._rows.end = bottom, -0.8
            make_as_high(self._figure, 68 + round(_ROW_PX * (bottom + 0.8)))
        never = any(math.inf in (pair.left_h, pair.right_h) for pair in shown)
        make_room(self._figure, _NEVER_PX if never else _LAST_PX)
        high *= (low / high) ** _MARK  # where a mark is whole
        for side in ("left", "right"):
            self._show_marks(side, shown, high)
        both = [(number, pair) for number, pair in enumerate(shown) if pair.left and pair.right]
        put(
            self.pairs,
            {
                "row": [number for number, _ in both],
                "left": [min(pair.left_h, high) for _, pair in both],
                "right": [min(pair.right_h, high) for _, pair in both],
            },
        )
        more = len(found.pairs) - len(shown)
        labels = [pair.label for pair in shown]
        if more:
            labels[-1] += f" (and {more} more in the table)"
        above = [number - _LABEL_UP for number in range(len(shown))]
        put(self.labels, {"label_row": above, "hours": [low] * len(shown), "label": labels})

    def _show_marks(self, side: str, shown: tuple[Pair, ...], high: float) -> None:
        there = [(number, pair) for number, pair in enumerate(shown) if getattr(pair, side) is not None]
        rows = [getattr(pair, side) for _, pair in there]
        hours = [getattr(pair, f"{side}_h") for _, pair in there]
        said = ["never" if math.isinf(h) else say_duration(3600 * h) for h in hours]
        before = [_stands_before(side, pair) for _, pair in there]
        words = [f"{side} {one}" for one in said]
        for at, (_, pair) in enumerate(there):
            if pair.left_h == pair.right_h == math.inf:  # one mark over the other, so their words would be too
                words[at] = "both never" if side == "left" else ""
        put(
            self.marks[side],
            {
                "row": [number for number, _ in there],
                "hours": [min(h, high) for h in hours],
                "side": [side] * len(there),
                "filter": [row.filter_shown for row in rows],
                "sub": [say_duration(row.sub_s) for row in rows],
                "said": said,
                "words": words,
                "align": ["right" if on else "left" for on in before],
                "offset": [-11 if on else 11 for on in before],
            },
        )


def _stands_before(side: str, pair: Pair) -> bool:
    """Whether the words of a side stand to the left of its mark: those of the quicker one."""
    own, other = (pair.left_h, pair.right_h) if side == "left" else (pair.right_h, pair.left_h)
    if own is None or math.isinf(own):
        return False
    return other is not None and (own < other or (own == other and side == "left"))


class ReasonsFigure:
    """What each difference does alone: bars from 1, to the right where it helps the winner.

    Parameters
    ----------
    found : Comparison
        What it shows first.
    """

    def __init__(self, found: Comparison) -> None:
        self.bars = ColumnDataSource(name="reasons")
        self._reach, self._rows = Range1d(0.5, 10), Range1d(1, -1)
        self._fig = quiet_figure(
            "Hours of the quicker side with one thing taken from the other side, over its own hours: one bar for each.",
            title=" ",
            height=165,
            min_width=_LEAST_PX,
            min_border_left=_FIRST_TICK_PX,
            x_axis_type="log",
            x_range=self._reach,
            y_range=self._rows,
        )
        self._fig.xaxis.axis_label = "hours, times"
        say_ticks(self._fig.xaxis, _TIMES)
        self._fig.yaxis.visible = False
        self._fig.ygrid.visible = False
        bars = self._fig.hbar(
            y="row", left="from", right="to", height=0.5, source=self.bars, fill_color="#797979", line_color=INK,
            hatch_pattern="hatch", hatch_color=PAPER, hatch_alpha=0.75, hatch_scale=8,
        )  # fmt: skip
        self._fig.text("to_words", "row", "words", source=self.bars, x_offset=8, level="annotation", **_WORDS)
        self._one = self._fig.vspan(x=[1], line_color=INK, line_width=1.5)
        self._fig.add_tools(HoverTool(renderers=[bars], tooltips=[("", "@words"), ("why", "@why")], visible=False))
        self.show(found)
        self.widget = stand(self._fig)

    def show(self, found: Comparison) -> None:
        """Draw a comparison."""
        reasons = found.reasons[:_MOST_REASONS]
        bottom = max(len(reasons), 1) - 0.4
        if (self._rows.start, self._rows.end) != (bottom, -0.6):
            self._rows.start, self._rows.end = bottom, -0.6
        make_as_high(self._fig, 74 + _REASON_PX * len(reasons) if reasons else 34)
        finite = [reason.times for reason in reasons if math.isfinite(reason.times) and reason.times > 0] or [1.0]
        low, high = min(0.5, nice_below(min(finite))), max(10.0, nice_above(max(finite) * 5))
        if (self._reach.start, self._reach.end) != (low, high):
            self._reach.start, self._reach.end = low, high
        for part in (self._fig.xaxis[0], self._fig.xgrid[0], self._one):  # an empty chart says nothing
            if part.visible is not bool(reasons):
                part.visible = bool(reasons)
        if self._fig.title.text != (title := found.reasons_title):
            self._fig.title.text = title
        ends = [1.0 if math.isnan(reason.times) else min(max(reason.times, low), high / 4) for reason in reasons]
        put(
            self.bars,
            {
                "row": list(range(len(reasons))),
                "from": [min(end, 1.0) for end in ends],
                "to": [max(end, 1.0) for end in ends],
                "to_words": [max(end, 1.0) for end in ends],
                "hatch": [" " if end >= 1 else "right_diagonal_line" for end in ends],
                "words": [f"{reason.section} {say_times(reason.times)}" for reason in reasons],
                "why": [reason.words for reason in reasons],
            },
        )
