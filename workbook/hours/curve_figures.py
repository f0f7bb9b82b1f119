"""The pictures of the hours panel that are curves: they take what the model gives and draw it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from bokeh.models import ColumnDataSource, FixedTicker, HoverTool, Range1d

from workbook.hours.depth import Depth
from workbook.hours.model import Picture
from workbook.hours.sure import Sure
from workbook.parts.figures import HOURS, NUMBERS, WORDS, move, put, quiet_figure, room_at_right, say_ticks, stand
from workbook.parts.looks import INK, PAPER, filter_look
from workbook.parts.narrow import AT_END

__all__ = ["HEIGHT", "DepthFigure", "SnrFigure"]

HEIGHT = 372
"""Of every picture, so that nothing jumps when another is chosen. [px]"""


def _log_figure(description: str, title: str, y_range: Range1d, x_range: Range1d) -> Any:
    fig = quiet_figure(
        description, title=title, tall=True, height=HEIGHT, x_axis_type="log", y_axis_type="log", x_range=x_range,
        y_range=y_range,
    )  # fmt: skip
    fig.xaxis.axis_label = "hours of good subs"
    say_ticks(fig.xaxis, HOURS)
    return fig


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
        say_ticks(fig.yaxis, NUMBERS)
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
            background_fill_alpha=0.85, **marks, **WORDS,
        )  # fmt: skip
        fig.segment(
            "start", "ceiling", "end", "ceiling", line_color="colour", line_width=1.5, line_dash="dotted", **marks
        )
        fig.text(
            "start", "ceiling_at", "ceiling_words", x_offset=6, text_color="colour", background_fill_color=PAPER,
            background_fill_alpha=0.85, **marks, **WORDS,
        )  # fmt: skip
        for number in range(len(names)):
            look = filter_look(number)
            fig.line(
                "hours", f"snr_{number}", source=self.lines, color=look.colour, line_dash=look.dash, line_width=2.5
            )
        fig.segment("low", "snr", "high", "snr", source=self.spans, line_color="colour", line_width=5, line_alpha=0.75)
        fig.scatter("needed_h", "goal", size=9, fill_color=PAPER, line_color="colour", line_width=2.5, **marks)
        fig.text("end", "label_at", "label", x_offset=8, text_color="colour", name=AT_END, **marks, **WORDS)
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
        move(self._hours, shown.hours_reach)
        move(self._snr, shown.snr_reach)

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
        fig.text("hours", "flux", "words", source=self.ends, x_offset=8, text_color="colour", name=AT_END, **WORDS)
        self.show(shown)
        self.widget = stand(fig)

    def show(self, shown: Depth) -> None:
        """Draw the depth of a plan with these filters."""
        curves = dict(zip(shown.numbers, zip(shown.flux, shown.words, strict=True), strict=True))
        for number, source in enumerate(self.lines):
            flux, said = curves.get(number, (np.array([]), ()))
            put(source, {"hours": shown.hours[: flux.size].tolist(), "flux": flux.tolist(), "words": list(said)})
        move(self._hours, (float(shown.hours[0]), float(shown.hours[-1])))
        move(self._flux, shown.flux_reach)
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
