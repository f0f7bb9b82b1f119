"""What the pictures of a night share: bars of blocks, hours on the axis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from bokeh.models import ColumnDataSource, FixedTicker, NoOverlap

from expocalc.base.curve import Floats
from workbook.night.tonight import Bar
from workbook.parts.looks import PAPER, filter_look

__all__ = [
    "AFTER_MARK_PX",
    "HEIGHT",
    "ROOM_PX",
    "bar_columns",
    "hatched",
    "mark_columns",
    "marked",
    "say_hours",
]

HEIGHT = 372
"""Of all pictures of one view together. [px]"""
ROOM_PX = 120
"""Room for words at the right."""
AFTER_MARK_PX = 10
"""From the middle of a mark to the words behind it."""
_MARKS = 6
"""Marks on a line: enough to be met anywhere, few enough to leave it a line."""


def say_hours(fig: Any, words: Mapping[float, str]) -> None:
    """Ticks at whole hours, said by the clock of the place."""
    if fig.xaxis[0].major_label_overrides != words:
        fig.xaxis.ticker = FixedTicker(ticks=list(words)[::2])
        fig.xaxis.major_label_overrides = dict(words)
        fig.xaxis.major_label_policy = NoOverlap(min_distance=6)


def hatched(fig: Any, source: ColumnDataSource, **places: Any) -> Any:
    """Bars with the filters' colours, hatches and marks, from the columns of :func:`bar_columns`."""
    bars = fig.hbar(
        source=source, fill_color="colour", line_color=PAPER, hatch_pattern="hatch", hatch_color=PAPER,
        hatch_alpha=0.75, hatch_scale=8, hatch_weight=1.5, **places,
    )  # fmt: skip
    here = {"x": "middle", "y": places["y"], "source": source}
    fig.scatter(marker="square", size=13, fill_color=PAPER, line_color=None, **here)
    fig.scatter(marker="marker", size=8, fill_color=PAPER, line_color="colour", line_width=2, **here)
    return bars


def bar_columns(bars: Sequence[Bar], rows: Sequence[float]) -> dict[str, list[Any]]:
    """Columns of bars, each in its row."""
    return {
        "row": list(rows),
        "begin": [bar.begin for bar in bars],
        "end": [bar.end for bar in bars],
        "words": [bar.words for bar in bars],
        "colour": [filter_look(bar.number).colour for bar in bars],
        "hatch": [filter_look(bar.number).hatch for bar in bars],
        "middle": [(bar.begin + bar.end) / 2 for bar in bars],
        "marker": [filter_look(bar.number).marker for bar in bars],
    }


def marked(fig: Any, source: ColumnDataSource) -> None:
    """Marks of the filters on their lines and before their words, from the columns of :func:`mark_columns`."""
    fig.scatter(
        "x", "y", source=source, marker="marker", size=8, fill_color=PAPER, line_color="colour", line_width=2,
        level="annotation",
    )  # fmt: skip


def mark_columns(x: Floats, rows: Sequence[Floats], ends: Sequence[tuple[float, float]]) -> dict[str, list[Any]]:
    """Columns of marks: a few on each line, each line's at places of its own, and one before its words.

    Parameters
    ----------
    x : ndarray
        Of the lines' points.
    rows : sequence of ndarray
        The lines, one for each filter; NaN where one has a gap.
    ends : sequence of tuple of float
        Where the words of each line begin; a line without words has NaN there.
    """
    found: dict[str, list[Any]] = {name: [] for name in ("x", "y", "marker", "colour")}
    for number, (row, end) in enumerate(zip(rows, ends, strict=True)):
        seen = np.flatnonzero(np.isfinite(row))
        step = seen.size / _MARKS
        at = seen[(step * (np.arange(_MARKS) + (number + 0.5) / max(len(rows), 1))).astype(int)] if seen.size else seen
        look = filter_look(number)
        places = [*zip(x[at].tolist(), row[at].tolist(), strict=True), end]
        places = [place for place in places if np.isfinite(place).all()]
        found["x"] += [place[0] for place in places]
        found["y"] += [place[1] for place in places]
        found["marker"] += [look.marker] * len(places)
        found["colour"] += [look.colour] * len(places)
    return found
