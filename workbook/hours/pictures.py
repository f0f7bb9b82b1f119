"""The pictures of the hours panel: which there are, how each is drawn, and the table behind it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from workbook.hours.bar_figures import LeversFigure, SharesOfHoursFigure
from workbook.hours.curve_figures import DepthFigure, SnrFigure
from workbook.hours.depth import depth, depth_table
from workbook.hours.levers import levers, levers_table
from workbook.hours.model import Picture
from workbook.hours.noise import noise_bars, noise_table
from workbook.hours.seen import seen_table
from workbook.hours.seen_view import SeenView
from workbook.hours.shares import shares, shares_table
from workbook.hours.sure import Sure, snr_table
from workbook.parts.shares import SharesFigure
from workbook.parts.table import Table

__all__ = ["DEPTH", "LEVERS", "NOISE", "PICTURES", "SEEN", "SHARES", "SNR", "Known", "drawn", "redraw", "table_behind"]

SNR, NOISE, DEPTH, LEVERS, SHARES, SEEN = PICTURES = (
    "Hours", "Noise", "How faint", "What helps", "Share out", "See it",
)  # fmt: skip
"""Pictures, of which one is seen at a time."""

_NOISE_TITLE = "What the stack's noise, squared, is made of at the goal"
_NOISE_SENTENCE = (
    "What the noise of each filter's stack is made of: one bar for each filter, divided into target, sky, dark, read "
    "noise and calibration."
)


@dataclass(frozen=True, eq=False)
class Known:
    """What the pictures are drawn from: the model's, the range once it is worked out, and the hours one has. [h]"""

    shown: Picture
    sure: Sure | None
    hours: float


def drawn(name: str, known: Known) -> Any:
    """A new figure of that name."""
    shown = known.shown
    if name == SNR:
        return SnrFigure(shown, known.sure)
    if name == NOISE:
        return SharesFigure(_NOISE_TITLE, _NOISE_SENTENCE, noise_bars(shown), "stack noise")
    if name == DEPTH:
        return DepthFigure(depth(shown), [one.shown_name for one in shown.plan.case.filters])
    if name == LEVERS:
        return LeversFigure(levers(shown))
    if name == SEEN:
        return SeenView(shown, known.hours)
    return SharesOfHoursFigure(*shares(shown, known.hours))


def redraw(name: str, figure: Any, known: Known) -> None:
    """Bring a figure of that name up to date."""
    shown = known.shown
    if name == SNR:
        figure.draw(shown)
        figure.mark(shown, known.sure)
    elif name == NOISE:
        figure.show(noise_bars(shown))
    elif name == DEPTH:
        figure.show(depth(shown))
    elif name == SHARES:
        figure.show(*shares(shown, known.hours))
    elif name == SEEN:
        figure.show(shown, known.hours)
    elif known.sure is not None:  # what helps takes longer: it comes with the range
        figure.show(levers(shown))


def table_behind(name: str, figure: Any, known: Known) -> Callable[[], Table]:
    """What makes the table behind a figure of that name."""
    shown = known.shown
    tables: dict[str, Callable[[], Table]] = {
        SNR: lambda: snr_table(shown, known.sure),
        NOISE: lambda: noise_table(shown),
        DEPTH: lambda: depth_table(shown),
        LEVERS: lambda: levers_table(shown),
        SHARES: lambda: shares_table(shown, known.hours),
        SEEN: lambda: seen_table(figure.shown),
    }
    return tables[name]
