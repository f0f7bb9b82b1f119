"""Figures that keep quiet: no logo, a toolbar only under the pointer, few ticks, words at the lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import ipywidgets as w
from bokeh.core.properties import value
from bokeh.models import ColumnDataSource, DataRange1d, FixedTicker, NoOverlap, Range1d
from bokeh.plotting import figure
from jupyter_bokeh import BokehModel

from workbook.parts.dress import dress, make_room
from workbook.parts.looks import INK, LETTER_PX, PAPER
from workbook.parts.narrow import fit_narrow

__all__ = [
    "FONT",
    "HOURS",
    "NUMBERS",
    "SAY_TIME",
    "SECONDS",
    "WORDS",
    "Data",
    "move",
    "put",
    "quiet_figure",
    "room_at_right",
    "say_ticks",
    "stand",
]

FONT = "system-ui, sans-serif"
WORDS: Mapping[str, Any] = MappingProxyType(
    {"text_font": value(FONT), "text_font_size": "12px", "text_baseline": "middle", "level": "annotation"}
)
"""Look of words in a picture, before its lines."""

Data = dict[str, Sequence[Any]]
_LAST_TICK_PX = 20
"""Room at the right for half of the last tick's words, so that they need not move onto those before them."""
_ALL_DRAWN = "document_ready"
"""What the plot library calls it when a page has drawn a figure."""
_LEAST_ROOM_PX, _MOST_ROOM_PX = 110, 250
"""Room for the words at the lines' ends: at least, and at most."""

SECONDS: Mapping[float, str] = MappingProxyType(
    {
        1: "1 s",
        3: "3 s",
        10: "10 s",
        30: "30 s",
        60: "1 min",
        120: "2 min",
        180: "3 min",
        300: "5 min",
        600: "10 min",
        1200: "20 min",
        1800: "30 min",
        3600: "1 h",
    }
)
"""Ticks of an axis of sub lengths. [s]"""
HOURS: Mapping[float, str] = MappingProxyType(
    {1 / 60: "1 min", 1 / 20: "3 min", 1 / 6: "10 min", 0.5: "30 min"}
    | {float(f"{step}e{decade}"): f"{step * 10**decade} h" for decade in range(6) for step in (1, 2, 5)}
)
"""Ticks of an axis of hours. [h]"""
NUMBERS: Mapping[float, str] = MappingProxyType(
    {float(f"{step}e{decade}"): f"{float(f'{step}e{decade}'):g}" for decade in range(-3, 6) for step in (1, 2, 5)}
)
"""Ticks of a long axis of plain numbers."""

SAY_TIME = """
const time = value * unit_s;
if (!Number.isFinite(time)) return 'never';
const say = (number, figures) => String(Number(number.toPrecision(figures)));
if (time < 119.5) return `${say(time, 2)} s`;
return time < 5400 ? `${say(time / 60, 2)} min` : `${say(time / 3600, time < 36e4 ? 2 : 3)} h`;
"""
"""Under the pointer, a time as :func:`expocalc.base.words.say_duration` says it."""


def quiet_figure(description: str, *, tall: bool = False, half: bool = False, **settings: Any) -> Any:
    """Bokeh figure in the workbook's look.

    Parameters
    ----------
    description : str
        One sentence that says what the figure shows, for those who can't see it.
    tall : bool
        Whether it grows with a large screen.
    half : bool
        Whether it does so as one of two.
    **settings
        For :func:`bokeh.plotting.figure`.

    Returns
    -------
    bokeh.plotting.figure
    """
    fig = figure(
        **{"tools": "save", "toolbar_location": "above", "sizing_mode": "stretch_width", "min_width": 240}
        | {"min_border_right": _LAST_TICK_PX}
        | settings,
        css_classes=["quiet-figure", *(["quiet-tall"] if tall else ["quiet-half"] if half else [])],
        html_attributes={"role": "img", "aria-label": description},
        background_fill_color=PAPER,
        border_fill_color=PAPER,
        outline_line_color=None,
    )
    fig.toolbar.logo = None
    fig.toolbar.autohide = True
    fig.grid.grid_line_color = "#dddddd"
    for axis in (fig.xaxis, fig.yaxis):
        axis.minor_tick_line_color = None
        axis.axis_line_color = axis.major_tick_line_color = "#888888"
        axis.major_label_text_color = axis.axis_label_text_color = INK
        axis.major_label_text_font = axis.axis_label_text_font = FONT
        axis.major_label_text_font_size = "12px"
        axis.axis_label_text_font_size = "12px"
        axis.axis_label_text_font_style = "normal"
        axis.axis_label_standoff = 4
    fig.title.text_font = FONT
    fig.title.text_font_size = "13px"
    fig.title.text_color = INK
    return fig


def say_ticks(axis: Any, words: Mapping[float, str]) -> None:
    """Ticks at a few places, said as a person would; where room is short some go without words."""
    axis.ticker = FixedTicker(ticks=list(words))
    axis.major_label_overrides = dict(words)
    axis.major_label_policy = NoOverlap(min_distance=6)


def move(reach: Range1d, ends: tuple[float, float]) -> None:
    """Move the ends of an axis, in no message where nothing changed."""
    if (reach.start, reach.end) != ends:
        reach.start, reach.end = ends


def room_at_right(fig: Any, words: Sequence[str]) -> None:
    """Leave as much room at a figure's right as the longest of the words there needs."""
    wanted = 14 + LETTER_PX * max((len(line) for word in words for line in word.splitlines()), default=0)
    make_room(fig, round(min(max(wanted, _LEAST_ROOM_PX), _MOST_ROOM_PX)))


class _Stand(BokehModel):
    """Widget of a figure that misses no change, and may be closed twice: by us, and by Python when it throws it away.

    A change that is sent while the page draws is lost on the way, or reaches the figure's numbers and not its marks.
    The page tells when all is drawn: what changed before is then drawn anew, until nothing changed meanwhile.
    """

    _drawn = _changed = False

    def _document_patched(self, event: Any) -> None:
        if self._drawn:
            super()._document_patched(event)
        elif event.setter is not self:
            self._changed = True

    def _sync_model(self, model: Any, content: dict[str, Any], buffers: list[Any]) -> None:
        super()._sync_model(model, content, buffers)
        if content.get("msg_data", {}).get("name") != _ALL_DRAWN:
            return
        self._drawn = not self._changed
        if self._changed:
            for found in self._model.select({"type": DataRange1d}):  # by the numbers of before
                del found.start, found.end
            self._changed = False
            self.render_bundle = self._model_to_traits(self._model)

    def close(self) -> None:
        """Close it, once."""
        if self.comm is not None:
            super().close()


def stand(fig: Any) -> BokehModel:
    """The figure as a widget that fits into boxes and pages, drawn for a desk or a wall as all others are."""
    dress(fig)
    fit_narrow(fig)
    return _Stand(fig, layout=w.Layout(flex="1 1 auto", width="auto", min_width="0"))


def put(source: ColumnDataSource, data: Data) -> None:
    """Give a source its columns in one message, and none where nothing changed."""
    before = source.data
    if before.keys() != data.keys() or any(not _same(before[name], column) for name, column in data.items()):
        source.data = data


def _same(before: Sequence[Any], column: Sequence[Any]) -> bool:
    """Whether a column is as it was; a gap (NaN) is like another gap."""
    pairs = zip(before, column, strict=False)
    return len(before) == len(column) and all(a == b or (a != a and b != b) for a, b in pairs)
