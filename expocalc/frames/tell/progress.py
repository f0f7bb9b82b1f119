"""How far each filter is on its way to the plan's goal, with the nights of the ledger."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from expocalc.base.words import say_count, say_duration, say_share, say_span
from expocalc.budget.case import Case
from expocalc.budget.ranges import Range
from expocalc.budget.row import FilterAnswer
from expocalc.budget.spread import spread
from expocalc.budget.whose import of_filter
from expocalc.frames.tell.ledger import Entry

__all__ = ["Progress", "gathered", "left_words", "progress_of"]

_DRAWS = 2000


@dataclass(frozen=True, kw_only=True)
class Progress:
    """How far one filter is.

    Attributes
    ----------
    name : str
        The filter's as it is shown, with the light that sets its hours where it is for several.
    kept_h, equivalent_dark_h : float
        Of all nights. [h]
    goal_h : float or None
        Kept hours that the plan needs, at best; None where no hours do.
    share_of_goal : float or None
    hours_left, nights_left : float or None
        At best, under the plan's conditions; nights like those gone by.
    planned : Range or None
        Hours left to plan for; infinite where out of reach.
    nights_left_range : (float, float) or None
        Eight cases of ten.
    """

    name: str
    kept_h: float
    equivalent_dark_h: float
    goal_h: float | None
    share_of_goal: float | None
    hours_left: float | None
    nights_left: float | None
    planned: Range | None
    nights_left_range: tuple[float, float] | None


def gathered(entries: Sequence[Entry], filter_name: str) -> Mapping[str, float]:
    """Equivalent dark hours of one filter, night by night. [h]"""
    nights: dict[str, float] = {}
    for one in sorted(entries, key=lambda e: e.night):
        if one.filter == filter_name:
            nights[one.night] = nights.get(one.night, 0.0) + (one.equivalent_dark_h if one.kept else 0.0)
    return nights


def progress_of(entries: Sequence[Entry], case: Case, answers: Mapping[str, FilterAnswer]) -> dict[str, Progress]:
    """Progress of each filter that has an answer."""
    ranges = spread(case, case.doubt, draws=_DRAWS).filters
    found = {}
    for name, now in answers.items():
        nights = gathered(entries, name)
        done = sum(nights.values())
        kept_h = sum(one.exposure_s for one in entries if one.filter == name and one.kept) / 3600
        a_night = done / len(nights) if nights else 0.0
        goal = now.kept_h
        left = None if goal is None else max(goal - done, 0.0)
        span = ranges.get(name)
        planned = None if span is None else _less(span, done)
        found[name] = Progress(
            name=of_filter(now), kept_h=kept_h, equivalent_dark_h=done, goal_h=goal,
            share_of_goal=done / goal if goal else None, hours_left=left,
            nights_left=left / a_night if left is not None and a_night > 0 else None,
            planned=planned,
            nights_left_range=(planned.p10_h / a_night, planned.p90_h / a_night) if planned and a_night > 0 else None,
        )  # fmt: skip
    return found


def _less(span: Range, done_h: float) -> Range:
    """What is left of a range of hours."""
    low, middle, high = (max(hours - done_h, 0.0) for hours in (span.p10_h, span.p50_h, span.p90_h))
    return Range(p10_h=low, p50_h=middle, p90_h=high, out_of_reach=span.out_of_reach)


def left_words(one: Progress) -> str:
    """How far one filter is, in half a sentence: what is left at best, and what to plan for."""
    if one.goal_h is None:
        return f"{one.name}: {say_duration(3600 * one.kept_h)} kept; no number of hours reaches the plan's goal"
    done = (
        f"{one.name}: {say_duration(3600 * one.kept_h)} kept, worth {say_duration(3600 * one.equivalent_dark_h)} of "
        f"the plan's dark hours, {say_share(one.share_of_goal or 0.0)} of the goal at best"
    )
    left = f"{say_duration(3600 * one.hours_left)} left at best" if one.hours_left else "reached at best"
    nights = "" if not one.nights_left else f", {_nights(one.nights_left)} like {_these(one.nights_left)}"
    return f"{done}; {left}{nights}{_planned(one)}"


def _planned(one: Progress) -> str:
    """Hours and nights that are left to plan for."""
    span = one.planned
    if span is None or not span.p90_h:
        return ""
    chance = f"with a chance of {say_share(span.out_of_reach)} no hours reach it"
    if math.isinf(span.p50_h):
        return f"; {chance}"
    middle = f"; plan for {_hours(span.p50_h)} more"
    if math.isinf(span.p90_h):
        return f"{middle} at least, and {chance}"
    a_night = one.hours_left / one.nights_left if one.hours_left and one.nights_left else None
    nights = f" ({_nights(span.p50_h / a_night)})" if a_night and span.p50_h else ""
    return f"{middle}{nights}, {say_span(_hours(span.p10_h), _hours(span.p90_h))} in eight cases of ten"


def _hours(hours: float) -> str:
    return say_duration(3600 * hours) if hours else "none"


def _nights(nights: float) -> str:
    return say_count(math.ceil(nights - 1e-9), "more night")


def _these(nights: float) -> str:
    return "this" if math.ceil(nights - 1e-9) == 1 else "these"
