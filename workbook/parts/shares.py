"""Bars divided into the five quantities of a noise budget, each part with its words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from bokeh.core.properties import value
from bokeh.models import ColumnDataSource, HoverTool, Range1d

from workbook.parts.figures import FONT, put, quiet_figure, stand
from workbook.parts.looks import INK, PAPER, QUANTITIES

__all__ = ["Bar", "Part", "SharesFigure", "divided"]

_LEAST_LABELLED = 0.005
"""A part gets its words when it has this share; the table holds them all."""
_PLACES = {"target": (0.0, 0), "sky": (0.33, 0), "dark": (0.67, 0), "read noise": (0.0, 1), "calibration": (0.45, 1)}
"""Where the words of each part begin, as a share of the bar, and in which line: room in a figure 300 px wide."""
_HEAD_PX, _BAR_PX, _KEYS_PX = -26, -9, (9, 25)
"""From the middle of a bar's room to its words, the bar and the two lines of its parts' words. [px]"""


@dataclass(frozen=True, kw_only=True)
class Part:
    """One cause in a bar: from where to where, and where its words begin, as shares of the bar, and in which line."""

    quantity: str
    start: float
    end: float
    words: str
    words_at: float
    line: int

    @property
    def share(self) -> float:
        """Share of the whole."""
        return self.end - self.start


@dataclass(frozen=True, kw_only=True)
class Bar:
    """A bar with words at its end, and its parts in the order of the quantities."""

    words: str
    parts: tuple[Part, ...]


def divided(words: str, shares: Mapping[str, float]) -> Bar:
    """Bar of shares that sum to 1, by quantity.

    Examples
    --------
    >>> bar = divided("H-alpha", {"target": 0.1, "sky": 0.8, "dark": 0.0, "read noise": 0.1, "calibration": 0.0})
    >>> [part.words for part in bar.parts]
    ['target 10 %', 'sky 80 %', '', 'read noise 10 %', '']
    """
    ends = list(accumulate(shares[name] for name in QUANTITIES))
    starts = [0.0, *ends[:-1]]
    return Bar(
        words=words,
        parts=tuple(
            Part(
                quantity=name,
                start=start,
                end=end,
                words=f"{name} {max(round(100 * shares[name]), 1)} %" if shares[name] >= _LEAST_LABELLED else "",
                words_at=_PLACES[name][0],
                line=_PLACES[name][1],
            )
            for name, start, end in zip(QUANTITIES, starts, ends, strict=True)
        ),
    )


class SharesFigure:
    """Bars under one another: above each its words, below it those of its parts in two lines, each beside its pattern.

    Parameters
    ----------
    title, description : str
    bars : sequence of Bar
        What it shows first; later there are as many.
    name : str
        Of its data source.
    row_px : int
        Room for a bar and its words. [px]
    """

    def __init__(self, title: str, description: str, bars: Sequence[Bar], name: str, row_px: int = 70) -> None:
        count = len(bars)
        self._px = 1 / row_px
        self.parts = ColumnDataSource(name=name)
        self.ends = ColumnDataSource(name=f"{name} bars")
        fig = quiet_figure(
            description,
            title=title,
            height=26 + row_px * count,
            x_range=Range1d(-0.012, 1),
            y_range=Range1d(count - 0.5, -0.5),
            min_border_right=12,
        )
        fig.axis.visible = False
        fig.grid.visible = False
        looks = {
            "fill_color": "colour", "hatch_pattern": "hatch", "hatch_color": PAPER, "hatch_alpha": 0.75,
            "hatch_scale": 8, "hatch_weight": 1.5,
        }  # fmt: skip
        words = {"text_font": value(FONT), "text_font_size": "12px", "text_color": INK, "text_baseline": "middle"}
        height = 15 / row_px
        parts = fig.hbar(
            y="bar", left="start", right="end", height=height, source=self.parts, line_color=PAPER, **looks
        )
        fig.scatter(
            "words_at", "words_y", marker="square", size="key_px", source=self.parts, line_color=None, **looks
        )  # fmt: skip
        fig.text("words_at", "words_y", "words", source=self.parts, x_offset=10, level="annotation", **words)
        fig.text("start", "head", "words", source=self.ends, level="annotation", **words)
        tips = [("cause", "@quantity"), ("share", "@share{0.0 %}")]
        fig.add_tools(HoverTool(renderers=[parts], tooltips=tips, visible=False))
        self.show(bars)
        self.widget = stand(fig)

    def show(self, bars: Sequence[Bar]) -> None:
        """Draw as many bars as before."""
        pairs = [(number, part) for number, bar in enumerate(bars) for part in bar.parts]
        put(
            self.parts,
            {
                "bar": [number + _BAR_PX * self._px for number, _ in pairs],
                "quantity": [part.quantity for _, part in pairs],
                "start": [part.start for _, part in pairs],
                "end": [part.end for _, part in pairs],
                "share": [part.share for _, part in pairs],
                "colour": [QUANTITIES[part.quantity].colour for _, part in pairs],
                "hatch": [QUANTITIES[part.quantity].hatch for _, part in pairs],
                "words": [part.words for _, part in pairs],
                "words_at": [part.words_at for _, part in pairs],
                "words_y": [number + _KEYS_PX[part.line] * self._px for number, part in pairs],
                "key_px": [11 if part.words else 0 for _, part in pairs],
            },
        )
        put(
            self.ends,
            {
                "start": [0.0] * len(bars),
                "end": [1.0] * len(bars),
                "bar": list(range(len(bars))),
                "head": [number + _HEAD_PX * self._px for number in range(len(bars))],
                "words": [bar.words for bar in bars],
            },
        )
