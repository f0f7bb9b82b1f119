"""The pictures of the hours panel that are bars: they take what the model gives and draw it."""

from __future__ import annotations

from collections.abc import Sequence

from bokeh.models import ColumnDataSource, HoverTool, NoOverlap, Range1d

from workbook.hours.curve_figures import HEIGHT
from workbook.hours.levers import Lever
from workbook.hours.shares import Share
from workbook.parts.figures import WORDS, move, put, quiet_figure, stand
from workbook.parts.looks import INK, PAPER, filter_look

__all__ = ["LEVERS_AXES", "LeversFigure", "SharesOfHoursFigure"]

_LEVERS_TITLE = "What one change would save or cost, all filters together"
_WITHIN_TITLE = "Each of these brings the goal within reach"
_NEVER_TITLE = "No single change that is tried here brings the goal within reach"
LEVERS_AXES = (
    "hours on the clock at best: costs ← → saves",
    "hours on the clock that it then takes at best",
)
_HELPS, _COSTS = "#117733", "#882255"


class LeversFigure:
    """Hours saved or lost by each choice: its name and what it does, and a bar under them.

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
        fig.xaxis.ticker.desired_num_ticks = 4
        fig.xaxis.major_label_policy = NoOverlap(min_distance=6)
        fig.ygrid.visible = False
        fig.yaxis.visible = False
        bars = fig.hbar(
            y="row", left=0, right="bar_h", height=0.3, source=self.bars, fill_color="colour", line_color=PAPER,
            hatch_pattern="hatch", hatch_color=PAPER, hatch_alpha=0.75, hatch_scale=8, hatch_weight=1.5,
        )  # fmt: skip
        self._middle = fig.vspan(x=[0], line_color=INK, line_width=1)
        fig.text(
            "start", "head", "said", source=self.bars, x_offset=2, text_color=INK, background_fill_color=PAPER,
            background_fill_alpha=0.85, **WORDS,
        )  # fmt: skip
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
        low = 0.0 if within else -costs - room
        move(self._reach, (low, saves + room))
        move(self._rows, (max(len(shown), 1) - 0.4, -0.6))
        for part in (self._figure.xaxis[0], self._figure.xgrid[0], self._middle):
            part.visible = bool(shown)
        self._figure.xaxis.axis_label = LEVERS_AXES[within]
        title = (_WITHIN_TITLE if within else _LEVERS_TITLE) if shown else _NEVER_TITLE
        if self._figure.title.text != title:
            self._figure.title.text = title
        put(
            self.bars,
            {
                "row": [number + 0.28 for number in range(len(shown))],
                "head": [number - 0.17 for number in range(len(shown))],
                "said": [f"{one.label}: {one.words}" for one in shown],
                "bar_h": [one.bar_h for one in shown],
                "start": [low] * len(shown),
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
        fig.text(0, "head", "words", source=self.bars, text_color=INK, x_offset=2, **WORDS)
        fig.add_tools(HoverTool(renderers=[bars], tooltips=[("share", "@words")], visible=False))
        self.show(sentence, shown)
        self.widget = stand(fig)

    def show(self, sentence: str, shown: Sequence[Share]) -> None:
        """Draw the shares of a plan with as many filters."""
        self._figure.title.text = sentence.replace("; ", ";\n")  # room in a narrow figure
        move(self._reach, (0.0, 1.03 * max([one.hours for one in shown] + [0.1])))
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
