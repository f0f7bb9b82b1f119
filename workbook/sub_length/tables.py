"""Tables behind the figures of the sub-length panel."""

from __future__ import annotations

import numpy as np

from expocalc.base.words import say_duration, say_share
from expocalc.budget.parts import MOST_SUBS
from expocalc.budget.whose import of_filter
from expocalc.plan import Plan
from workbook.parts.looks import QUANTITIES
from workbook.parts.table import Table
from workbook.sub_length.model import hours_over, noise_bar

__all__ = ["hours_table", "noise_table"]

_NEVER_H = MOST_SUBS
"""No plan has more subs than that, be each an hour long. [h]"""
_TABLE_S = (5.0, 10.0, 30.0, 60.0, 120.0, 180.0, 300.0, 600.0, 1200.0, 3600.0)


def hours_table(plan: Plan) -> Table:
    """Table behind the figure of hours: each filter at round sub lengths, with the price against its own sub."""
    case, found = plan.case, plan.solve()
    subs = [one.sub_s for one in found.filters]
    rows = sorted({*_TABLE_S, *subs})
    hours = hours_over(case, [one.rates for one in found.filters], rows)
    whole = [np.nan if one.clock_h is None else one.clock_h for one in found.filters]
    return Table(
        caption="Hours on the clock until the goal is reached, and how much more or less that is than with the plan's "
        "own sub; that one is counted in whole subs, as everywhere",
        head=("Sub", *(of_filter(one) for one in found.filters)),
        rows=tuple(
            (
                say_duration(sub_s),
                *(
                    _priced(row[at], row[rows.index(own)], needed if sub_s == own else None)
                    for row, own, needed in zip(hours, subs, whole, strict=True)
                ),
            )
            for at, sub_s in enumerate(rows)
        ),
    )


def _priced(hours: float, own: float, whole: float | None) -> str:
    """Hours in words, with their price over those of the plan's own sub; `whole` are its own in whole subs."""
    if not hours < _NEVER_H:
        return "never"
    if whole is not None:
        return f"{say_duration((whole if np.isfinite(whole) else hours) * 3600)} (the plan's)"
    if not np.isfinite(own):
        return say_duration(hours * 3600)
    more = hours / own - 1
    if abs(more) < 5e-5:
        return f"{say_duration(hours * 3600)} (the same)"
    return f"{say_duration(hours * 3600)} ({'+' if more >= 0 else '−'}{say_share(abs(more))})"


def noise_table(plan: Plan) -> Table:
    """Table behind the figure of noise: all shares, in the pixels that the filter's weakest light needs."""
    found = plan.solve()
    bars = [noise_bar(one.neediest) for one in found.filters]
    return Table(
        caption="Share of each cause in the noise of one pixel, squared",
        head=("Filter and sub", *QUANTITIES),
        rows=tuple((bar.words, *(say_share(part.share) for part in bar.parts)) for bar in bars),
    )
