"""Three exercises on the demo plan; the model works out their answers."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as w

from expocalc.base.words import say_duration, say_number
from expocalc.budget.rates import rates
from expocalc.budget.reach import signal_for_snr
from expocalc.budget.row import Row
from expocalc.budget.split import split
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.plan import Plan
from workbook.hours.lights import light_shown
from workbook.parts.exercise import Exercise, of_demo

__all__ = ["exercises", "show_exercise"]

_DEPTH_H, _AT_HAND_H = 20.0, 20.0


def exercises(plan: Plan) -> tuple[Exercise, ...]:
    """Exercises on a plan whose last filter shows one line, as the demo plan's does.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of Exercise
    """
    return _of_goal(plan), _of_depth(plan), _of_split(plan)


def _kept_h(row: Row) -> float:
    assert row.kept_h is not None  # the demo's goals are within reach
    return row.kept_h


def _of_goal(plan: Plan) -> Exercise:
    goal = plan.case.goal.snr
    before = plan.solve().rows[-1]
    after = plan.with_values({("goal", "snr"): 2 * goal}).solve().rows[-1]
    times = _kept_h(after) / _kept_h(before)
    return Exercise(
        question=(
            f"You want {before.filter_shown} twice as clear: SNR {2 * goal:g}, not {goal:g}. How many hours of good "
            "subs does that take? Guess first. Then open “Goal” in the panel and look."
        ),
        unit="h",
        answer=_kept_h(after),
        example='"12 h"',
        hint=f"Choose {before.filter_shown} as the filter in view, and read the hours at best.",
        why=(
            f"It is {say_duration(_kept_h(after) * 3600)}, not {say_duration(_kept_h(before) * 3600)}: {times:.2g} "
            "times as many. Grain falls with the square root of the hours, so twice the SNR asks for four times the "
            "hours. The rest is what all subs have in common, which more hours don't take away."
        ),
    )


def _of_depth(plan: Plan) -> Exercise:
    case, row = plan.case, plan.solve().rows[-1]
    assert row.light is not None  # the demo's light passes its filter
    rate = rates(case, case.filters[-1])
    patch = patch_of(case, rate, row.light, row.sub_s)
    times = signal_for_snr(patch, habits_of(case, rate.scale_arcsec), _DEPTH_H * 3600 / row.sub_s, case.goal.snr)
    own = light_shown(plan, row.light).value
    assert own is not None  # a light has a brightness
    return Exercise(
        question=(
            f"Load the plan again. How faint may {row.light} be to reach SNR {case.goal.snr:g} in {_DEPTH_H:g} hours "
            "of good subs? Look at the picture “How faint”. The answer is in rayleigh, R."
        ),
        unit="R",
        answer=own * float(times),
        example='"5 R"',
        hint="Let the pointer rest on the curve at 20 hours, or open the numbers behind the picture.",
        why=(
            f"It is {say_number(own * float(times))} R. With {say_duration(_kept_h(row) * 3600)} you reach {own:g} R. "
            "Half the brightness costs four times the hours: faint things are dear."
        ),
    )


def _of_split(plan: Plan) -> Exercise:
    row = plan.solve().rows[-1]
    found = split(plan.case, _AT_HAND_H)
    hours = found.hours[row.filter_name]
    return Exercise(
        question=(
            f"You have {_AT_HAND_H:g} hours on the clock for all filters. How many of them should {row.filter_shown} "
            "get, so that the weakest light comes out as strong as can be? Set the hours under “Goal”, then look at "
            "“Share out”."
        ),
        unit="h",
        answer=hours,
        example='"10 h"',
        hint="The fainter filter needs more than half.",
        why=(
            f"It is {say_duration(hours * 3600)}. Both lights then reach SNR "
            f"{say_number(found.level * plan.case.goal.snr)}; with equal shares the weaker one would stop at "
            f"{say_number(min(found.equal_snr.values()))}."
        ),
    )


def show_exercise(number: int, folder: str | Path = ".") -> w.Widget:
    """Exercise 1, 2 or 3 as the last line of a notebook's cell."""
    return of_demo(exercises, number, folder)
