"""The two figures of the sub-length panel: they take a picture and draw it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np
from bokeh.models import ColumnDataSource, HoverTool, Range1d

from workbook.parts.figures import FONT, HOURS, SECONDS, put, quiet_figure, say_ticks, stand
from workbook.parts.looks import INK, PAPER, QUANTITIES, Look, filter_look
from workbook.sub_length.model import SUB_S, Picture

__all__ = ["HoursFigure", "NoiseFigure"]

_BOUNDS: Mapping[str, Look] = MappingProxyType(
    {
        "read noise": QUANTITIES["read noise"],
        "sky": QUANTITIES["sky"],
        "mount": Look(INK, "solid"),
        "star": Look(INK, "dotted"),
    }
)
_ROW = 0.075
"""Height of a bound's words, as a share of the figure's."""
_ROOM_PX = 200
"""Room for the words at the lines' ends."""


class HoursFigure:
    """Clock hours against sub length: a curve for each filter, the good range as a band, the bounds as lines.

    Parameters
    ----------
    names : sequence of str
        The plan's filters.
    height : int
        [px]
    """

    def __init__(self, names: Sequence[str], height: int = 290) -> None:
        self.names = tuple(names)
        self.lines = ColumnDataSource(name="hours")
        self.ends = ColumnDataSource(name="ends")
        self.bounds = ColumnDataSource(name="bounds")
        self.good = ColumnDataSource(name="good")
        self._reach = Range1d(1, 100)
        self._fig = fig = quiet_figure(
            "Hours on the clock against the length of one sub, one curve for each filter; a band marks the subs that "
            "cost at most 2 % more, and upright lines mark what limits them.",
            title="Hours until the goal is reached",
            height=height,
            x_axis_type="log",
            y_axis_type="log",
            x_range=Range1d(float(SUB_S[0]), float(SUB_S[-1])),
            y_range=self._reach,
            min_border_right=_ROOM_PX,
            extra_y_ranges={"frame": Range1d(0, 1)},
        )
        fig.xaxis.axis_label = "length of one sub"
        fig.yaxis.axis_label = "time on the clock"
        say_ticks(fig.xaxis, SECONDS)
        say_ticks(fig.yaxis, HOURS)
        fig.vstrip("from", "to", source=self.good, fill_color="#0072B2", fill_alpha=0.13, line_color=None)
        fig.vspan("sub_s", source=self.bounds, line_color="colour", line_dash="dash", line_width=1.5)
        for number, _ in enumerate(self.names):
            look = filter_look(number)
            fig.line(
                "sub_s", f"hours_{number}", source=self.lines, color=look.colour, line_dash=look.dash, line_width=2.5
            )
        fig.scatter(
            "sub_s", "hours", source=self.ends, size=9, fill_color=PAPER, line_color="colour", line_width=2.5
        )
        words = {"text_font": FONT, "text_font_size": "12px", "text_baseline": "middle"}
        fig.text(
            "end_s", "label_hours", "label", source=self.ends, x_offset=8, level="annotation", text_color="colour", **words
        )
        fig.text(
            "sub_s", "row", "words", source=self.bounds, y_range_name="frame", text_color=INK, text_align="align",
            x_offset="offset", background_fill_color=PAPER, background_fill_alpha=0.8, **words,
        )
        self._hover(fig)
        self.widget = stand(fig)

    def _hover(self, fig: object) -> None:
        """One box with the value of every curve at the pointer's sub length."""
        lowest = fig.line("sub_s", "lowest", source=self.lines, line_alpha=0)  # type: ignore[attr-defined]
        rows = [("sub", "@sub_s{0} s"), *((name, f"@hours_{at}{{0.0}} h") for at, name in enumerate(self.names))]
        fig.add_tools(HoverTool(renderers=[lowest], mode="vline", tooltips=rows))  # type: ignore[attr-defined]

    def show(self, picture: Picture) -> None:
        """Draw a picture of a plan with these filters."""
        curves = [line.hours for line in picture.lines]
        lowest = np.fmin.reduce([*curves, np.full(SUB_S.size, picture.hours_reach[1])])
        columns = {f"hours_{number}": hours.tolist() for number, hours in enumerate(curves)}
        put(self.lines, {"sub_s": SUB_S.tolist(), "lowest": lowest.tolist(), **columns})
        if (self._reach.start, self._reach.end) != picture.hours_reach:
            self._reach.start, self._reach.end = picture.hours_reach
        good = picture.good_s if picture.good_s[0] < picture.good_s[1] else None
        put(self.good, {"from": [good[0]] if good else [], "to": [min(good[1], SUB_S[-1])] if good else []})
        put(
            self.ends,
            {
                "sub_s": [line.sub_s for line in picture.lines],
                "hours": [line.sub_hours for line in picture.lines],
                "end_s": [float(SUB_S[-1])] * len(picture.lines),
                "label_hours": [line.label_hours for line in picture.lines],
                "label": [line.label for line in picture.lines],
                "colour": [filter_look(number).colour for number in range(len(picture.lines))],
            },
        )
        self._show_bounds(picture)

    def _show_bounds(self, picture: Picture) -> None:
        middle = float(np.sqrt(SUB_S[0] * SUB_S[-1]))
        bounds = sorted(picture.bounds, key=lambda bound: bound.sub_s)
        looks = [_BOUNDS[bound.kind] for bound in bounds]
        right = [bound.sub_s < middle for bound in bounds]
        put(
            self.bounds,
            {
                "sub_s": [bound.sub_s for bound in bounds],
                "words": [bound.words for bound in bounds],
                "row": [0.96 - _ROW * number for number in range(len(bounds))],
                "colour": [look.colour for look in looks],
                "dash": [look.dash for look in looks],
                "align": ["left" if on else "right" for on in right],
                "offset": [5 if on else -5 for on in right],
            },
        )


class NoiseFigure:
    """What the noise of one sub is made of: one bar for each filter, its parts in words.

    Parameters
    ----------
    names : sequence of str
        The plan's filters.
    """

    def __init__(self, names: Sequence[str]) -> None:
        count = len(names)
        self.parts = ColumnDataSource(name="noise")
        self.bars = ColumnDataSource(name="bars")
        fig = quiet_figure(
            "What the noise of one sub is made of: one bar for each filter, divided into target, sky, dark, read noise "
            "and calibration.",
            title="What the noise (squared) of one sub is made of",
            height=30 + 52 * count,
            x_range=Range1d(0, 1),
            y_range=Range1d(count - 0.5, -0.5),
            min_border_right=_ROOM_PX,
        )
        fig.axis.visible = False
        fig.grid.visible = False
        fig.hbar(
            y="bar", left="start", right="end", height=0.4, source=self.parts, fill_color="colour", line_color=PAPER,
            hatch_pattern="hatch", hatch_color=PAPER, hatch_alpha=0.75, hatch_scale=8, hatch_weight=1.5,
        )
        words = {"text_font": FONT, "text_font_size": "12px", "text_color": INK, "text_baseline": "middle"}
        fig.segment("middle", "foot", "words_at", "neck", source=self.parts, line_color=INK, line_width=1)
        fig.text("words_at", "words_y", "words", source=self.parts, text_align="center", level="annotation", **words)
        fig.text("end", "bar", "words", source=self.bars, x_offset=8, level="annotation", **words)
        fig.add_tools(HoverTool(tooltips=[("cause", "@quantity"), ("share", "@share{0.0 %}")], renderers=[fig.renderers[0]]))
        self.widget = stand(fig)

    def show(self, picture: Picture) -> None:
        """Draw a picture of a plan with these filters."""
        pairs = [(number, part) for number, bar in enumerate(picture.bars) for part in bar.parts]
        put(
            self.parts,
            {
                "bar": [number for number, _ in pairs],
                "quantity": [part.quantity for _, part in pairs],
                "start": [part.start for _, part in pairs],
                "end": [part.end for _, part in pairs],
                "share": [part.share for _, part in pairs],
                "colour": [QUANTITIES[part.quantity].colour for _, part in pairs],
                "hatch": [QUANTITIES[part.quantity].hatch for _, part in pairs],
                "words": [part.words for _, part in pairs],
                "words_at": [part.words_at for _, part in pairs],
                "middle": [(part.start + part.end) / 2 if part.words else part.words_at for _, part in pairs],
                "foot": [number + 0.2 for number, _ in pairs],
                "neck": [number + (0.27 if part.words else 0.2) for number, part in pairs],
                "words_y": [number + 0.38 for number, _ in pairs],
            },
        )
        put(
            self.bars,
            {
                "bar": list(range(len(picture.bars))),
                "end": [1.0] * len(picture.bars),
                "words": [bar.words for bar in picture.bars],
            },
        )
