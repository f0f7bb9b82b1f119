"""The hours at best, and the hours to plan for with their range: one wording for every screen, sheet and command."""

from __future__ import annotations

import math
from collections.abc import Mapping

from expocalc.base.words import say_duration, say_share, say_span
from expocalc.budget.ranges import Range

__all__ = ["below_best", "plan_for", "plan_for_each", "planned_sentence", "say_range", "to_plan"]


def say_range(span: Range) -> str:
    """Hours from a tenth to nine tenths of the cases; the unit, or the hours, once where they are the same.

    Examples
    --------
    >>> say_range(Range(p10_h=4.5, p50_h=10.0, p90_h=31.0, out_of_reach=0.0))
    '4.5 to 31 h'
    >>> say_range(Range(p10_h=4.51, p50_h=4.52, p90_h=4.53, out_of_reach=0.0))
    '4.5 h'
    """
    low, high = (say_duration(hours * 3600) if math.isfinite(hours) else "never" for hours in (span.p10_h, span.p90_h))
    return say_span(low, high)


def to_plan(span: Range) -> str:
    """Hours of kept subs to plan for, without a capital and a full stop.

    Examples
    --------
    >>> to_plan(Range(p10_h=4.5, p50_h=10.0, p90_h=31.0, out_of_reach=0.0))
    'plan for 10 h of kept subs, 4.5 to 31 h in eight cases of ten'
    >>> to_plan(Range(p10_h=4.5, p50_h=10.0, p90_h=math.inf, out_of_reach=0.2))
    'plan for 10 h of kept subs or more, and with a chance of 20 % no hours reach it'
    >>> to_plan(Range(p10_h=4.51, p50_h=4.52, p90_h=4.53, out_of_reach=0.0))
    'plan for 4.5 h of kept subs, the same in eight cases of ten'
    """
    chance = f"with a chance of {say_share(span.out_of_reach)} no hours reach it"
    if math.isinf(span.p50_h):
        return chance
    half = say_duration(3600 * span.p50_h)
    middle = f"plan for {half} of kept subs"
    if math.isinf(span.p90_h):
        return f"{middle} or more, and {chance}"
    around = say_range(span)
    return f"{middle}, {'the same' if around == half else around} in eight cases of ten"


def plan_for(best_h: float | None, span: Range) -> str:
    """Hours of kept subs at best, and those to plan for, without a capital and a full stop.

    Parameters
    ----------
    best_h : float or None
        Kept hours of the plan's answer; None where it is out of reach. [h]
    span : Range
        Of the same filter.

    Examples
    --------
    >>> plan_for(5.5, Range(p10_h=4.5, p50_h=10.0, p90_h=31.0, out_of_reach=0.0))
    '5.5 h at best; plan for 10 h of kept subs, 4.5 to 31 h in eight cases of ten'
    >>> plan_for(None, Range(p10_h=math.inf, p50_h=math.inf, p90_h=math.inf, out_of_reach=1.0))
    'out of reach at best, and in all cases of what is not exactly known'
    """
    if best_h is None:
        reached = 1 - span.out_of_reach
        if reached < 0.005:
            return "out of reach at best, and in all cases of what is not exactly known"
        return f"out of reach at best; with a chance of {say_share(reached)} enough hours reach it after all"
    return f"{say_duration(3600 * best_h)} at best; {to_plan(span)}"


def plan_for_each(spans: Mapping[str, Range | None]) -> str:
    """Hours of kept subs to plan for in several filters, by name; those that no hours reach are left out.

    Examples
    --------
    >>> span = Range(p10_h=4.5, p50_h=10.0, p90_h=31.0, out_of_reach=0.0)
    >>> plan_for_each({"red": span, "blue": Range(p10_h=2.0, p50_h=5.0, p90_h=math.inf, out_of_reach=0.2)})
    'plan for 10 h of kept subs in red, 4.5 to 31 h in eight cases of ten; 5 h or more in blue'
    """
    said: list[str] = []
    for name, span in spans.items():
        if span is None or math.isinf(span.p50_h):
            continue
        kept, cases = ("", "") if said else (" of kept subs", " in eight cases of ten")
        more, around = (" or more", "") if math.isinf(span.p90_h) else ("", f", {say_range(span)}{cases}")
        said.append(f"{say_duration(3600 * span.p50_h)}{kept}{more} in {name}{around}")
    return f"plan for {'; '.join(said)}" if said else ""


def planned_sentence(best_h: float | None, span: Range) -> str:
    """What stands behind a verdict, which says the hours at best: those to plan for.

    Examples
    --------
    >>> planned_sentence(5.5, Range(p10_h=4.5, p50_h=10.0, p90_h=31.0, out_of_reach=0.0))
    'Plan for 10 h of kept subs, 4.5 to 31 h in eight cases of ten.'
    """
    said = plan_for(best_h, span) if best_h is None else to_plan(span)
    return f"{said[0].upper()}{said[1:]}."


def below_best(best_h: float | None, span: Range) -> str:
    """Why the range begins below the hours at best, as a sentence; empty where it does not.

    Examples
    --------
    >>> below_best(5.5, Range(p10_h=4.5, p50_h=10.0, p90_h=31.0, out_of_reach=0.0))
    'The range begins below the hours at best: those take target, sky and gear as planned, which may be better.'
    >>> below_best(5.5, Range(p10_h=5.5, p50_h=10.0, p90_h=31.0, out_of_reach=0.0))
    ''
    """
    if best_h is None or say_duration(3600 * span.p10_h) == say_duration(3600 * best_h) or span.p10_h > best_h:
        return ""
    return "The range begins below the hours at best: those take target, sky and gear as planned, which may be better."
