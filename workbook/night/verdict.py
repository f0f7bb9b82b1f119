"""What the night panel says: the headline is what to do, below it what that rests on."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass

from expocalc.night.night import Campaign, Tonight
from expocalc.night.words import needs, schedule_sentences, sky_sentences

__all__ = ["Said", "campaign_steps", "said"]


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
        yield 0.8
        assert campaign.simpler is not None
    yield 1.0
    return campaign


def said(night: Tonight, campaign: Campaign | None) -> Said:
    """The words for a night, with those of the schedule where it is known."""
    sky, missing = sky_sentences(night), needs(night)
    do = schedule_sentences(night) if campaign is not None else ()
    if do:
        return Said(do[0], (" ".join(do[1:]), " ".join((*sky, *missing))))
    headline, *rest = (*sky, *missing) or ("The night is not known yet.",)
    return Said(headline, (" ".join(rest),))
