"""What the hours panel shows of a plan at once: curves, ceilings and the words at them; no widgets."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_given, say_number
from expocalc.budget.case import Case
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.rates import Rates
from expocalc.budget.row import Answer, FilterAnswer, Row
from expocalc.budget.stack import snr_per_patch
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.budget.whose import filter_for
from expocalc.plan import Plan, PlanError
from workbook.hours import knobs
from workbook.parts.places import nice_above, nice_below, spread

__all__ = ["TABLE_H", "Ceiling", "Line", "Picture", "Stack", "apart", "picture", "say_hours"]

_POINTS = 73
TABLE_H = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""Hours of good subs in the tables. [h]"""
_LABEL_GAP = 0.075
"""Room of a label, as a share of the figure's height."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """SNR of one light of one filter against kept hours; `snr` belongs to the picture's `hours`."""

    name: str
    shown: str
    light: str | None
    snr: Floats
    needed_h: float | None
    label: str
    label_snr: float
    goal: float
    goal_words: str
    goal_words_snr: float


@dataclass(frozen=True, kw_only=True)
class Ceiling:
    """SNR that a filter can't pass, inside the picture's reach, with its words and their place."""

    number: int
    snr: float
    words: str
    words_snr: float


@dataclass(frozen=True)
class Stack:
    """The light in view of a filter, or its neediest, as the model of the stack takes it."""

    row: Row
    rate: Rates
    patch: Patch | None
    habits: Habits

    @property
    def shown(self) -> str:
        """The filter's name, with the light where it is for several."""
        return filter_for(self.row.filter_shown, self.row.light, self.rate.lights, self.row.colour)

    def subs(self, hours: Floats) -> Floats:
        """Kept subs in some kept hours; NaN below one."""
        subs = np.asarray(hours) * 3600 / self.row.sub_s
        return np.where(subs >= 1, subs, np.nan)

    def snr(self, hours: Floats) -> Floats:
        """SNR of the patch after some kept hours."""
        if self.patch is None:
            return np.full(np.shape(hours), np.nan)
        subs = self.subs(hours)
        safe = np.where(np.isnan(subs), 1.0, subs)
        return np.where(np.isnan(subs), np.nan, snr_per_patch(self.patch, self.habits, safe))


@dataclass(frozen=True, kw_only=True)
class Picture:
    """What can be drawn and said at once.

    Attributes
    ----------
    plan : Plan
    found : Answer
        The plan's answer.
    filter_name : str
        The filter in view.
    light_name : str or None
        The light in view; None where it is each filter's neediest.
    hours : ndarray
        Kept hours of the curves. [h]
    lines : tuple of Line
        One for each filter.
    ceilings : tuple of Ceiling
    hours_reach, snr_reach : tuple of float
        Ends of the axes.
    """

    plan: Plan
    found: Answer
    filter_name: str
    light_name: str | None
    hours: Floats
    lines: tuple[Line, ...]
    ceilings: tuple[Ceiling, ...]
    hours_reach: tuple[float, float]
    snr_reach: tuple[float, float]
    stacks: Mapping[str, Stack] = field(repr=False)

    @property
    def goal(self) -> float:
        """SNR to be reached by the light in view."""
        return self.stacks[self.filter_name].row.goal_snr


def _stack(case: Case, found: Answer, one: FilterAnswer, light: str | None) -> Stack:
    own = (row for row in found.rows if (row.filter_name, row.light) == (one.filter_name, light))
    row, rate = next(own, one.neediest), one.rates
    patch = None if row.light is None else patch_of(case, rate, row.light, row.sub_s)
    return Stack(row, rate, patch, habits_of(case, rate.scale_arcsec))


def picture(plan: Plan, filter_name: str, light_name: str | None = None) -> Picture:
    """Picture of a plan with one of its filters in view.

    Parameters
    ----------
    plan : Plan
    filter_name : str
    light_name : str, optional
        The light in view, of every filter that is wanted for it; of the others, and without it, the one that sets a
        filter's hours.

    Raises
    ------
    PlanError
        If parts of the plan do not fit together, or no picture can show the patch.
    """
    try:
        knobs.check_patch(plan)
    except ValueError as error:
        raise PlanError(str(error)) from None
    case, found = plan.case, plan.solve()
    stacks = {one.filter_name: _stack(case, found, one, light_name) for one in found.filters}
    needed = [stack.row.kept_h for stack in stacks.values() if stack.row.kept_h]
    hours_reach = (nice_below(min(needed) / 20), nice_above(max(needed) * 5)) if needed else (0.1, 1000.0)
    hours = np.geomspace(*hours_reach, _POINTS)
    curves = {name: stack.snr(hours) for name, stack in stacks.items()}
    snr_reach = _snr_reach(list(curves.values()), stacks)
    levels = _levels(stacks, snr_reach)
    return Picture(
        plan=plan, found=found, filter_name=filter_name, light_name=light_name, hours=hours,
        lines=_lines(stacks, curves, snr_reach, levels), ceilings=_ceilings(stacks, snr_reach, levels),
        hours_reach=hours_reach, snr_reach=snr_reach, stacks=stacks,
    )  # fmt: skip


def _snr_reach(curves: list[Floats], stacks: Mapping[str, Stack]) -> tuple[float, float]:
    ends = [float(curve[-1]) for curve in curves if np.isfinite(curve[-1]) and curve[-1] > 0]
    goals = [stack.row.goal_snr for stack in stacks.values()]
    goal = max(goals)
    near = [stack.row.snr_ceiling for stack in stacks.values() if goal / 10 < stack.row.snr_ceiling < 15 * goal]
    top = max([1.5 * goal, *ends, *near])
    low = min([min(goals) / 15, *(end / 5 for end in ends)])  # a curve that ends below that is to be seen too
    return nice_below(max(low, min(goals) / 1e4)), nice_above(1.15 * min(top, 30 * goal))


def _levels(stacks: Mapping[str, Stack], reach: tuple[float, float]) -> dict[float, float]:
    """Where the words of goals and ceilings stand, a little above their lines and apart from each other."""
    goals = {stack.row.goal_snr for stack in stacks.values()}
    ceilings = [stack.row.snr_ceiling for stack in stacks.values()]
    levels = sorted(goals | {snr for snr in ceilings if reach[0] < snr < reach[1]})
    return dict(zip(levels, apart([snr * 1.13 for snr in levels], reach), strict=True))


def apart(places: list[float], reach: tuple[float, float]) -> list[float]:
    """Places on the axis of SNR that leave room for a line of words each."""
    low, high = np.log(reach)
    room = float(high - low)
    moved = spread(
        [float(np.clip(np.log(place), low, high)) for place in places], _LABEL_GAP * room, float(low) + 0.03 * room,
        float(high) - 0.03 * room,
    )  # fmt: skip
    return [math.exp(place) for place in moved]


def _lines(
    stacks: Mapping[str, Stack],
    curves: Mapping[str, Floats],
    reach: tuple[float, float],
    levels: Mapping[float, float],
) -> tuple[Line, ...]:
    ends = [float(curve[-1]) if curve[-1] > 0 else reach[0] for curve in curves.values()]
    goals = _goal_words([stack.row for stack in stacks.values()])
    all_one = len(stacks) > 1 and len({stack.row.light for stack in stacks.values()}) == 1
    return tuple(
        Line(
            name=name, shown=stack.row.filter_shown, light=stack.row.light, snr=curves[name], needed_h=stack.row.kept_h,
            label=_end_label(stack, all_one), label_snr=place, goal=stack.row.goal_snr, goal_words=goals[name],
            goal_words_snr=levels[stack.row.goal_snr],
        )
        for (name, stack), place in zip(stacks.items(), apart(ends, reach), strict=True)
    )  # fmt: skip


def _goal_words(rows: list[Row]) -> dict[str, str]:
    """Words at the line of each goal, at the first filter that has it; of several goals, whose it is."""
    goals: dict[float, Row] = {}
    for row in rows:
        goals.setdefault(row.goal_snr, row)
    words = {
        row.filter_name: f"goal: SNR {say_given(goal)}{f' for {row.light}' if len(goals) > 1 else ''}"
        for goal, row in goals.items()
    }
    return {row.filter_name: words.get(row.filter_name, "") for row in rows}


def _end_label(stack: Stack, all_one: bool) -> str:
    row = stack.row
    name = row.filter_shown
    if len(stack.rate.lights) > 1 and not all_one:
        name += f" ({row.light})"
    if row.light is None or not row.target_e_s:
        return f"{name}: no light"
    return f"{name}: {'never' if row.kept_h is None else say_duration(row.kept_h * 3600)}"


def _ceilings(
    stacks: Mapping[str, Stack], reach: tuple[float, float], levels: Mapping[float, float]
) -> tuple[Ceiling, ...]:
    found = [
        (number, stack.row.snr_ceiling)
        for number, stack in enumerate(stacks.values())
        if reach[0] < stack.row.snr_ceiling < reach[1]
    ]
    names = [stack.row.filter_shown for stack in stacks.values()]
    return tuple(
        Ceiling(
            number=number, snr=snr, words=f"{names[number]} never passes SNR {say_number(snr)}", words_snr=levels[snr]
        )
        for number, snr in found
    )


def say_hours(hours: float) -> str:
    """Hours as a person says them; "never" where they are infinite."""
    return say_duration(hours * 3600) if math.isfinite(hours) else "never"
