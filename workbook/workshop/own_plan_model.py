"""One's own plan on one page: what the plan at hand says of one filter and one light. No widgets here."""

from __future__ import annotations

import math
from dataclasses import dataclass

from expocalc.base.words import say_duration, say_number
from expocalc.budget.planned import below_best, plan_for
from expocalc.budget.row import Answer, Row
from expocalc.light.reading import BORTLE
from expocalc.plan import Plan
from workbook.hours import lights as light_knobs
from workbook.parts.reading import as_user
from workbook.parts.table import Table

__all__ = ["Page", "page"]


@dataclass(frozen=True, kw_only=True)
class Page:
    """What stands on the page: one sentence, what to plan for, the rest to unfold, and a table to take along."""

    headline: str
    planned: str
    rest: tuple[str, ...]
    table: Table


def page(plan: Plan, filter_name: str, light_name: str, night_h: float) -> Page:
    """The page of a plan.

    Parameters
    ----------
    plan : Plan
    filter_name, light_name : str
        What is looked at.
    night_h : float
        Hours that a night has. [h]

    Raises
    ------
    ValueError
        If the filter passes none of that light, or the plan can't be solved.

    Examples
    --------
    >>> from workbook.workshop.experiments.rig import demo
    >>> page(demo(), "H-alpha 5 nm", "H-alpha", 4.0).headline
    'At best 72 subs of 5 min through H-alpha 5 nm: 6.2 h on the clock, that is 2 nights of 4 h.'
    """
    found = plan.solve()
    row = _row(found, filter_name, light_name)
    planned, below = _planned(plan, found, row)
    rest = (_why(found, row), below, _class(plan, filter_name, light_name), _basis(plan, filter_name))
    if row.clock_h is None or row.shot is None or row.kept_h is None:
        return Page(
            headline=f"{light_name} through {row.filter_shown} is out of reach.",
            planned=planned,
            rest=rest,
            table=_table(plan, row, None),
        )
    nights = math.ceil(row.clock_h / night_h)
    return Page(
        headline=(
            f"At best {row.shot:.0f} subs of {say_duration(row.sub_s)} through {row.filter_shown}: "
            f"{say_duration(3600 * row.clock_h)} on the clock, that is "
            f"{nights} night{'s' if nights > 1 else ''} of {night_h:g} h."
        ),
        planned=planned,
        rest=rest,
        table=_table(plan, row, nights),
    )


def _row(found: Answer, filter_name: str, light_name: str) -> Row:
    for row in found.rows:
        if (row.filter_name, row.light) == (filter_name, light_name):
            return row
    msg = f"{filter_name} lets none of the target's {light_name} through; choose another filter or another light"
    raise ValueError(msg)


def _why(found: Answer, row: Row) -> str:
    """The filter's own words, where they speak of this light; else what this light needs, and which needs more."""
    filter_ = found.of_filter(row.filter_name)
    if filter_.neediest.light == row.light:
        return as_user(filter_.verdict)
    other = filter_.neediest
    best = say_duration(3600 * (other.kept_h or 0.0))
    more = "is out of reach" if other.kept_h is None else f"takes {best} of kept subs at best"
    return f"{filter_.sentences[0]} This page speaks of {row.light}; {other.light} through the same filter {more}."


def _planned(plan: Plan, found: Answer, row: Row) -> tuple[str, str]:
    """Hours of kept subs, at best and to plan for, with why the range begins below; a range is said here alone."""
    spread = plan.spread(found)
    span = next(one.range for one in spread.rows if (one.filter_name, one.light) == (row.filter_name, row.light))
    planned = plan_for(row.kept_h, span)
    return f"{planned[0].upper()}{planned[1:]}.", below_best(row.kept_h, span)


def _class(plan: Plan, filter_name: str, light_name: str) -> str:
    """What a Bortle class leaves open; "" where the sky was read better than that."""
    number = plan.case.sky.bortle
    if number is None:
        return ""
    ends = BORTLE[number]
    hours = []
    for mag in reversed(ends):
        changes = {("sky", "zenith_brightness"): f"{mag} mag/arcsec2", ("sky", "bortle"): None}
        if "reading_band" in plan.values["sky"]:
            changes["sky", "reading_band"] = "bessell-V"
        row = _row(plan.with_values(changes).solve(), filter_name, light_name)
        hours.append("never" if row.kept_h is None else say_duration(3600 * row.kept_h))
    said = f"Bortle {number} is a range: {ends[0]:g} to {ends[1]:g} mag/arcsec²."
    if hours[0] == hours[1]:
        return f"{said} Here it leaves the hours as they are."
    return (
        f"{said} That alone takes the hours of kept subs from {hours[0]} under the darkest such sky to {hours[1]} "
        "under the brightest. A meter narrows it."
    )


def _basis(plan: Plan, filter_name: str) -> str:
    target = plan.case.target
    moon = "no Moon" if plan.case.moon is None else "the Moon of the plan"
    measured = filter_name in (plan.case.sky.measured or {})
    sky = " The sky is the one you measured through this filter; the box for it does not count." if measured else ""
    return (
        f"What has no box here is as in the plan: the target {target.altitude.value:g}° high, a patch of "
        f"{target.patch.value:g}″, {moon}, the chip's own electrons, pauses and lost subs. The other notebooks "
        f"have boxes for it. Measured numbers beat typical ones: put yours in.{sky}"
    )


def _table(plan: Plan, row: Row, nights: int | None) -> Table:
    rows = [
        ("Filter", row.filter_shown),
        (f"Glow of {row.light}", light_knobs.light_shown(plan, str(row.light)).text),
        ("SNR you want", say_number(plan.case.goal.snr)),
    ]
    if nights is not None:
        rows += [
            ("Length of a sub", say_duration(row.sub_s)),
            ("Subs to shoot", f"{row.shot:.0f}"),
            ("Subs kept", f"{row.kept:.0f}"),
            ("Kept subs, hours at best", say_duration(3600 * (row.kept_h or 0))),
            ("Hours on the clock", say_duration(3600 * (row.clock_h or 0))),
            ("Nights", str(nights)),
        ]
    rows += [
        ("Read noise adds 5 % to the noise in subs of", say_duration(row.sub_shortest_s)),
        ("Sky in one sub, electrons", say_number(row.sky_e_s * row.sub_s, 3)),
        ("Middle of a test sub, ADU", f"{row.median_adu:.0f}" if row.median_adu is not None else "needs a bias level"),
    ]
    return Table(caption=plan.case.title, head=("What", "How much"), rows=tuple(rows))
