"""Tables behind the figures of the sub-length panel."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_share
from expocalc.budget.row import Answer, FilterAnswer
from expocalc.budget.whose import of_filter, whose_hours
from expocalc.plan import Plan
from workbook.parts.looks import QUANTITIES
from workbook.parts.table import Table
from workbook.sub_length.curves import NEVER_H, hours_by_light, most_hours
from workbook.sub_length.model import noise_bar, whose_at

__all__ = ["hours_table", "noise_table"]

_TABLE_S = (5.0, 10.0, 30.0, 60.0, 120.0, 180.0, 300.0, 600.0, 1200.0, 3600.0)


def hours_table(plan: Plan) -> Table:
    """Table behind the figure of hours: each filter at round sub lengths, with the price against its own sub."""
    case, found = plan.case, plan.solve()
    rows = sorted({*_TABLE_S, *(one.sub_s for one in found.filters)})
    by_light = hours_by_light(case, [one.rates for one in found.filters], rows)
    columns = [_column(found, one, lights, rows) for one, lights in zip(found.filters, by_light, strict=True)]
    return Table(
        caption="Hours on the clock until the goal is reached, at best, and how much more or less that is than with "
        "the plan's own sub; that one is counted in whole subs, as everywhere. Where a light sets them that does not "
        "with that sub, it stands there",
        head=("Sub", *(of_filter(one) for one in found.filters)),
        rows=tuple(zip(map(say_duration, rows), *columns, strict=True)),
    )


def _column(found: Answer, one: FilterAnswer, by_light: Mapping[str, Floats], rows: Sequence[float]) -> list[str]:
    """Cells of one filter."""
    hours = most_hours(by_light, len(rows))
    own_h, mine = hours[rows.index(one.sub_s)], whose_hours(one)
    cells = []
    for sub_s, each_h, whose in zip(rows, hours, whose_at(found, one, by_light, len(rows)), strict=True):
        if not each_h < NEVER_H:
            cells.append("never")
        elif sub_s == one.sub_s:
            cells.append(f"{say_duration((each_h if one.clock_h is None else one.clock_h) * 3600)} (the plan's)")
        else:
            light = f" {whose}" if whose != mine else ""
            cells.append(f"{say_duration(each_h * 3600)}{light}{_price(each_h, own_h)}")
    return cells


def _price(hours: float, own_h: float) -> str:
    """What hours cost over those of the plan's own sub, in brackets."""
    if not np.isfinite(own_h):
        return ""
    more = hours / own_h - 1
    return " (the same)" if abs(more) < 5e-5 else f" ({'+' if more >= 0 else '−'}{say_share(abs(more))})"


def noise_table(plan: Plan) -> Table:
    """Table behind the figure of noise: all shares, in the pixels that the filter's weakest light needs."""
    found = plan.solve()
    bars = [noise_bar(one) for one in found.filters]
    return Table(
        caption="Share of each cause in the noise of one pixel, squared",
        head=("Filter and sub", *QUANTITIES),
        rows=tuple((bar.words, *(say_share(part.share) for part in bar.parts)) for bar in bars),
    )
