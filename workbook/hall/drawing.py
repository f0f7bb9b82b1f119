"""Pictures for the wall: everybody's guesses, and the eyes of the class."""

from __future__ import annotations

from typing import Any

import numpy as np
from bokeh.embed import json_item
from bokeh.models import BoxAnnotation, ColumnDataSource, Label, Span

from expocalc.base.words import say_number
from workbook.hall.gather import Asked, Guesses
from workbook.parts.figures import FONT, quiet_figure
from workbook.parts.looks import INK, QUANTITIES
from workbook.workshop.blind_model import HALF_WAY, SNRS, TILES, Answer, chance_right, threshold

__all__ = ["draw_eyes", "draw_guesses"]

_LETTERS = "24px"  # on a wall 1280 wide
_BAR, _TRUE = QUANTITIES["target"].colour, QUANTITIES["read noise"].colour
_HEIGHT = 400


def _wall(describes: str, **settings: Any) -> Any:
    fig = quiet_figure(describes, height=_HEIGHT, tools="", toolbar_location=None, **settings)
    for axis in (fig.xaxis, fig.yaxis):
        axis.major_label_text_font_size = axis.axis_label_text_font_size = _LETTERS
    return fig


def draw_guesses(one: Asked, found: Guesses, true: float | str | None) -> Any:
    """Bars of all guesses, and the truth where the leader has revealed it.

    Parameters
    ----------
    one : Asked
    found : Guesses
    true : float or str, optional
        Value, or the word among the choices.

    Returns
    -------
    dict
        What Bokeh embeds.
    """
    top = 1.15 * max(found.counts, default=1) or 1.0
    unit = one.unit or "your guess"
    said = f"Bars: {found.sentence()} " + (f"The truth: {_say(true)} {one.unit}." if true is not None else "")
    if one.choices:
        fig = _wall(said, x_range=list(one.choices), y_range=(0, top))
        marked = [name == true for name in one.choices]
        fig.vbar(
            "name", 0.8, "count", line_color=INK, fill_color="colour", hatch_pattern="hatch", hatch_color="white",
            source=ColumnDataSource(
                {
                    "name": list(one.choices), "count": list(found.counts),
                    "colour": [_TRUE if mark else _BAR for mark in marked],
                    "hatch": ["right_diagonal_line" if mark else " " for mark in marked],
                },
                name="guesses",
            ),
        )  # fmt: skip
        for name, mark in zip(one.choices, marked, strict=True):
            if mark:
                fig.add_layout(_word("✓ this one", x=one.choices.index(name) + 0.5, y=top, align="center"))
    else:
        ends = [*found.edges] if found.edges else [0.0, 1.0]
        low, high = ends[0], ends[-1]
        if isinstance(true, float):
            low, high = min(low, true), max(high, true)
        room = (high / low) ** 0.05 if found.log else 0.05 * (high - low)
        reach = (low / room, high * room) if found.log else (low - room, high + room)
        fig = _wall(said, x_range=reach, y_range=(0, top), x_axis_type="log" if found.log else "linear")
        fig.quad(
            left="left", right="right", top="count", bottom=0, line_color="white", line_width=2, fill_color=_BAR,
            source=ColumnDataSource(
                {"left": ends[:-1], "right": ends[1:], "count": list(found.counts) or [0]}, name="guesses"
            ),
        )  # fmt: skip
        if isinstance(true, float):
            fig.add_layout(Span(location=true, dimension="height", line_color=_TRUE, line_width=5, line_dash="dashed"))
            left = true < (np.sqrt(low * high) if found.log else (low + high) / 2)
            fig.add_layout(
                _word(f"it is {_say(true)} {one.unit}".rstrip(), x=true, y=top, align="left" if left else "right")
            )
        fig.xaxis.axis_label = unit
    fig.xgrid.grid_line_color = None
    fig.yaxis.axis_label = "guests"
    fig.yaxis.ticker.min_interval = 1
    fig.yaxis.ticker.num_minor_ticks = 0
    return json_item(fig)


def _say(value: float | str | None) -> str:
    return say_number(value) if isinstance(value, float) else str(value)


def _word(text: str, *, x: float, y: float, align: str) -> Label:
    offset = {"left": 12, "right": -12, "center": 0}[align]
    return Label(
        x=x, y=y, text=text, text_font=FONT, text_font_size="28px", text_font_style="bold", text_color=_TRUE,
        text_align=align, text_baseline="top", x_offset=offset, background_fill_color="white",
    )  # fmt: skip


def draw_eyes(answers: list[Answer]) -> Any:
    """Share of right picks against SNR, with the curve that fits them best, and the range of SNR that they leave.

    Parameters
    ----------
    answers : list of Answer
        The whole class's.
    """
    fig = _wall(
        f"Share of right picks against SNR, from {len(answers)} picks of the whole class.",
        x_range=(0, SNRS[-1] + 0.5), y_range=(0, 1.05),
    )  # fmt: skip
    given = {snr: [answer.right for answer in answers if answer.snr == snr] for snr in SNRS}
    snrs = [snr for snr, right in given.items() if right]
    fig.scatter(
        "snr", "share", size=16, fill_color="white", line_color=INK, line_width=3,
        source=ColumnDataSource({"snr": snrs, "share": [float(np.mean(given[snr])) for snr in snrs]}, name="eyes"),
    )  # fmt: skip
    half = threshold(answers)
    if half is not None:
        share = min(np.geomspace(0.02, 2, 300), key=lambda one: abs(chance_right(half.snr, one) - HALF_WAY))
        x = np.linspace(0, SNRS[-1], 80)
        fig.line(x, [chance_right(float(one), share) for one in x], line_width=4, line_color=_BAR)
        fig.add_layout(
            BoxAnnotation(left=half.low, right=half.high, fill_color=_TRUE, fill_alpha=0.12, line_color=None)
        )
        fig.add_layout(Span(location=half.snr, dimension="height", line_color=_TRUE, line_width=4, line_dash="dashed"))
    fig.add_layout(Span(location=1 / TILES, dimension="width", line_color="#666666", line_width=2, line_dash="dotted"))
    fig.xaxis.axis_label, fig.yaxis.axis_label = "SNR of the square", "right picks"
    fig.yaxis.ticker = [0, 1 / TILES, 0.5, 1]
    fig.yaxis.major_label_overrides = {0: "none", 1 / TILES: "luck", 0.5: "half", 1: "all"}
    return json_item(fig)
