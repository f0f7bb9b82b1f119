"""The two figures of the sub-length panel: they take a picture and draw it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from bokeh.core.properties import value
from bokeh.models import ColumnDataSource, HoverTool, LinearScale, Range1d

from expocalc.base.words import say_duration
from workbook.parts.figures import FONT, HOURS, SECONDS, put, quiet_figure, room_at_right, say_ticks, stand
from workbook.parts.looks import INK, PAPER, QUANTITIES, Look, filter_look
from workbook.parts.narrow import AT_END, keep_inside
from workbook.parts.shares import SharesFigure
from workbook.sub_length.model import SUB_S, Picture

__all__ = ["HOURS_TITLE", "HoursFigure", "noise_figure"]

_BOUNDS: Mapping[str, Look] = MappingProxyType(
    {
        "read noise": QUANTITIES["read noise"],
        "sky": QUANTITIES["sky"],
        "mount": Look(INK, "solid"),
        "star": Look(INK, "dotted"),
    }
)
HOURS_TITLE, _NEVER_TITLE = (
    "Hours it takes at best, for each length of sub",
    "No length of sub reaches the goal in any filter",
)
_RIGHT_UNTIL = 0.78
"""How far along the axis a bound's words still stand at its right."""
_ROW = 0.075
"""Height of a bound's words, as a share of the figure's."""


class HoursFigure:
    """Clock hours against sub length: a curve for each filter, the good range as a band, the bounds as lines.

    Parameters
    ----------
    picture : Picture
        What it shows first; later pictures have the same filters.
    height : int
        [px]
    """

    def __init__(self, picture: Picture, height: int = 255) -> None:
        names = [one.shown_name for one in picture.plan.case.filters]
        self.lines = ColumnDataSource(name="hours")
        self.under = ColumnDataSource(name="under the pointer")
        self.ends = ColumnDataSource(name="ends")
        self.bounds = ColumnDataSource(name="bounds")
        self.good = ColumnDataSource(name="good")
        self._reach, self._subs = Range1d(1, 100), Range1d(1, 3600)
        fig = quiet_figure(
            "Hours on the clock against the length of one sub, one curve for each filter; a band marks the subs that "
            "cost at most 2 % more, and upright lines mark what limits them.",
            title=HOURS_TITLE,
            tall=True,
            height=height,
            x_axis_type="log",
            y_axis_type="log",
            x_range=self._subs,
            y_range=self._reach,
            extra_y_ranges={"frame": Range1d(0, 1)},
            extra_y_scales={"frame": LinearScale()},
        )
        self._figure = fig
        fig.xaxis.axis_label = "length of one sub"
        fig.yaxis.axis_label = "time on the clock"
        say_ticks(fig.xaxis, SECONDS)
        say_ticks(fig.yaxis, HOURS)
        fig.vstrip("from", "to", source=self.good, fill_color="#0072B2", fill_alpha=0.13, line_color=None)
        fig.vspan("sub_s", source=self.bounds, line_color="colour", line_dash="dash", line_width=1.5)
        for number in range(len(names)):
            look = filter_look(number)
            fig.line(
                "sub_s", f"hours_{number}", source=self.lines, color=look.colour, line_dash=look.dash, line_width=2.5
            )
        fig.scatter("sub_s", "hours", source=self.ends, size=9, fill_color=PAPER, line_color="colour", line_width=2.5)
        words = {"text_font": value(FONT), "text_font_size": "12px", "text_baseline": "middle"}
        fig.text(
            "end_s",
            "label_hours",
            "label",
            source=self.ends,
            x_offset=8,
            name=AT_END,
            level="annotation",
            text_color="colour",
            **words,
        )
        fig.text(
            "sub_s",
            "row",
            "words",
            source=self.bounds,
            y_range_name="frame",
            text_color=INK,
            text_align="align",
            x_offset="offset",
            level="annotation",
            background_fill_color=PAPER,
            background_fill_alpha=0.8,
            **words,
        )
        keep_inside(fig, self.bounds, "sub_s")
        # One box with the value of every curve at the pointer's sub length, also where some curve has none.
        everywhere = fig.line("sub_s", value(0.5), source=self.under, y_range_name="frame", line_alpha=0)
        rows = [("sub", "@sub"), *((name, f"@said_{number}") for number, name in enumerate(names))]
        fig.add_tools(
            HoverTool(renderers=[everywhere], mode="vline", point_policy="follow_mouse", tooltips=rows, visible=False)
        )
        self.draw(picture)
        self.mark(picture)
        self.widget = stand(fig)

    def draw(self, picture: Picture) -> None:
        """Draw the curves of a plan with these filters."""
        columns = {f"hours_{number}": hours.tolist() for number, hours in enumerate(picture.curves)}
        put(self.lines, {"sub_s": SUB_S.tolist(), **columns})

    def mark(self, picture: Picture) -> None:
        """Say at the curves what is to be said."""
        if (self._reach.start, self._reach.end) != picture.hours_reach:
            self._reach.start, self._reach.end = picture.hours_reach
        if (self._subs.start, self._subs.end) != picture.sub_reach:
            self._subs.start, self._subs.end = picture.sub_reach
        said = {f"said_{number}": words for number, words in enumerate(picture.said)}
        put(self.under, {"sub_s": SUB_S.tolist(), "sub": [say_duration(sub_s) for sub_s in SUB_S], **said})
        good = picture.good_s if picture.good_s[0] < picture.good_s[1] else None
        put(self.good, {"from": [good[0]] if good else [], "to": [min(good[1], SUB_S[-1])] if good else []})
        ends = picture.ends
        room_at_right(self._figure, [end.label for end in ends])
        title = HOURS_TITLE if picture.reached else _NEVER_TITLE
        if self._figure.title.text != title:
            self._figure.title.text = title
            self._figure.yaxis.visible = self._figure.ygrid.visible = picture.reached
        put(
            self.ends,
            {
                "sub_s": [end.sub_s for end in ends],
                "hours": [end.hours for end in ends],
                "end_s": [picture.sub_reach[1]] * len(ends),
                "label_hours": [end.label_hours for end in ends],
                "label": [end.label for end in ends],
                "colour": [filter_look(number).colour for number in range(len(ends))],
            },
        )
        self._show_bounds(picture)

    def _show_bounds(self, picture: Picture) -> None:
        bounds = sorted(picture.bounds, key=lambda bound: bound.sub_s)
        looks = [_BOUNDS[bound.kind] for bound in bounds]
        low, high = np.log(picture.sub_reach)
        last_s = float(np.exp(low + _RIGHT_UNTIL * (high - low)))
        right = [bound.sub_s < last_s for bound in bounds]  # there is room, if need be beside the curves' ends
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


def noise_figure(picture: Picture) -> SharesFigure:
    """What the noise is made of: one bar for each filter of a picture."""
    return SharesFigure(
        "What the noise (squared) is made of",
        "What the noise is made of, squared: one bar for each filter, divided into target, sky, dark, read noise and "
        "calibration.",
        picture.bars,
        "noise",
    )
