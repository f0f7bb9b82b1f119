"""What the night panel says: the headline is what to do, below it what that rests on."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass

from expocalc.budget.assumed import assumed_sentence
from expocalc.night.dark_words import needs, sky_sentences
from expocalc.night.night import Campaign, Tonight
from expocalc.night.ranking import Ranked
from expocalc.night.words import left_sentence, schedule_sentences
from workbook.night.dither import dither
from workbook.night.mount import mount_sentence
from workbook.night.season import season
from workbook.night.shoot import say_ranked, sentence

__all__ = ["FOLDS", "PICTURES", "Said", "campaign_steps", "said", "words_for"]

TONIGHT, SEASON, NIGHTS, DITHER, SHOOT = PICTURES = ("Tonight", "Season", "Nights", "Losses, dither", "What to shoot")
"""Pictures of the panel, of which one is seen at a time."""
FOLDS = {TONIGHT: "Night", DITHER: "Losses and dither", SHOOT: "What to shoot"}
"""Controls that open with a picture."""


@dataclass(frozen=True)
class Said:
    """A headline and what stands under it."""

    headline: str
    rest: tuple[str, ...]


def campaign_steps(night: Tonight) -> Generator[float, None, Campaign | None]:
    """Work the schedule out, part by part."""
    campaign = night.campaign
    yield 0.4
    if campaign is not None:
        assert campaign.counts is not None
        yield 0.7
        assert campaign.planned is not None
        yield 0.8
        assert campaign.simpler is not None
    yield 1.0
    return campaign


def said(night: Tonight, campaign: Campaign | None) -> Said:
    """The words for a night, with those of the schedule where it is known."""
    sky, missing = sky_sentences(night), needs(night)
    do = schedule_sentences(night) if campaign is not None else ()
    if do and night.windows:
        rest = (" ".join(do[1:]), " ".join((*sky, *missing)), assumed_sentence(night.case.routine))
        return Said(do[0], tuple(filter(None, rest)))
    headline, *rest = (*sky, *do, *missing) or ("The night is not known yet.",)
    return Said(headline, (" ".join(rest),))


def words_for(
    picture: str, night: Tonight, campaign: Campaign | None, ranked: Sequence[Ranked], filter_name: str
) -> Said:
    """The words beside a picture."""
    if picture == DITHER:
        headline, *rest = filter(None, reversed(dither(night, filter_name).sentences))
        return Said(headline, (*rest, mount_sentence(night.case)))
    if picture == SHOOT and ranked:
        return Said(sentence(ranked, night.evening.date), (say_ranked(ranked[0]),))
    if picture == SEASON and campaign is not None:
        found = season(campaign)
        return Said(found.sentence, (found.soon, left_sentence(night)))
    return said(night, campaign)
