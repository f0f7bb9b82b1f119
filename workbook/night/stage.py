"""The pictures of a night, of which one is seen at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import ipywidgets as w

from expocalc.night.night import Campaign, Tonight
from expocalc.night.ranking import Ranked
from workbook.night.choice_figures import CadenceFigure, RankFigure
from workbook.night.dither import dither
from workbook.night.drawing import HEIGHT
from workbook.night.figures import TonightFigure
from workbook.night.season import schedule_rows
from workbook.night.season_figures import NightsFigure, SeasonPair
from workbook.night.shoot import rank_bars, rank_title
from workbook.night.tonight import bars, evening, ticks
from workbook.night.verdict import DITHER, SEASON, SHOOT, TONIGHT

__all__ = ["Known", "Stage"]


@dataclass(frozen=True, eq=False)
class Known:
    """What the pictures are drawn from; no schedule and no list until they are worked out."""

    night: Tonight
    campaign: Campaign | None
    ranked: Sequence[Ranked]
    filter_name: str


class Stage:
    """Draws a picture when it is looked at, and keeps it."""

    def __init__(self) -> None:
        self.figures: dict[str, Any] = {}
        self.widget = w.VBox(layout=w.Layout(width="100%", min_height=f"{HEIGHT}px"))

    def clear(self) -> None:
        """Forget all pictures: those of other filters have other curves."""
        old, self.figures = self.figures, {}
        self.widget.children = ()
        for figure in old.values():
            figure.widget.close()

    def move(self, night: Tonight) -> None:
        """Move tonight's curves, which the eye waits for."""
        if TONIGHT in self.figures:
            self.figures[TONIGHT].draw(evening(night), ticks(night))

    def show(self, name: str, known: Known) -> None:
        """Bring one picture up to date and hide the others; nothing is seen of what is not known yet."""
        figure = self.figures.get(name)
        if figure is not None:
            _redraw(name, figure, known)
        elif (figure := _drawn(name, known)) is not None:
            self.figures[name] = figure
            self.widget.children = (*self.widget.children, figure.widget)
        for other, drawn in self.figures.items():
            drawn.widget.layout.display = None if other == name else "none"


def _drawn(name: str, known: Known) -> Any:
    night, campaign = known.night, known.campaign
    if name == TONIGHT:
        return TonightFigure(evening(night), ticks(night), bars(night) if campaign else ())
    if name == DITHER:
        return CadenceFigure(dither(night, known.filter_name))
    if name == SHOOT:
        return RankFigure(rank_bars(known.ranked), rank_title(known.ranked))
    if campaign is None:
        return None
    if name == SEASON:
        return SeasonPair(campaign)
    return NightsFigure(schedule_rows(campaign), [f.shown_name for f in night.case.filters], ticks(night))


def _redraw(name: str, figure: Any, known: Known) -> None:
    night, campaign = known.night, known.campaign
    if name == TONIGHT:
        figure.draw(evening(night), ticks(night))
        figure.mark(bars(night) if campaign else ())
    elif name == DITHER:
        figure.show(dither(night, known.filter_name))
    elif name == SHOOT:
        figure.show(rank_bars(known.ranked), rank_title(known.ranked))
    elif campaign is not None and name == SEASON:
        figure.show(campaign)
    elif campaign is not None:
        figure.show(schedule_rows(campaign), ticks(night))
