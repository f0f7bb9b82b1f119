"""How many nights the hours are, once the plan says where it stands and how many nights are clear."""

from __future__ import annotations

from collections.abc import Generator

from expocalc.base.words import say_count, say_number, say_span
from expocalc.budget.case import Case
from expocalc.night.clear import Count
from expocalc.night.night import ALL, tonight_of
from expocalc.night.words import say_planned

__all__ = ["nights_steps"]


def nights_steps(case: Case, filter_name: str) -> Generator[float, None, str]:
    """Sentence on the nights of one filter and of all, in steps; empty where the plan doesn't say enough.

    Yields
    ------
    float
        Share of the work that is done.
    """
    if case.night.clear_share is None or case.site.latitude is None or case.target.right_ascension is None:
        return ""
    night = tonight_of(case)
    yield 0.1
    campaign = night.campaign
    if campaign is None:
        return ""
    yield 0.5
    one, every = campaign.counts[filter_name], campaign.counts[ALL]
    yield 0.8
    planned, all_planned = campaign.planned[filter_name], campaign.planned[ALL]
    yield 1.0
    if one.p50 is None:
        return f"From {night.evening.date} on, no year's nights reach it."
    shown = next(one.shown for one in campaign.nights.references if one.name == filter_name)
    weather = f"with {say_number(100 * case.night.clear_share)} % of the nights clear"
    said = (
        f"From {night.evening.date} on that is at best {_nights(one)} on the calendar if {shown} has them to itself, "
        f"{weather}; {say_planned(planned)}."
    )
    if len(case.filters) > 1 and every.p50 is not None:
        said += f" For all filters it is at best {_nights(every)}; {say_planned(all_planned)}."
    return said


def _nights(count: Count) -> str:
    if count.p90 is None:
        return f"{say_count(count.p10, 'night')} or more"
    return say_span(say_count(count.p10, "night"), say_count(count.p90, "night"))
