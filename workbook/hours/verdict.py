"""The verdict of the hours panel, in plain words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from expocalc.base.words import say_count, say_duration, say_given, say_number, say_share
from expocalc.budget.assumed import assumed_sentence
from expocalc.budget.because import ceiling_sentence, hours_sentence, length_sentence, stars_sentence
from expocalc.budget.blame import Effort
from expocalc.budget.case import Case
from expocalc.budget.doubt import INPUTS
from expocalc.budget.edges import edges
from expocalc.budget.estimator import estimator_warning, median_refusal
from expocalc.budget.noise import sub_variance_e2
from expocalc.budget.planned import plan_for
from expocalc.budget.ranges import Range
from expocalc.budget.routine import LONGEST_SUB_S
from expocalc.budget.row import Row
from expocalc.budget.whose import of_filter
from expocalc.light.lights import LineLight
from expocalc.plan import Plan
from workbook.hours import knobs
from workbook.hours.lights import light_shown, lights
from workbook.hours.model import Picture, Stack
from workbook.hours.sure import Sure, say_measure
from workbook.parts.reading import as_user, say_sky, sky_words
from workbook.parts.units import units_now
from workbook.parts.verdict import Words

__all__ = ["LOOKS", "say_snr", "words"]

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


def words(shown: Picture, sure: Sure | None, looks: Mapping[float, str] = LOOKS) -> Words:
    """Verdict on the filter and the light in view.

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
    row, case = stack.row, plan.case
    draws = sure.row(name, row.light) if sure else None
    span = draws.range if draws else None
    if row.kept_h is None or row.clock_h is None:
        headline = f"{row.filter_shown}: {_hopeless(shown, stack)}"
        topics = [[_setter(shown, stack), _chance(span)]]
    else:
        headline = _headline(shown, row, span)
        at_best = (
            f"At best that is {say_duration(row.clock_h * 3600)} on the clock: {say_count(row.shot or 0, 'sub')} of "
            f"{say_duration(row.sub_s)}, {say_number(row.storage_gb or 0.0)} GB."
        )
        looks_like = f"SNR {say_given(shown.goal)} in a patch looks “{say_snr(shown.goal, looks)}”."
        warning = estimator_warning(plan.case.routine.stacking, stack.row.kept or 0, plan.case.routine.clip) or ""
        topics = [
            [at_best, *_reasons(case, stack), _setter(shown, stack), looks_like],
            [_others(shown, sure), sure.nights if sure else ""],
            [_doubts(sure, name, stack.row.light), say_measure(sure) if sure else ""],
            [warning, _many_darks(plan.case, stack.row)],
        ]
    rest = "\n".join(filter(None, (" ".join(filter(None, topic)) for topic in topics)))
    return Words(
        headline=as_user(headline),
        rest=as_user(rest),
        basis=_basis(plan, stack.row),
        change=sure.change if sure else "",
    )


def _headline(shown: Picture, row: Row, span: Range | None) -> str:
    assert row.kept_h is not None
    light = f" for {row.light}" if len(shown.stacks[row.filter_name].rate.lights) > 1 else ""
    goal = f"{row.filter_shown}: SNR {say_given(shown.goal)}{light} takes"
    if span is None:
        return f"{goal} {say_duration(row.kept_h * 3600)} at best; what to plan for follows."
    return f"{goal} {plan_for(row.kept_h, span)}."


def _effort(case: Case, stack: Stack) -> tuple[Effort, float]:
    """What the light in view takes, and the longest sub that is allowed. [s]"""
    assert stack.row.light is not None
    longest_s = min(stack.row.sub_longest_s, LONGEST_SUB_S)
    return Effort(case, stack.rate, stack.row.light, stack.row.sub_s), longest_s


def _reasons(case: Case, stack: Stack) -> list[str]:
    """What the hours on the clock are spent on."""
    effort, longest_s = _effort(case, stack)
    set_by_hand = case.routine.sub_length is not None and stack.row.sub_s <= longest_s
    price = length_sentence(effort, min(stack.row.sub_best_s, longest_s)) if set_by_hand else ""
    return [price, hours_sentence(effort, longest_s)]


def _setter(shown: Picture, stack: Stack) -> str:
    """Which light sets the filter's hours, where there are several; and why the light in view is not shown."""
    row, rate, name = stack.row, stack.rate, shown.light_name
    said = ""
    if name is not None and row.light != name:
        passes = name in rate.extended or name in rate.stars
        said = f"{row.filter_shown} {'is not wanted for' if passes else 'does not pass'} {name}. "
    if len(rate.lights) < 2:
        return said.strip()
    most = shown.found.of_filter(row.filter_name).neediest
    if most.light == row.light:
        return f"{said}Of its lights {row.light} sets the filter's hours."
    hours = "which never reaches its goal" if most.clock_h is None else f"at best {say_duration(3600 * most.clock_h)}"
    return (
        f"{said}The filter's hours are set by {most.light}, {hours}{'' if most.clock_h is None else ' on the clock'}."
    )


def _chance(span: Range | None) -> str:
    if span is None:
        return ""
    if span.out_of_reach > 0.995:
        return "Counting all that is unsure does not change that."
    chance = say_share(1 - span.out_of_reach)
    return f"Counting all that is unsure, there is a chance of {chance} that enough hours reach it."


def _others(shown: Picture, sure: Sure | None) -> str:
    """Hours of the other filters, and of all."""
    parts = []
    for one in shown.found.filters:
        if one.filter_name == shown.filter_name:
            continue
        name, span = of_filter(one), sure.spread.filters.get(one.filter_name) if sure else None
        if one.kept_h is None:
            parts.append(f"{name} never gets there")
        elif span is None or math.isinf(span.p90_h):
            parts.append(f"{name} takes {say_duration(one.kept_h * 3600)} at best")
        else:
            planned = say_duration(span.p50_h * 3600)
            parts.append(f"{name} takes {say_duration(one.kept_h * 3600)} at best, plan for {planned}")
    clock = [one.clock_h for one in shown.found.filters]
    if len(clock) < 2:
        return ""
    total = sum(hours for hours in clock if hours is not None)
    if None not in clock:
        parts.append(f"all together {say_duration(total * 3600)} on the clock")
    joined = ", ".join(parts)
    return f"{joined[0].upper()}{joined[1:]}."


def _doubts(sure: Sure | None, filter_name: str, light: str | None) -> str:
    """Whose doubt matters most."""
    row = sure and sure.row(filter_name, light)
    if not row or not row.shares:
        return ""
    first = list(row.shares.items())[:2]
    much = "Most" if sum(share for _, share in first) > 0.5 else "The largest part"
    blame = " and ".join(f"{INPUTS[name]} ({say_share(share)})" for name, share in first)
    return f"{much} of the doubt is {blame}."


def _many_darks(case: Case, row: Row) -> str:
    """A word where the darks take longer than the subs that they serve."""
    darks = case.routine.darks
    if (
        not isinstance(darks, int)
        or row.kept_h is None
        or row.shot is None
        or darks * row.sub_s < max(row.shot * row.sub_s, 36_000)
    ):
        return ""
    return (
        f"{say_count(darks, 'dark')} of {say_duration(row.sub_s)} take {say_duration(darks * row.sub_s)}, longer than "
        "the subs themselves; that many make hardly a difference."
    )


def _hopeless(shown: Picture, stack: Stack) -> str:
    """Why no number of hours reaches the goal."""
    row, case, goal = stack.row, shown.plan.case, say_given(shown.goal)
    if row.light is None:
        dark = [
            name
            for name, light in case.target.named_lights
            if isinstance(light, LineLight) and light.brightness.value == 0
        ]
        why = f" ({' and '.join(dark)} without brightness in this plan)" if dark else ""
        if stack.rate.extended or stack.rate.stars:
            return f"it passes none of the light that it is wanted for ({', '.join(stack.rate.wanted or ())})."
        return f"it passes none of the target's light{why}, so no number of hours will show it."
    if case.routine.stacking == "median":
        setting = case.camera.setting
        at = stack.rate.colours.index(row.colour) if row.colour else 0
        variance = float(sub_variance_e2(stack.rate.background_e_s[at], row.sub_s, setting.read_variance_e2))
        refusal = median_refusal(variance, setting.read_variance_e2, setting.native_step_e)
        if refusal:
            return f"no hours are given, as {refusal}."
    if shown.goal >= row.snr_ceiling:
        return ceiling_sentence(*_effort(case, stack))
    return f"{row.light} is far too faint for SNR {goal} in any number of hours."


def _basis(plan: Plan, row: Row) -> str:
    case = plan.case
    values = knobs.shown(plan, row.filter_name)
    light = f"{row.light} of {light_shown(plan, row.light).text}" if row.light in lights(plan) else "no light"
    moon = ", and no moon" if case.moon is None else ", with the Moon of the plan"
    zenith, found = "", edges(case, next(one for one in case.filters if one.name == row.filter_name))
    if case.sky.gradient is None and case.sky.mix.town and float(case.target.altitude.value) < 75:
        zenith = " The town's light was taken as at the zenith; lower down it is brighter."
    side = case.patch_of(row.light) if row.patch_arcsec is None else row.patch_arcsec
    where = "" if row.light is not None and row.patch_arcsec is None else f" in a patch of {say_number(side)}″"
    told = case.sky.zenith_brightness is None or values["sky"].origin == case.sky.reading_band
    sky = say_sky(case.sky) if told else sky_words(case.sky)
    assumed = "" if row.light is None else f" {assumed_sentence(case.routine)} {stars_sentence(case.target)}".rstrip()
    return (
        f"It rests on {light}{where}, a sky of "
        f"{sky} ({values['sky'].origin}), {units_now().say_mm(float(case.telescope.aperture.value))} at "
        f"f/{case.telescope.focal_ratio:.3g}{moon}.{zenith}{assumed}"
        f"{''.join(f' {one.sentence}' for one in found)}"
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
