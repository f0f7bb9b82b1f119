"""How far each filter is on its way to the plan's goal, with the nights of the ledger."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from expocalc.base.words import say_duration, say_share, say_span
from expocalc.budget.case import Case
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
        Under the plan's conditions; nights like those gone by.
    hours_left_range, nights_left_range : (float, float) or None
        Eight cases of ten; infinite where out of reach.
    """

    name: str
    kept_h: float
    equivalent_dark_h: float
    goal_h: float | None
    share_of_goal: float | None
    hours_left: float | None
    nights_left: float | None
    hours_left_range: tuple[float, float] | None
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
        reach = None if span is None else (max(span.p10_h - done, 0.0), max(span.p90_h - done, 0.0))
        found[name] = Progress(
            name=of_filter(now), kept_h=kept_h, equivalent_dark_h=done, goal_h=goal,
            share_of_goal=done / goal if goal else None, hours_left=left,
            nights_left=left / a_night if left is not None and a_night > 0 else None,
            hours_left_range=reach,
            nights_left_range=(reach[0] / a_night, reach[1] / a_night) if reach and a_night > 0 else None,
        )  # fmt: skip
    return found


def left_words(one: Progress) -> str:
    """How far one filter is, in half a sentence."""
    if one.goal_h is None:
        return f"{one.name}: {say_duration(3600 * one.kept_h)} kept; no number of hours reaches the plan's goal"
    done = (
        f"{one.name}: {say_duration(3600 * one.kept_h)} kept, worth {say_duration(3600 * one.equivalent_dark_h)} of "
        f"the plan's dark hours, {say_share(one.share_of_goal or 0.0)} of the goal"
    )
    if one.hours_left == 0:
        return f"{done}: reached"
    reach = ""
    if one.hours_left_range and math.isfinite(one.hours_left_range[1]):
        low, high = (say_duration(3600 * h) if h else "none" for h in one.hours_left_range)
        reach = f" ({say_span(low, high)} in eight cases of ten)"
    nights = ""
    if one.nights_left is not None:
        count = math.ceil(one.nights_left - 1e-9)
        span = ""
        if one.nights_left_range and math.isfinite(one.nights_left_range[1]):
            fewest, most = (math.ceil(n - 1e-9) for n in one.nights_left_range)
            span = f" ({fewest} to {most})" if fewest != most else ""
        nights = f", {count} more night{'s' if count > 1 else ''}{span} like {'this' if count == 1 else 'these'}"
    return f"{done}; {say_duration(3600 * float(one.hours_left or 0.0))} left at best{reach}{nights}"
