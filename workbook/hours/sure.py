"""How sure the hours are: the range of the draws, whose doubt matters most, and the tables that say so."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Generator, Mapping
from dataclasses import dataclass
from typing import Any

import astropy.units as u
import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_number, say_share, say_span
from expocalc.budget.answer import answer_filter
from expocalc.budget.case import Case
from expocalc.budget.doubt import INPUTS
from expocalc.budget.planned import below_best
from expocalc.budget.spread import RowSpread, Spread, spread_steps
from expocalc.budget.stack import snr_ceiling
from expocalc.budget.worth_measuring import Measurement, worth_measuring
from workbook.hours.model import TABLE_H, Picture, Stack, say_hours
from workbook.hours.nights import nights_steps
from workbook.parts.reading import say_off
from workbook.parts.table import Table

__all__ = ["Band", "Sure", "measure_table", "say_measure", "snr_table", "sure_steps", "sure_table"]

_BAND_POINTS = 25
_BAND_STEP = 5
"""Points of a band in one step of the work: some ten milliseconds."""
_SPAN_GAP = 0.025
"""From one filter's range at the goal to the next, as a share of the figure's height."""


@dataclass(frozen=True, kw_only=True)
class Band:
    """SNR that one and nine draws in ten stay below, of filter `number`, and the hours of the goal. [h]"""

    number: int
    hours: Floats
    low: Floats
    high: Floats
    needed_low_h: float
    needed_high_h: float
    needed_snr: float
    """Height at which these hours are drawn: the goal, but for a little that keeps filters apart."""


@dataclass(frozen=True, kw_only=True)
class Sure:
    """How sure the hours are: what takes a moment to work out."""

    spread: Spread
    bands: tuple[Band, ...]
    change: str
    measure: tuple[Measurement, ...]
    """What to measure next for the light in view, the best for its minutes first."""
    nights: str

    def row(self, filter_name: str, light: str | None) -> RowSpread | None:
        """Draws of one light in one filter, None where the filter passes no light."""
        rows = self.spread.rows
        return next((row for row in rows if (row.filter_name, row.light) == (filter_name, light)), None)


def sure_steps(shown: Picture) -> Generator[float, None, Sure]:
    """How sure the hours of a picture are, in steps that can be left at any time.

    Yields
    ------
    float
        Share of the work that is done.
    """
    case = shown.plan.case
    steps = spread_steps(case, case.doubt, found=shown.found)
    while True:
        try:
            yield 0.3 * next(steps)
        except StopIteration as end:
            spreads: Spread = end.value
            break
    hours = np.geomspace(*shown.hours_reach, _BAND_POINTS)
    numbers = {f.name: number for number, f in enumerate(case.filters)}
    rows = [row for row in spreads.rows if row.light == shown.stacks[row.filter_name].row.light]
    bands = []
    for done, row in enumerate(rows):
        edges = []
        within = hours[hours * 3600 >= row.sub_s]
        for start in range(0, within.size, _BAND_STEP):
            edges.append(row.snr_at(within[start : start + _BAND_STEP])[[0, 2]])
            yield 0.3 + 0.5 * (done + start / within.size) / len(rows)
        low, high = np.concatenate(edges, axis=1) if edges else np.empty((2, 0))
        needed = row.range
        bands.append(
            Band(
                number=numbers[row.filter_name], hours=within, low=low, high=high, needed_low_h=needed.p10_h,
                needed_high_h=needed.p90_h, needed_snr=_beside_goal(shown, numbers[row.filter_name]),
            )
        )  # fmt: skip
    measure = _measure(shown, spreads)
    counting = nights_steps(case, shown.filter_name)
    while True:
        try:
            yield 0.8 + 0.2 * next(counting)
        except StopIteration as end:
            return Sure(spread=spreads, bands=tuple(bands), change=_change(shown), measure=measure, nights=end.value)


def _measure(shown: Picture, found: Spread) -> tuple[Measurement, ...]:
    light = shown.stacks[shown.filter_name].row.light
    row = next((one for one in found.rows if (one.filter_name, one.light) == (shown.filter_name, light)), None)
    return worth_measuring(shown.plan.case, row, found) if row else ()


def _beside_goal(shown: Picture, number: int) -> float:
    low, high = shown.snr_reach
    return shown.lines[number].goal * (high / low) ** (_SPAN_GAP * ((len(shown.lines) - 1) / 2 - number))


def _change(shown: Picture) -> str:
    """What a patch twice as wide and twice the SNR would do to the light in view."""
    plan, name = shown.plan, shown.filter_name
    row = shown.stacks[name].row
    if row.light is None or row.kept_h is None:
        return ""
    filter_ = next(f for f in plan.case.filters if f.name == name)
    said = []
    wide = 2 * plan.case.patch_of(row.light)
    changes = [(f"SNR {say_number(2 * shown.goal)}", {"snr": 2 * shown.goal})]
    if row.patch_arcsec is not None:
        changes.insert(0, (f"a patch {wide:g}″ wide", {"patch": u.Quantity(wide, "arcsec")}))
    for words, change in changes:
        try:
            _, rows = answer_filter(_with_light(plan.case, row.light, change), filter_)
        except ValueError:
            continue
        kept_h = next(other.kept_h for other in rows if other.light == row.light)
        said.append(f"{words}: {'never' if kept_h is None else f'{say_duration(kept_h * 3600)} at best'}")
    return f"With {' and with '.join(said)}." if said else ""


def _with_light(case: Case, name: str, change: Mapping[str, Any]) -> Case:
    """The case with some fields of one light changed."""
    lights = tuple(
        dataclasses.replace(light, **change) if own == name else light for own, light in case.target.named_lights
    )
    return dataclasses.replace(case, target=dataclasses.replace(case.target, light=lights))


def snr_table(shown: Picture, sure: Sure | None) -> Table:
    """Table behind the curves: SNR in the patch at round hours, with its range where that is known."""
    hours = np.array(TABLE_H)
    columns = []
    for name, stack in shown.stacks.items():
        row = sure and sure.row(name, stack.row.light)
        ranges = row.snr_at(hours) if row else None
        columns.append(
            [
                _say_snr_cell(float(snr), None if ranges is None else ranges[:, at])
                for at, snr in enumerate(stack.snr(hours))
            ]
        )
    ceiling = ("no end", *(_say_ceiling(stack) for stack in shown.stacks.values()))
    return Table(
        caption="SNR of the patch, and the range in which eight of ten draws lie",
        head=("Hours of good subs", *(stack.shown for stack in shown.stacks.values())),
        rows=(
            *((say_duration(h * 3600), *(column[at] for column in columns)) for at, h in enumerate(TABLE_H)),
            ceiling,
        ),
    )


def _say_snr_cell(snr: float, span: Floats | None) -> str:
    if np.isnan(snr):
        return "–"
    said = say_number(snr)
    return said if span is None else f"{said} ({say_span(say_number(float(span[0])), say_number(float(span[2])))})"


def _say_ceiling(stack: Stack) -> str:
    if stack.patch is None:
        return "–"
    ceiling = float(snr_ceiling(stack.patch, stack.habits))
    return f"ends at {say_number(ceiling)}" if math.isfinite(ceiling) else "no limit"


def _why_above(shown: Picture, sure: Sure) -> str:
    """Why the middle of the draws lies above the best guess, where it does."""
    for name, stack in shown.stacks.items():
        span, best = sure.spread.filters.get(name), stack.row.kept_h
        if span is not None and best and span.p50_h > 1.05 * best:
            return (
                f" Half of the draws need more than {say_hours(span.p50_h)} in {stack.shown}, the best "
                f"guess says {say_hours(best)}: to be off one way costs more hours than to be off the other way saves."
            )
    return ""


def _why_below(shown: Picture, sure: Sure) -> str:
    """Why a range begins below the hours at best, where one does."""
    for name, stack in shown.stacks.items():
        row = sure.row(name, stack.row.light)
        said = below_best(stack.row.kept_h, row.range) if row else ""
        if said:
            return f" {said}"
    return ""


def sure_table(shown: Picture, sure: Sure | None) -> Table:
    """Table of the range: hours of each filter, and whose doubt matters most."""
    if sure is None:
        return Table(caption="The range is not worked out yet.", head=("Input",), rows=())
    names = list(shown.stacks)
    found = [sure.row(name, stack.row.light) for name, stack in shown.stacks.items()]
    spans = [row and row.range for row in found]

    def hours(which: str) -> tuple[str, ...]:
        return tuple("no light" if span is None else say_hours(getattr(span, which)) for span in spans)

    doubt, shares_of = shown.plan.case.doubt.shown, {}
    for name in names:
        row = sure.row(name, shown.stacks[name].row.light)
        shares_of[name] = row.shares if row else {}
    inputs = [one for one in INPUTS if any(one in shares_of[name] for name in names)]
    inputs.sort(key=lambda one: -max(shares_of[name].get(one, 0.0) for name in names))
    reading = say_off(float(shown.plan.case.sky.brightness_error.value))
    return Table(
        caption=f"Hours of good subs in {sure.spread.draws} draws of everything that is not exactly known, and the "
        "share of each input in the doubt. What an input may be off by is assumed, unless the plan says it."
        f"{_why_above(shown, sure)}{_why_below(shown, sure)}",
        head=("", "may be off by", *(stack.shown for stack in shown.stacks.values())),
        rows=(
            ("at best", "", *(say_hours(s.row.kept_h or math.inf) for s in shown.stacks.values())),
            ("one in ten needs no more than", "", *hours("p10_h")),
            ("plan for; five in ten need no more than", "", *hours("p50_h")),
            ("nine in ten need no more than", "", *hours("p90_h")),
            *(
                (
                    INPUTS[one], reading if one == "sky_reading" else doubt.get(one, ""),
                    *(say_share(shares_of[name][one]) if one in shares_of[name] else "–" for name in names),
                )
                for one in inputs
            ),
        ),
    )  # fmt: skip


def say_measure(sure: Sure) -> str:
    """What to measure next, in a sentence; empty where nothing would narrow the range."""
    if not sure.measure:
        return ""
    one = sure.measure[0]
    return (
        f"Measure next: {one.label} ({say_duration(60 * one.minutes)}) would narrow the range to "
        f"{say_span(say_hours(one.low_h), say_hours(one.high_h))}, around the same middle."
    )


def measure_table(shown: Picture, sure: Sure | None) -> Table:
    """Table of what to measure next: how much narrower the range of hours gets, for the minutes that it takes."""
    if sure is None:
        return Table(caption="The range is not worked out yet.", head=("Measurement",), rows=())
    row = shown.stacks[shown.filter_name].row
    rows = tuple(
        (
            f"{one.label[0].upper()}{one.label[1:]}",
            say_duration(60 * one.minutes),
            say_share(one.narrows),
            say_span(say_hours(one.low_h), say_hours(one.high_h)),
        )
        for one in sure.measure
    )
    caption = (
        f"What to measure next for {row.light} in {row.filter_shown}, the most for its minutes first: by how much the "
        "range of hours gets narrower, and where eight chances in ten would then lie, around the same middle. Minutes "
        "are assumed."
        if rows
        else "Nothing that could be measured would narrow the range of hours."
    )
    return Table(caption=caption, head=("Measurement", "It takes", "Narrower by", "Eight in ten then"), rows=rows)
