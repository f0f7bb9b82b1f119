"""The hours at best, and the hours to plan for with their range: one wording for every screen, sheet and command."""

from __future__ import annotations

import math

from expocalc.base.words import say_duration, say_share
from expocalc.budget.spread import Range

__all__ = ["plan_for", "say_range"]


def say_range(span: Range) -> str:
    """Hours from a tenth to nine tenths of the cases, the unit once where it is the same.

    Examples
    --------
    >>> say_range(Range(p10_h=4.5, p50_h=10.0, p90_h=31.0, out_of_reach=0.0))
    '4.5 to 31 h'
    """
    low, high = (say_duration(hours * 3600) if math.isfinite(hours) else "never" for hours in (span.p10_h, span.p90_h))
    if low.rsplit(" ", 1)[1:] == high.rsplit(" ", 1)[1:]:
        low = low.rsplit(" ", 1)[0]
    return f"{low} to {high}"


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
    '5.5 h of kept subs at best; plan for 10 h, 4.5 to 31 h in eight cases of ten'
    >>> plan_for(5.5, Range(p10_h=4.5, p50_h=10.0, p90_h=math.inf, out_of_reach=0.2))
    '5.5 h of kept subs at best; plan for 10 h or more, and with a chance of 20 % no hours reach it'
    >>> plan_for(None, Range(p10_h=math.inf, p50_h=math.inf, p90_h=math.inf, out_of_reach=1.0))
    'out of reach at best, and in all cases of what is not exactly known'
    """
    if best_h is None:
        reached = 1 - span.out_of_reach
        if reached < 0.005:
            return "out of reach at best, and in all cases of what is not exactly known"
        return (
            f"out of reach at best; with a chance of {say_share(reached)} enough hours reach it after all"
        )
    best = f"{say_duration(3600 * best_h)} of kept subs at best"
    if math.isinf(span.p50_h):
        return f"{best}; with a chance of {say_share(span.out_of_reach)} no hours reach it"
    middle = say_duration(3600 * span.p50_h)
    if math.isinf(span.p90_h):
        chance = say_share(span.out_of_reach)
        return f"{best}; plan for {middle} or more, and with a chance of {chance} no hours reach it"
    return f"{best}; plan for {middle}, {say_range(span)} in eight cases of ten"
