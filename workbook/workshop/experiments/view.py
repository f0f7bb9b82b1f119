"""The one view of all experiments: dials, a button, pictures side by side, a chart, the sentence and a folded table."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as w
import numpy as np
from bokeh.core.properties import value
from bokeh.models import ColumnDataSource, Range1d

from workbook.lab.plots import bring_plots
from workbook.parts import knob
from workbook.parts.controls import Number, say_wrong
from workbook.parts.figures import FONT, put, quiet_figure, say_ticks, stand
from workbook.parts.folded_table import FoldedTable
from workbook.parts.frame import frame
from workbook.parts.looks import INK, PAPER, filter_look
from workbook.parts.places import spread
from workbook.parts.png import data_address, png
from workbook.parts.verdict import Verdict
from workbook.workshop.ask import judged
from workbook.workshop.experiments import EXPERIMENTS
from workbook.workshop.experiments.outcome import Chart, Experiment, Outcome
from workbook.workshop.guess import Guess
from workbook.workshop.shown import Shown

__all__ = ["ChartFigure", "Trial", "pictures_html"]

STYLE = """<style>
.expo-panel .expo-tiles { display: flex; flex-wrap: wrap; gap: 6px 10px; }
.expo-panel .expo-tiles figure { flex: 1 1 150px; max-width: 256px; margin: 0; }
.expo-panel .expo-tiles img { width: 100%; display: block; image-rendering: pixelated;
  box-sizing: border-box; border: 1px solid #808080; }
.expo-panel .expo-tiles p { margin: 1px 0 0; font-size: 12.5px; line-height: 1.25; }
.expo-panel .expo-tiles.expo-many figure { max-width: 205px; }
.expo-panel .expo-chart { max-width: 900px; }
.expo-panel .expo-belief { font-size: 15px; font-weight: 600; margin: 0; }
.expo-panel .expo-does { margin: 0; font-size: 12.5px; }
</style>"""
BESIDE = 3
"""Up to so many pictures leave room for the chart beside them."""
_CHART_PX = 205
_ROOM_PX, _LETTER_PX = 12, 7.2
"""Room for the names of the curves, and for each of their letters. [px]"""
_TICKS, _LONG_AXIS = 4, 300
"""About so many ticks, so that they stay apart on a telephone; from this factor on powers of ten alone."""
_LABEL_GAP = 0.09
_ROOM, _ROOM_OF_WORD, _WORD_PX = 0.09, 0.24, 9
"""Above and below the curves, above a mark with a word, and from a mark to its word. [share of the height], [px]"""
_HERE, _GUESSED = "you are here", "your guess"


def pictures_html(outcome: Outcome) -> str:
    """Pictures side by side, each with its words, and what is to be seen for those who can't see it."""
    below = outcome.chart is not None and len(outcome.tiles) > BESIDE  # then the chart needs the height
    figures = "".join(
        f'<figure><img src="{data_address(png(tile.brightness, tile.full))}" '
        f'alt="{escape(f"{tile.words}: {tile.describes}.")}">'
        f"<figcaption><p>{escape(tile.words)}</p></figcaption></figure>"
        for tile in outcome.tiles
    )
    return f'<div class="expo-tiles{" expo-many" if below else ""}">{figures}</div>'


class ChartFigure:
    """Curves with their names at their ends, and measured points.

    Parameters
    ----------
    chart : Chart
        What it shows first; later charts of the same experiment share axes and words.
    """

    def __init__(self, chart: Chart) -> None:
        self.curves = ColumnDataSource(name="curves")
        self.points = ColumnDataSource(name="points")
        self.marks = ColumnDataSource(name="marks")
        self._x, self._y = Range1d(1, 2), Range1d(1, 2)
        kinds = {False: "linear", True: "log"}
        self.fig = quiet_figure(
            chart.describes, title=chart.title, height=_CHART_PX, min_border_right=_room_px(chart), x_range=self._x,
            y_range=self._y, x_axis_type=kinds[chart.log_x], y_axis_type=kinds[chart.log_y],
        )  # fmt: skip
        for axis, log in ((self.fig.xaxis, chart.log_x), (self.fig.yaxis, chart.log_y)):
            if not log:
                axis.ticker.desired_num_ticks = _TICKS
        self.fig.xaxis.axis_label, self.fig.yaxis.axis_label = chart.x_label, chart.y_label
        self.fig.multi_line("xs", "ys", source=self.curves, line_color="colour", line_dash="dash", line_width=2.5)
        self.fig.text(
            "end_x", "label_y", "name", source=self.curves, x_offset=8, level="annotation", text_color="colour",
            text_font=value(FONT), text_font_size="12px", text_baseline="middle",
        )  # fmt: skip
        self.fig.scatter(
            "x", "y", source=self.points, size=8, fill_color=PAPER, line_color=INK, line_width=2, level="annotation"
        )
        self.fig.scatter(
            "x", "y", source=self.marks, size=13, marker="marker", fill_color=PAPER, line_color=INK, line_width=2
        )
        self.fig.text(
            "x", "y", "name", source=self.marks, y_offset="shift", level="annotation", text_color=INK,
            text_align="align", text_font=value(FONT), text_font_size="12px", text_baseline="baseline",
            background_fill_color=PAPER, background_fill_alpha=0.8,
        )  # fmt: skip
        self.show(chart)
        self.widget = stand(self.fig)

    def show(self, chart: Chart, guess: tuple[float, float] | None = None) -> None:
        """Draw a chart, and where a guess would lie on it."""
        curves = list(chart.curves.values())
        marks = {_HERE: chart.here, _GUESSED: guess}
        marked = {name: place for name, place in marks.items() if place is not None and _can_be_drawn(chart, place)}
        everything = np.concatenate([*curves, [y for _, y in (*chart.points, *marked.values())]])
        everything = everything[np.isfinite(everything) & ((everything > 0) | (not chart.log_y))]
        low, high = float(everything.min()), float(everything.max())
        above = _ROOM_OF_WORD if marked else _ROOM
        if chart.log_y:
            low, high = low / (high / low) ** _ROOM, high * (high / low) ** above
        else:
            low, high = min(low, 0.0), high + above * (high - low)
        reach = (float(chart.x[0]), float(chart.x[-1]))
        for axis, place, ends, log in (
            (self.fig.xaxis, self._x, reach, chart.log_x),
            (self.fig.yaxis, self._y, (low, high), chart.log_y),
        ):
            if (place.start, place.end) != ends:
                place.start, place.end = ends
                if log:
                    say_ticks(axis, _ticks(*ends))
        scale: Any = np.log if chart.log_y else np.asarray
        back: Any = np.exp if chart.log_y else np.asarray
        a, b = float(scale(low)), float(scale(high))
        ends = [float(np.clip(scale(curve[-1]), a, b)) for curve in curves]
        looks = [filter_look(number) for number in range(len(curves))]
        put(
            self.curves,
            {
                "xs": [chart.x.tolist()] * len(curves),
                "ys": [curve.tolist() for curve in curves],
                "name": list(chart.curves),
                "end_x": [float(chart.x[-1])] * len(curves),
                "label_y": [float(back(place)) for place in spread(ends, _LABEL_GAP * (b - a), a, b)],
                "colour": [look.colour for look in looks],
                "dash": [look.dash for look in looks],
            },
        )
        put(self.points, {"x": [x for x, _ in chart.points], "y": [y for _, y in chart.points]})
        lower = len(marked) > 1 and min(marked, key=lambda name: marked[name][1])  # its word stands below it
        half = float(np.sqrt(reach[0] * reach[1])) if chart.log_x else sum(reach) / 2
        put(
            self.marks,
            {
                "x": [x for x, _ in marked.values()],
                "y": [y for _, y in marked.values()],
                "name": list(marked),
                "marker": ["triangle" if name == _HERE else "diamond" for name in marked],
                "shift": [_WORD_PX if name == lower else -_WORD_PX for name in marked],
                "baseline": ["top" if name == lower else "bottom" for name in marked],
                "align": ["left" if x < half else "right" for x, _ in marked.values()],
            },
        )


def _room_px(chart: Chart) -> int:
    """Room at the right for the longest name. [px]"""
    return round(_ROOM_PX + _LETTER_PX * max(map(len, chart.curves)))


def _can_be_drawn(chart: Chart, place: tuple[float, float]) -> bool:
    """Whether a mark lies on the paper, not so far off that it would squeeze the curves to a line."""
    x, y = place
    curves = np.concatenate(list(chart.curves.values()))
    curves = curves[np.isfinite(curves)]
    low, high = float(curves.min()), float(curves.max())
    far = 30.0 if chart.log_y else 3.0
    within = low / far <= y <= high * far if chart.log_y else low - far * (high - low) <= y <= low + far * (high - low)
    return bool(np.isfinite(y) and chart.x[0] <= x <= chart.x[-1] and within and (y > 0 or not chart.log_y))


def _ticks(low: float, high: float) -> dict[float, str]:
    """Few ticks on an axis of factors: 1, 2, 5, 10 and so on, or powers of ten where it is long."""
    decades = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))) + 1)
    steps = (1, 2, 5) if high / low < 30 else (1, 3) if high / low < _LONG_AXIS else (1,)
    decades = decades[:: 2 if len(decades) > _TICKS + 1 else 1]
    found = (step * 10.0**decade for decade in decades for step in steps)
    return {tick: _said(tick) for tick in found if low <= tick <= high}


def _said(tick: float) -> str:
    """A tick as people write it: 0.001, 500, 10 000."""
    return f"{tick:,.0f}".replace(",", "\u202f") if tick >= 10 else f"{tick:.6f}".rstrip("0").rstrip(".")


class Trial(Shown):
    """An experiment: first a guess, then a run. Nothing is shown before, so that a guess stays a guess.

    Parameters
    ----------
    name : str
        One of :data:`EXPERIMENTS`.
    folder : str or pathlib.Path, optional
        The notebook's; by default the one that the kernel runs in.
    """

    def __init__(self, name: str, folder: str | Path = ".") -> None:
        bring_plots()
        self.experiment: Experiment = EXPERIMENTS[name]
        self.values = self.experiment.start
        self.outcome: Outcome | None = None
        ask = self.experiment.ask
        self.guess = Guess(ask.key, ask.question, ask.unit, folder, ask.choices)
        self.numbers = {key: Number(dial, self._turner(key)) for key, dial in self.experiment.dials.items()}
        self.button = w.Button(
            description="Run it",
            tooltip=f"Run it: {self.experiment.does}",
            layout=w.Layout(width="90px", margin="2px 16px 2px 0"),
        )
        self.verdict = Verdict()
        self.pictures = w.HTML(layout=w.Layout(flex="3 1 520px", width="auto"))
        self.chart: ChartFigure | None = None
        self.table = FoldedTable("Numbers")
        self.wrong = w.HTML(layout=w.Layout(display="none"))
        head = w.HTML(
            f'{STYLE}<p class="expo-belief">{escape(self.experiment.belief)}</p>'
            f'<p class="expo-does">{escape(self.experiment.does)}</p>'
        )
        for number in self.numbers.values():
            number.widget.layout = w.Layout(flex="1 1 330px", width="auto", max_width="460px")
            number.origin.layout.display = "none"
        row = w.HBox(
            [self.button, *(number.widget for number in self.numbers.values())],
            layout=w.Layout(width="100%", flex_flow="row wrap", align_items="center"),
        )
        self._shown = w.HBox([self.pictures], layout=w.Layout(width="100%", flex_flow="row wrap"))
        self.result = w.VBox(
            [self.verdict.widget, self._shown, w.HBox([self.table.button]), self.table.body],
            layout=w.Layout(display="none", width="100%"),
        )
        self.widget = frame(head, self.guess.body, row, self.wrong, self.result)
        self.widget.add_class("expo-trial")
        self.button.on_click(lambda _: self.run())
        self._show_dials()

    def _turner(self, key: str) -> Any:
        return lambda value: self._change({**self.values, key: value})

    def _change(self, values: dict[str, float]) -> None:
        """Take a dial's new value, or raise and leave everything as it was."""
        if self.outcome is not None:
            self._show(self.experiment.run(**values))
        self.values = values
        self._show_dials()

    def _show_dials(self) -> None:
        for key, number in self.numbers.items():
            value_ = self.values[key]
            number.show(knob.Shown(value=value_, text=self.experiment.dials[key].say(value_), origin=""))

    def run(self) -> None:
        """Run the experiment as its dials stand."""
        try:
            self._show(self.experiment.run(**self.values))
        except ValueError as error:
            self.wrong.value, self.wrong.layout.display = say_wrong(error), None

    def _show(self, outcome: Outcome) -> None:
        self.outcome, ask = outcome, self.experiment.ask
        ends = ask.range_of(self.guess.text) if ask.mark else None
        mark = ask.mark(sum(ends) / 2) if ask.mark and ends else None
        self.pictures.value = pictures_html(outcome)
        if outcome.chart is not None:
            if self.chart is None:
                self.chart = ChartFigure(outcome.chart)
                self.chart.show(outcome.chart, mark)
                beside = len(outcome.tiles) <= BESIDE
                self.chart.widget.add_class("expo-chart")
                self.chart.widget.layout.flex = "2 1 400px" if beside else "1 1 100%"
                self._shown.children = (self.pictures, self.chart.widget)
            else:
                self.chart.show(outcome.chart, mark)
        self.verdict.say(
            outcome.takeaway,
            judged(ask, self.guess.text),
            f"Take home. {outcome.take_home}",
            f"{self.experiment.belief} {'Here it is true.' if outcome.holds else 'Not so here.'} {outcome.basis}",
        )
        self.table.show(lambda: outcome.table)
        self.wrong.layout.display = "none"
        self.result.layout.display = None
        self.button.description, self.button.tooltip = "Run again", f"Run again: {self.experiment.does}"
