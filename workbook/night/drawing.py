"""What the pictures of a night share: bars of blocks, hours on the axis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

from bokeh.core.properties import value
from bokeh.models import ColumnDataSource, FixedTicker, NoOverlap, Range1d

from workbook.night.tonight import Bar
from workbook.parts.figures import FONT
from workbook.parts.looks import PAPER, filter_look

__all__ = ["HEIGHT", "ROOM_PX", "WORDS", "bar_columns", "hatched", "move", "say_hours"]

HEIGHT = 372
"""Of all pictures of one view together. [px]"""
ROOM_PX = 120
"""Room for words at the right."""
WORDS: Mapping[str, Any] = MappingProxyType(
    {"text_font": value(FONT), "text_font_size": "12px", "text_baseline": "middle", "level": "annotation"}
)
HATCHES = (" ", "right_diagonal_line", "dot", "horizontal_line", "cross")
"""Of the filters' bars, in the plan's order."""


def move(reach: Range1d, ends: tuple[float, float]) -> None:
    """Move the ends of an axis, in no message where nothing changed."""
    if (reach.start, reach.end) != ends:
        reach.start, reach.end = ends


def say_hours(fig: Any, words: Mapping[float, str]) -> None:
    """Ticks at whole hours, said by the clock of the place."""
    if fig.xaxis[0].major_label_overrides != words:
        fig.xaxis.ticker = FixedTicker(ticks=list(words)[::2])
        fig.xaxis.major_label_overrides = dict(words)
        fig.xaxis.major_label_policy = NoOverlap(min_distance=6)


def hatched(fig: Any, source: ColumnDataSource, **places: Any) -> Any:
    """Bars with the filters' colours and hatches, from the columns of :func:`bar_columns`."""
    return fig.hbar(
        source=source, fill_color="colour", line_color=PAPER, hatch_pattern="hatch", hatch_color=PAPER,
        hatch_alpha=0.75, hatch_scale=8, hatch_weight=1.5, **places,
    )  # fmt: skip


def bar_columns(bars: Sequence[Bar], rows: Sequence[float]) -> dict[str, list[Any]]:
    """Columns of bars, each in its row."""
    return {
        "row": list(rows),
        "begin": [bar.begin for bar in bars],
        "end": [bar.end for bar in bars],
        "words": [bar.words for bar in bars],
        "colour": [filter_look(bar.number).colour for bar in bars],
        "hatch": [HATCHES[bar.number % len(HATCHES)] for bar in bars],
    }
