"""The pictures of a night, of which one is seen at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

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
from workbook.parts.stage import Stage

__all__ = ["Known", "NightStage"]


@dataclass(frozen=True, eq=False)
class Known:
    """What the pictures are drawn from; no schedule and no list until they are worked out."""

    night: Tonight
    campaign: Campaign | None
    ranked: Sequence[Ranked]
    filter_name: str


class NightStage(Stage):
    """As the pictures of any panel; nothing is seen of what is not known yet."""

    def __init__(self) -> None:
        super().__init__(HEIGHT, _drawn, _redraw)

    def move(self, night: Tonight) -> None:
        """Move tonight's curves, which the eye waits for."""
        if TONIGHT in self.figures:
            self.figures[TONIGHT].draw(evening(night), ticks(night))


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
