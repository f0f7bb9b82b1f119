"""The verdict of the hours panel, in plain words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from expocalc.base.words import say_duration, say_number, say_share
from expocalc.budget.case import Case
from expocalc.budget.doubt import INPUTS
from expocalc.budget.estimator import estimator_warning, median_refusal
from expocalc.budget.noise import sub_variance_e2
from expocalc.budget.row import FilterAnswer, Row
from expocalc.budget.spread import Range
from expocalc.light.target import LineLight
from expocalc.plan import Plan
from workbook.hours import knobs
from workbook.hours.model import Picture, Stack
from workbook.hours.sure import Sure

__all__ = ["LOOKS", "Words", "say_snr", "words"]

LOOKS: Mapping[float, str] = MappingProxyType(
    {
        1: "suspected",
        2: "a hint, if you know where to look",
        5: "plain",
        10: "good to work with",
        20: "smooth",
        50: "clean, takes sharpening",
    }
)
"""What a patch of that SNR looks like: common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Words:
    """The verdict: its first sentence, the rest, what it rests on and what would change it."""

    headline: str
    rest: str
    basis: str
    change: str


def words(shown: Picture, sure: Sure | None, looks: Mapping[float, str] = LOOKS) -> Words:
    """Verdict on the filter in view.

    Parameters
    ----------
    shown : Picture
    sure : Sure or None
        None while the range is not known.
    looks : mapping of float to str, optional
        What a patch of an SNR looks like, in the user's words.
    """
    plan, name = shown.plan, shown.filter_name
    stack = shown.stacks[name]
    summary = next(one for one in shown.found.filters if one.filter_name == name)
    span = sure.spread.filters.get(name) if sure else None
    if stack.row.kept_h is None or summary.clock_h is None:
        headline, rest = f"{name}: {_hopeless(shown, stack)}", [_chance(span)]
    else:
        headline = _headline(shown, stack.row, span)
        rest = [
            f"On the clock that is {say_duration(summary.clock_h * 3600)}: {summary.shot} subs of "
            f"{say_duration(summary.sub_s)}, {_gigabytes(summary)}.",
            _others(shown, sure),
            f"SNR {say_number(shown.goal)} in a patch looks “{say_snr(shown.goal, looks)}”.",
            _doubts(sure, name, stack.row.light),
            estimator_warning(plan.case.routine.stacking, stack.row.kept or 0, plan.case.routine.clip) or "",
            _many_darks(plan.case, stack.row),
        ]
    return Words(
        headline=headline, rest=" ".join(filter(None, rest)), basis=_basis(plan, stack.row),
        change=sure.change if sure else "",
    )  # fmt: skip


def _headline(shown: Picture, row: Row, span: Range | None) -> str:
    assert row.kept_h is not None
    goal = f"{row.filter_name}: SNR {say_number(shown.goal)} takes"
    best = say_duration(row.kept_h * 3600)
    if span is None:
        return f"{goal} {best} of good subs at best guess; the range follows."
    if math.isinf(span.p90_h):
        return (
            f"{goal} {say_duration(span.p10_h * 3600)} of good subs or more, {best} at best guess; with a chance of "
            f"{say_share(span.out_of_reach)} no hours reach it."
        )
    return f"{goal} {say_span(span)} of good subs, {best} at best guess."


def say_span(span: Range) -> str:
    low, high = (say_duration(hours * 3600) if math.isfinite(hours) else "never" for hours in (span.p10_h, span.p90_h))
    if low.rsplit(" ", 1)[1:] == high.rsplit(" ", 1)[1:]:
        low = low.rsplit(" ", 1)[0]
    return f"{low} to {high}"


def _chance(span: Range | None) -> str:
    if span is None:
        return ""
    if span.out_of_reach > 0.995:
        return "Counting all that is unsure does not change that."
    chance = say_share(1 - span.out_of_reach)
    return f"Counting all that is unsure, there is a chance of {chance} that enough hours reach it."


def _gigabytes(summary: FilterAnswer) -> str:
    return f"{say_number(summary.storage_gb or 0.0)} GB"


def _others(shown: Picture, sure: Sure | None) -> str:
    """Hours of the other filters, and of all."""
    parts = []
    for one in shown.found.filters:
        if one.filter_name == shown.filter_name:
            continue
        span = sure.spread.filters.get(one.filter_name) if sure else None
        if one.kept_h is None:
            parts.append(f"{one.filter_name} never gets there")
        elif span is None or math.isinf(span.p90_h):
            parts.append(f"{one.filter_name} takes {say_duration(one.kept_h * 3600)}")
        else:
            parts.append(f"{one.filter_name} takes {say_span(span)}")
    clock = [one.clock_h for one in shown.found.filters]
    if len(clock) < 2:
        return ""
    total = sum(hours for hours in clock if hours is not None)
    if None not in clock:
        parts.append(f"all together {say_duration(total * 3600)} on the clock")
    joined = ", ".join(parts)
    return f"{joined[0].upper()}{joined[1:]}."


def _doubts(sure: Sure | None, filter_name: str, light: str | None) -> str:
    """What the range means, and whose doubt matters most."""
    row = sure and sure.row(filter_name, light)
    if not row or not row.shares:
        return ""
    first = list(row.shares.items())[:2]
    blame = " and ".join(f"{INPUTS[name]} ({say_share(share)})" for name, share in first)
    return f"With eight chances in ten it lies in that range. Most of the doubt is {blame}."


def _many_darks(case: Case, row: Row) -> str:
    """A word where the darks take longer than the subs that they serve."""
    darks = case.routine.darks
    if not darks or row.kept_h is None or row.shot is None or darks * row.sub_s < max(row.shot * row.sub_s, 36_000):
        return ""
    return (
        f"{darks} darks of {say_duration(row.sub_s)} take {say_duration(darks * row.sub_s)}, longer than the subs "
        "themselves; that many make hardly a difference."
    )


def _hopeless(shown: Picture, stack: Stack) -> str:
    """Why no number of hours reaches the goal."""
    row, case, goal = stack.row, shown.plan.case, say_number(shown.goal)
    if row.light is None:
        dark = [
            name
            for name, light in case.target.named_lights
            if isinstance(light, LineLight) and light.brightness.value == 0
        ]
        why = f" ({' and '.join(dark)} without brightness in this plan)" if dark else ""
        return f"it passes none of the target's light{why}, so no number of hours will show it."
    if case.routine.stacking == "median":
        setting = case.camera.setting
        at = stack.rate.colours.index(row.colour) if row.colour else 0
        variance = float(sub_variance_e2(stack.rate.background_e_s[at], row.sub_s, setting.read_variance_e2))
        refusal = median_refusal(variance, setting.read_variance_e2, setting.native_step_e)
        if refusal:
            return f"no hours are given, as {refusal}."
    if shown.goal >= row.snr_ceiling:
        return (
            f"SNR {goal} is out of reach; what all subs have in common ends it at SNR {say_number(row.snr_ceiling)}, "
            "whatever the hours."
        )
    return f"{row.light} is far too faint for SNR {goal} in any number of hours."


def _basis(plan: Plan, row: Row) -> str:
    case = plan.case
    values = knobs.shown(plan, row.filter_name)
    light = (
        f"{row.light} of {knobs.light_shown(plan, row.light).text}" if row.light in knobs.lights(plan) else "no light"
    )
    moon = ", and no moon" if case.moon is None else ", with the Moon of the plan"
    zenith = ""
    if case.sky.gradient is None and float(case.target.altitude.value) < 75:
        zenith = " The zenith's sky was used; lower down it is brighter."
    return (
        f"It rests on {light} in a patch of {say_number(float(case.target.patch.value))}″, a sky of "
        f"{values['sky'].text} ({values['sky'].origin}), {float(case.telescope.aperture.value):.4g} mm at "
        f"f/{case.telescope.focal_ratio:.3g}{moon}.{zenith}"
    )


def say_snr(snr: float, looks: Mapping[float, str] = LOOKS) -> str:
    """What a patch of that SNR looks like.

    Examples
    --------
    >>> say_snr(12), say_snr(0.4)
    ('good to work with', 'lost in the noise')
    """
    below = [level for level in looks if level <= snr * (1 + 1e-9)]
    return looks[max(below)] if below else "lost in the noise"
