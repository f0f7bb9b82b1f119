"""The pictures of the hours panel: they take what the model gives and draw it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np
from bokeh.core.properties import value
from bokeh.models import ColumnDataSource, FixedTicker, HoverTool, NoOverlap, Range1d

from workbook.hours.depth import Depth
from workbook.hours.levers import Lever
from workbook.hours.model import Picture
from workbook.hours.shares import Share
from workbook.hours.sure import Sure
from workbook.parts.figures import FONT, HOURS, put, quiet_figure, room_at_right, say_ticks, stand
from workbook.parts.looks import INK, PAPER, filter_look

__all__ = ["HEIGHT", "DepthFigure", "LeversFigure", "SharesOfHoursFigure", "SnrFigure"]

HEIGHT = 372
"""Of every picture, so that nothing jumps when another is chosen. [px]"""
_TICKS: Mapping[float, str] = MappingProxyType(
    {float(f"{step}e{decade}"): f"{float(f'{step}e{decade}'):g}" for decade in range(-3, 6) for step in (1, 2, 5)}
)
_LEVERS_LEFT_PX = 190
"""How far left of its bars the title of what helps begins: above the names of the choices."""
_LEVERS_TITLE = "What one change would save or cost, all filters together"
_WITHIN_TITLE = "Each of these brings the goal within reach"
_NEVER_TITLE = "No single change that is tried here brings the goal within reach"
_LEVERS_AXIS, _WITHIN_AXIS = "hours on the clock: costs ← → saves", "hours on the clock that it then takes"
_HELPS, _COSTS = "#117733", "#882255"
_WORDS: Mapping[str, Any] = MappingProxyType(
    {"text_font": value(FONT), "text_font_size": "12px", "text_baseline": "middle", "level": "annotation"}
)


def _log_figure(description: str, title: str, y_range: Range1d, x_range: Range1d) -> Any:
    fig = quiet_figure(
        description, title=title, tall=True, height=HEIGHT, x_axis_type="log", y_axis_type="log", x_range=x_range,
        y_range=y_range,
    )  # fmt: skip
    fig.xaxis.axis_label = "hours of good subs"
    say_ticks(fig.xaxis, HOURS)
    return fig


def _move(reach: Range1d, ends: tuple[float, float]) -> None:
    if (reach.start, reach.end) != ends:
        reach.start, reach.end = ends


class SnrFigure:
    """SNR against hours: a curve for each filter, its range as a band, the goal and the ceilings as lines.

    Parameters
    ----------
    shown : Picture
        What it shows first; later pictures have the same filters.
    sure : Sure or None
        Its range, None while that is not known.
    """

    def __init__(self, shown: Picture, sure: Sure | None) -> None:
        names = [line.shown for line in shown.lines]
        self.lines = ColumnDataSource(name="snr")
        self.marks = ColumnDataSource(name="marks")  # a row for each filter, so that a change is few messages
        self.bands = [ColumnDataSource(name=f"band {number}") for number in range(len(names))]
        self.spans = ColumnDataSource(name="spans")
        self._hours, self._snr = Range1d(0.1, 100), Range1d(1, 100)
        fig = _log_figure(
            "Signal over noise of the patch against hours of good subs, one curve for each filter; a band holds eight "
            "chances in ten, a level line marks the goal, and others mark what no hours pass.",
            "How well the target shows, after so many hours",
            self._snr,
            self._hours,
        )
        self._figure = fig
        fig.yaxis.axis_label = "SNR of the patch"
        say_ticks(fig.yaxis, _TICKS)
        for number, band in enumerate(self.bands):
            look = filter_look(number)
            fig.varea("hours", "low", "high", source=band, fill_color=look.colour, fill_alpha=0.13)
            for edge in ("low", "high"):
                fig.line(
                    "hours", edge, source=band, color=look.colour, line_dash=look.dash, line_width=1, line_alpha=0.6
                )
        marks = {"source": self.marks}
        fig.segment("start", "goal", "end", "goal", line_color=INK, line_width=1.5, **marks)
        fig.text(
            "start", "goal_at", "goal_words", x_offset=6, text_color=INK, background_fill_color=PAPER,
            background_fill_alpha=0.85, **marks, **_WORDS,
        )  # fmt: skip
        fig.segment(
            "start", "ceiling", "end", "ceiling", line_color="colour", line_width=1.5, line_dash="dotted", **marks
        )
        fig.text(
            "start", "ceiling_at", "ceiling_words", x_offset=6, text_color="colour", background_fill_color=PAPER,
            background_fill_alpha=0.85, **marks, **_WORDS,
        )  # fmt: skip
        for number in range(len(names)):
            look = filter_look(number)
            fig.line(
                "hours", f"snr_{number}", source=self.lines, color=look.colour, line_dash=look.dash, line_width=2.5
            )
        fig.segment("low", "snr", "high", "snr", source=self.spans, line_color="colour", line_width=5, line_alpha=0.75)
        fig.scatter("needed_h", "goal", size=9, fill_color=PAPER, line_color="colour", line_width=2.5, **marks)
        fig.text("end", "label_at", "label", x_offset=8, text_color="colour", **marks, **_WORDS)
        highest = fig.line("hours", "highest", source=self.lines, line_alpha=0)
        rows = [("hours", "@hours{0.0}"), *((name, f"SNR @snr_{at}{{0.0}}") for at, name in enumerate(names))]
        fig.add_tools(HoverTool(renderers=[highest], mode="vline", tooltips=rows, visible=False))
        self.draw(shown)
        self.mark(shown, sure)
        self.widget = stand(fig)

    def draw(self, shown: Picture) -> None:
        """Draw the curves of a plan with these filters."""
        curves = [line.snr for line in shown.lines]
        highest = np.fmax.reduce([*curves, np.full(shown.hours.size, shown.snr_reach[0])])
        put(
            self.lines,
            {
                "hours": shown.hours.tolist(),
                "highest": highest.tolist(),
                **{f"snr_{number}": curve.tolist() for number, curve in enumerate(curves)},
            },
        )
        _move(self._hours, shown.hours_reach)
        _move(self._snr, shown.snr_reach)

    def mark(self, shown: Picture, sure: Sure | None) -> None:
        """Say at the curves what is to be said, with their range where that is known."""
        count, (low, high) = len(shown.lines), shown.hours_reach
        room_at_right(self._figure, [line.label for line in shown.lines])
        ceilings = {ceiling.number: ceiling for ceiling in shown.ceilings}
        put(
            self.marks,
            {
                "start": [low] * count,
                "end": [high] * count,
                "colour": [filter_look(number).colour for number in range(count)],
                "goal": [line.goal for line in shown.lines],
                "goal_words": [line.goal_words for line in shown.lines],
                "goal_at": [line.goal_words_snr for line in shown.lines],
                "needed_h": [np.nan if line.needed_h is None else line.needed_h for line in shown.lines],
                "label": [line.label for line in shown.lines],
                "label_at": [line.label_snr for line in shown.lines],
                "ceiling": [ceilings[at].snr if at in ceilings else np.nan for at in range(count)],
                "ceiling_at": [ceilings[at].words_snr if at in ceilings else np.nan for at in range(count)],
                "ceiling_words": [ceilings[at].words if at in ceilings else "" for at in range(count)],
            },
        )
        self._show_range(shown, sure)

    def _show_range(self, shown: Picture, sure: Sure | None) -> None:
        """Bands around the curves and, at the goal, the hours in which eight chances in ten lie."""
        bands = {band.number: band for band in sure.bands} if sure else {}
        for number, source in enumerate(self.bands):
            band = bands.get(number)
            columns = ("hours", "low", "high")
            put(source, {name: getattr(band, name).tolist() if band else [] for name in columns})
        end = shown.hours_reach[1]
        spans = [band for band in bands.values() if np.isfinite(band.needed_low_h)]
        put(
            self.spans,
            {
                "low": [band.needed_low_h for band in spans],
                "high": [min(band.needed_high_h, end) for band in spans],
                "snr": [band.needed_snr for band in spans],
                "colour": [filter_look(band.number).colour for band in spans],
            },
        )


class DepthFigure:
    """Brightness that reaches the goal against hours, one curve for each filter.

    Parameters
    ----------
    shown : Depth
    names : sequence of str
        Of the plan's filters.
    """

    def __init__(self, shown: Depth, names: Sequence[str]) -> None:
        self._names = names
        self.lines = [ColumnDataSource(name=f"depth {number}") for number in range(len(names))]
        self.ends = ColumnDataSource(name="depth ends")
        self.points = ColumnDataSource(name="depth points")
        self._hours, self._flux = Range1d(0.1, 100), Range1d(1, 100)
        self._figure = _log_figure(
            "The faintest light that reaches the goal against hours of good subs, one curve for each filter; a ring "
            "marks the light of the plan.",
            "The faintest light that reaches the goal",
            self._flux,
            self._hours,
        )
        fig = self._figure
        for number, source in enumerate(self.lines):
            look = filter_look(number)
            line = fig.line("hours", "flux", source=source, color=look.colour, line_dash=look.dash, line_width=2.5)
            tips = [("hours", "@hours{0.0}"), (names[number], "@words")]
            fig.add_tools(HoverTool(renderers=[line], mode="vline", tooltips=tips, visible=False))
        fig.scatter("hours", "flux", source=self.points, size=9, fill_color=PAPER, line_color="colour", line_width=2.5)
        fig.text("hours", "flux", "words", source=self.ends, x_offset=8, text_color="colour", **_WORDS)
        self.show(shown)
        self.widget = stand(fig)

    def show(self, shown: Depth) -> None:
        """Draw the depth of a plan with these filters."""
        curves = dict(zip(shown.numbers, zip(shown.flux, shown.words, strict=True), strict=True))
        for number, source in enumerate(self.lines):
            flux, said = curves.get(number, (np.array([]), ()))
            put(source, {"hours": shown.hours[: flux.size].tolist(), "flux": flux.tolist(), "words": list(said)})
        _move(self._hours, (float(shown.hours[0]), float(shown.hours[-1])))
        _move(self._flux, shown.flux_reach)
        axis = self._figure.yaxis[0]
        axis.axis_label = f"faintest light, {shown.unit.replace('2', '²')}"
        if axis.major_label_overrides != shown.ticks:
            axis.ticker = FixedTicker(ticks=list(shown.ticks))
            axis.major_label_overrides = dict(shown.ticks)
        colours = [filter_look(number).colour for number in shown.numbers]
        room_at_right(self._figure, shown.labels)
        put(
            self.ends,
            {
                "hours": [float(shown.hours[-1])] * len(colours),
                "flux": list(shown.labels_flux),
                "words": list(shown.labels),
                "colour": colours,
            },
        )
        put(
            self.points,
            {
                "hours": [hours for hours, _ in shown.points],
                "flux": [flux for _, flux in shown.points],
                "colour": colours,
            },
        )


class LeversFigure:
    """Hours saved or lost by each choice: its name on the left, a bar, and words on the right.

    Parameters
    ----------
    shown : sequence of Lever
    """

    def __init__(self, shown: Sequence[Lever]) -> None:
        self.bars = ColumnDataSource(name="levers")
        self._reach, self._rows = Range1d(-1, 1), Range1d(1, 0)
        self._figure = quiet_figure(
            "Hours on the clock that each single choice saves, to the right, or costs, to the left; the choice that "
            "saves most stands on top.",
            title=_LEVERS_TITLE,
            tall=True,
            height=HEIGHT,
            x_range=self._reach,
            y_range=self._rows,
        )
        fig = self._figure
        fig.title.offset = -_LEVERS_LEFT_PX
        fig.xaxis.ticker.desired_num_ticks = 4
        fig.xaxis.major_label_policy = NoOverlap(min_distance=6)
        fig.ygrid.visible = False
        fig.yaxis.axis_line_color = fig.yaxis.major_tick_line_color = None
        bars = fig.hbar(
            y="row", left=0, right="bar_h", height=0.6, source=self.bars, fill_color="colour", line_color=PAPER,
            hatch_pattern="hatch", hatch_color=PAPER, hatch_alpha=0.75, hatch_scale=8, hatch_weight=1.5,
        )  # fmt: skip
        self._middle = fig.vspan(x=[0], line_color=INK, line_width=1)
        fig.text("end", "row", "words", source=self.bars, x_offset=8, text_color=INK, **_WORDS)
        tips = [("choice", "@label"), ("", "@words")]
        fig.add_tools(HoverTool(renderers=[bars], tooltips=tips, visible=False))
        self.show(shown)
        self.widget = stand(fig)

    def show(self, shown: Sequence[Lever]) -> None:
        """Draw the choices of a plan."""
        saves = max([one.bar_h for one in shown if one.bar_h > 0], default=0.0)
        costs = max([-one.bar_h for one in shown if one.bar_h < 0], default=0.0)
        room = 0.05 * (saves + costs or 1.0)
        within = bool(shown) and shown[0].brings_within
        _move(self._reach, (0.0 if within else -costs - room, saves + room))
        _move(self._rows, (max(len(shown), 1) - 0.4, -0.6))
        room_at_right(self._figure, [one.words for one in shown])
        for part in (self._figure.xaxis[0], self._figure.yaxis[0], self._figure.xgrid[0], self._middle):
            part.visible = bool(shown)
        self._figure.xaxis.axis_label = _WITHIN_AXIS if within else _LEVERS_AXIS
        title = (_WITHIN_TITLE if within else _LEVERS_TITLE) if shown else _NEVER_TITLE
        if self._figure.title.text != title:
            self._figure.title.text = title
        axis, labels = self._figure.yaxis[0], {number: one.label for number, one in enumerate(shown)}
        if axis.major_label_overrides != labels:
            axis.ticker = FixedTicker(ticks=list(labels))
            axis.major_label_overrides = labels
        put(
            self.bars,
            {
                "row": list(range(len(shown))),
                "bar_h": [one.bar_h for one in shown],
                "end": [saves + room] * len(shown),
                "label": [one.label for one in shown],
                "words": [one.words for one in shown],
                "colour": [_HELPS if one.helps else _COSTS for one in shown],
                "hatch": [" " if one.helps else "right_diagonal_line" for one in shown],
            },
        )


class SharesOfHoursFigure:
    """Hours of each filter as bars with words above them."""

    def __init__(self, sentence: str, shown: Sequence[Share]) -> None:
        self.bars = ColumnDataSource(name="shares")
        self._reach = Range1d(0, 1)
        self._figure = quiet_figure(
            "Hours on the clock for each filter, shared out so that the weakest light is as strong as can be.",
            height=min(HEIGHT, 110 + 70 * len(shown)),
            title=" ",
            x_range=self._reach,
            y_range=Range1d(len(shown) - 0.45, -0.65),
        )
        fig = self._figure
        fig.yaxis.visible = False
        fig.ygrid.visible = False
        fig.xaxis.axis_label = "hours on the clock"
        bars = fig.hbar(
            y="row", left=0, right="hours", height=0.36, source=self.bars, fill_color="colour", line_color=PAPER,
            hatch_pattern="hatch", hatch_color=PAPER, hatch_alpha=0.75, hatch_scale=8, hatch_weight=1.5,
        )  # fmt: skip
        fig.text(0, "head", "words", source=self.bars, text_color=INK, x_offset=2, **_WORDS)
        fig.add_tools(HoverTool(renderers=[bars], tooltips=[("share", "@words")], visible=False))
        self.show(sentence, shown)
        self.widget = stand(fig)

    def show(self, sentence: str, shown: Sequence[Share]) -> None:
        """Draw the shares of a plan with as many filters."""
        self._figure.title.text = sentence
        _move(self._reach, (0.0, 1.03 * max([one.hours for one in shown] + [0.1])))
        hatches = (" ", "right_diagonal_line", "dot", "horizontal_line", "cross")
        put(
            self.bars,
            {
                "row": list(range(len(shown))),
                "head": [number - 0.34 for number in range(len(shown))],
                "hours": [one.hours for one in shown],
                "words": [f"{one.name}: {one.words}" for one in shown],
                "colour": [filter_look(number).colour for number in range(len(shown))],
                "hatch": [hatches[number % len(hatches)] for number in range(len(shown))],
            },
        )
