"""Three exercises on the demo plan; the model works out their answers."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as w

from expocalc.base.words import say_duration, say_share
from expocalc.budget.row import Row
from expocalc.plan import Plan
from workbook.parts.exercise import Exercise, of_demo
from workbook.parts.reading import say_sky

__all__ = ["exercises", "show_exercise"]


def _first(plan: Plan) -> Row:
    return plan.solve().rows[0]


def exercises(plan: Plan) -> tuple[Exercise, ...]:
    """Exercises on a plan whose first filter passes light and whose camera has two gain settings, as the demo plan's.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of Exercise
    """
    camera, row = plan.case.camera, _first(plan)
    other = next(name for name in camera.gains if name != camera.gain)
    return (_of_gain(plan, row, other), _of_dark_sky(plan, row), _of_mount(plan, row))


def _of_gain(plan: Plan, row: Row, other: str) -> Exercise:
    camera = plan.case.camera
    before, after = (float(camera.gains[name].read_noise.value) for name in (camera.gain, other))
    answer = _first(plan.with_values({("camera", "gain"): other})).sub_shortest_s
    return Exercise(
        question=(
            f"Open “Camera” in the panel and set the gain to “{other}”. Read noise is then {after:g} electrons, not "
            f"{before:g}. From which sub length on does read noise add no more than 5 %, for {row.filter_shown}?"
        ),
        unit="s",
        answer=answer,
        example='"4 min"',
        hint="Look for the words “read noise adds 5 %” at the upright line, or in the verdict.",
        why=(
            f"It is {say_duration(answer)}, not {say_duration(row.sub_shortest_s)}. Read noise counts squared: "
            f"{after / before:.2g} times the read noise asks for {(after / before) ** 2:.2g} times the length."
        ),
    )


def _of_dark_sky(plan: Plan, row: Row) -> Exercise:
    dark_plan = plan.with_values({("sky", "zenith_brightness"): "21 mag/arcsec2"})
    dark = _first(dark_plan)
    return Exercise(
        question=(
            "Load the plan again. Then take the telescope to a dark place: open “Sky” and set the sky to "
            f"{say_sky(dark_plan.case.sky)}. From which sub length on does read noise add no more than 5 %, for "
            f"{row.filter_shown}?"
        ),
        unit="s",
        answer=dark.sub_shortest_s,
        example='"4 min"',
        hint="A darker sky sends less light into each sub. Read noise stays the same.",
        why=(
            f"It is {say_duration(dark.sub_shortest_s)}. Under a dark sky the subs should be longer, and yet you are "
            f"done sooner: {say_duration(dark.clock_h * 3600)} on the clock, not {say_duration(row.clock_h * 3600)}."
        ),
    )


def _of_mount(plan: Plan, row: Row) -> Exercise:
    short = _first(plan.with_values({("routine", "longest_sub"): "60 s"}))
    return Exercise(
        question=(
            "Load the plan again. Now your mount holds for one minute only: open “Mount and pauses” and type 60 s. "
            f"How many hours on the clock does {row.filter_shown} take?"
        ),
        unit="h",
        answer=short.clock_h,
        example='"4 h"',
        hint="The verdict says it, and so does the end of the curve.",
        why=(
            f"It is {say_duration(short.clock_h * 3600)}, {say_share(short.clock_h / row.clock_h - 1)} more than with "
            f"{say_duration(row.sub_s)} subs. Every sub brings its own read noise and a trace of the chip's pattern."
        ),
    )


def show_exercise(number: int, folder: str | Path = ".") -> w.Widget:
    """Exercise 1, 2 or 3 as the last line of a notebook's cell."""
    return of_demo(exercises, number, folder)
