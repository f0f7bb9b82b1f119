"""Bars divided into the five quantities of a noise budget, each part with its words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from bokeh.core.properties import value
from bokeh.models import ColumnDataSource, HoverTool, Range1d

from expocalc.base.words import say_share
from workbook.parts.figures import FONT, put, quiet_figure, stand
from workbook.parts.looks import INK, PAPER, QUANTITIES
from workbook.parts.places import spread

__all__ = ["ROOM_PX", "Bar", "Part", "SharesFigure", "divided"]

ROOM_PX = 200
"""Room for the words at a figure's right."""
_LEAST_LABELLED = 0.005
"""A part gets its words when it has this share; the table holds them all."""
_PART_GAP = 0.18
"""Room of a part's words, as a share of the bar."""


@dataclass(frozen=True, kw_only=True)
class Part:
    """One cause in a bar: from where to where, its words and their place, all as shares of the bar."""

    quantity: str
    start: float
    end: float
    words: str
    words_at: float

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
    said = [name for name in QUANTITIES if shares[name] >= _LEAST_LABELLED]
    middles = {name: (a + b) / 2 for name, a, b in zip(QUANTITIES, starts, ends, strict=True)}
    half = _PART_GAP / 2
    places = dict(zip(said, spread([middles[name] for name in said], _PART_GAP, half, 1 - half), strict=True))
    return Bar(
        words=words,
        parts=tuple(
            Part(
                quantity=name,
                start=start,
                end=end,
                words=f"{name} {say_share(shares[name])}" if name in places else "",
                words_at=places.get(name, middles[name]),
            )
            for name, start, end in zip(QUANTITIES, starts, ends, strict=True)
        ),
    )


class SharesFigure:
    """One bar under another.

    Parameters
    ----------
    title, description : str
    bars : sequence of Bar
        What it shows first; later there are as many.
    name : str
        Of its data source.
    beside : bool
        Whether a bar's words stand beside its end, which is flatter, or above it.
    """

    def __init__(self, title: str, description: str, bars: Sequence[Bar], name: str, beside: bool = False) -> None:
        count = len(bars)
        self._below = (0.29, 0.42) if beside else (0.25, 0.34)
        self.parts = ColumnDataSource(name=name)
        self.ends = ColumnDataSource(name=f"{name} bars")
        fig = quiet_figure(
            description,
            title=title,
            height=28 + 47 * count if beside else 40 + 90 * count,
            x_range=Range1d(0, 1),
            y_range=Range1d(count - 0.5, -0.5) if beside else Range1d(count - 0.45, -0.55),
            **({"min_border_right": ROOM_PX} if beside else {}),
        )
        fig.axis.visible = False
        fig.grid.visible = False
        parts = fig.hbar(
            y="bar", left="start", right="end", height=0.36, source=self.parts, fill_color="colour", line_color=PAPER,
            hatch_pattern="hatch", hatch_color=PAPER, hatch_alpha=0.75, hatch_scale=8, hatch_weight=1.5,
        )  # fmt: skip
        words = {"text_font": value(FONT), "text_font_size": "12px", "text_color": INK, "text_baseline": "middle"}
        fig.segment("middle", "foot", "words_at", "neck", source=self.parts, line_color=INK, line_width=1)
        fig.text("words_at", "words_y", "words", source=self.parts, text_align="center", level="annotation", **words)
        if beside:
            fig.text("end", "bar", "words", source=self.ends, x_offset=8, level="annotation", **words)
        else:
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
                "foot": [number + 0.18 for number, _ in pairs],
                "neck": [number + (self._below[0] if part.words else 0.18) for number, part in pairs],
                "words_y": [number + self._below[1] for number, _ in pairs],
            },
        )
        put(
            self.ends,
            {
                "start": [0.0] * len(bars),
                "end": [1.0] * len(bars),
                "bar": list(range(len(bars))),
                "head": [number - 0.3 for number in range(len(bars))],
                "words": [bar.words for bar in bars],
            },
        )
