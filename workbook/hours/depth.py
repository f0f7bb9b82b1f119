"""How faint a light reaches the goal in some hours."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_number
from expocalc.budget.reach import signal_for_snr
from expocalc.light.lights import ContinuumLight, LineLight
from expocalc.plan import Plan
from workbook.hours.lights import light_named, light_shown
from workbook.hours.model import TABLE_H, Picture, Stack, apart
from workbook.parts.places import nice_above, nice_below
from workbook.parts.table import Table

__all__ = ["Depth", "depth", "depth_table"]

_DEPTH_POINTS = 25


@dataclass(frozen=True, kw_only=True)
class Depth:
    """Brightness that reaches the goal, against kept hours.

    Attributes
    ----------
    hours : ndarray
        [h]
    unit : str
        Of the labels: "R", "mag/arcsec2" or "mag".
    numbers : tuple of int
        Filters that have a curve: those whose light has that unit.
    flux : tuple of ndarray
        Of each: brightness, or for magnitudes the flux over that of magnitude 0.
    words : tuple of tuple of str
        Of each: its brightness in plain words.
    points : tuple of (float, float)
        Of each: the plan's hours (NaN where there are none) and the plan's brightness, as flux.
    labels : tuple of str
    labels_flux : tuple of float
    flux_reach : tuple of float
    ticks : mapping of float to str
    """

    hours: Floats
    unit: str
    numbers: tuple[int, ...]
    flux: tuple[Floats, ...]
    words: tuple[tuple[str, ...], ...]
    points: tuple[tuple[float, float], ...]
    labels: tuple[str, ...]
    labels_flux: tuple[float, ...]
    flux_reach: tuple[float, float]
    ticks: Mapping[float, str]


def depth(shown: Picture) -> Depth:
    """Brightness that reaches the goal, of lights that are counted in the same unit as that of the filter in view."""
    plan = shown.plan
    unit = _unit(plan, shown.stacks[shown.filter_name].row.light) or next(
        (_unit(plan, stack.row.light) for stack in shown.stacks.values() if stack.row.light), "R"
    )
    hours = np.geomspace(*shown.hours_reach, _DEPTH_POINTS)
    numbers, curves, points, labels = [], [], [], []
    for number, stack in enumerate(shown.stacks.values()):
        light = stack.row.light
        if light is None or _unit(plan, light) != unit or not stack.row.target_e_s:
            continue
        own = _flux(plan, light)
        flux = own * _times(stack, hours)
        numbers.append(number)
        curves.append(np.where(np.isfinite(flux), flux, np.nan))
        points.append((stack.row.kept_h or math.nan, own))
        labels.append(
            f"{stack.row.filter_shown}: {light}" if light not in stack.row.filter_name else stack.row.filter_shown
        )
    flat = np.concatenate([*curves, [own for _, own in points]]) if curves else np.array([1.0])
    flat = flat[np.isfinite(flat)]
    reach = _flux_reach(float(flat.min()), float(flat.max()), unit)
    ends = [float(curve[-1]) if np.isfinite(curve[-1]) else reach[1] for curve in curves]
    return Depth(
        hours=hours, unit=unit, numbers=tuple(numbers), flux=tuple(curves),
        words=tuple(tuple(_say_flux(flux, unit) for flux in curve) for curve in curves),
        points=tuple(points), labels=tuple(labels),
        labels_flux=tuple(apart(ends, reach)), flux_reach=reach, ticks=_flux_ticks(reach, unit),
    )  # fmt: skip


def _unit(plan: Plan, light: str | None) -> str:
    if light is None:
        return ""
    noun = light_named(plan, light)
    return "R" if isinstance(noun, LineLight) else "mag/arcsec2" if isinstance(noun, ContinuumLight) else "mag"


def _flux(plan: Plan, light: str) -> float:
    value = float(light_shown(plan, light).value or 0.0)
    return value if _unit(plan, light) == "R" else 10 ** (-0.4 * value)


def _say_flux(flux: float, unit: str) -> str:
    if not np.isfinite(flux):
        return "none"
    if unit == "R":
        return f"{say_number(flux)} R"
    return f"{-2.5 * math.log10(flux):.1f} {unit.replace('2', '²')}"


def _times(stack: Stack, hours: Floats) -> Floats:
    """How many times the plan's light reaches its goal; NaN before the first sub, infinite where no light does."""
    if stack.patch is None or not stack.row.target_e_s:
        return np.full(np.shape(hours), np.nan)
    subs = stack.subs(hours)
    times = signal_for_snr(stack.patch, stack.habits, np.where(np.isnan(subs), 1.0, subs), stack.row.goal_snr)
    return np.where(np.isnan(subs), np.nan, times)


def _flux_reach(low: float, high: float, unit: str) -> tuple[float, float]:
    if unit == "R":
        return nice_below(low), nice_above(high)
    faint, bright = (-2.5 * math.log10(flux) for flux in (low, high))
    return 10 ** (-0.4 * math.ceil(faint + 0.01)), 10 ** (-0.4 * math.floor(bright - 0.01))


def _flux_ticks(reach: tuple[float, float], unit: str) -> Mapping[float, str]:
    if unit != "R":
        faint, bright = (round(-2.5 * math.log10(flux)) for flux in reach)
        return {10 ** (-0.4 * magnitude): str(magnitude) for magnitude in range(bright, faint + 1)}
    decades = range(math.floor(math.log10(reach[0])), math.ceil(math.log10(reach[1])) + 1)
    ticks = [step * 10.0**decade for decade in decades for step in (1, 2, 5)]
    return {tick: f"{tick:g}" for tick in ticks if reach[0] * 0.999 <= tick <= reach[1] * 1.001}


def depth_table(shown: Picture) -> Table:
    """Table behind the picture of depth: every filter, each light in its own unit."""
    plan = shown.plan
    head, columns = [], []
    hours = np.array(TABLE_H)
    for stack in shown.stacks.values():
        light = stack.row.light
        if light is None or not stack.row.target_e_s:
            continue
        head.append(f"{stack.row.filter_shown}, {light}{_own_goal(shown, stack)}")
        times = _times(stack, hours)
        columns.append([_say_depth(one, _flux(plan, light), _unit(plan, light)) for one in times])
    return Table(
        caption=f"Faintest light that reaches SNR {say_number(shown.goal)} in so many hours of good subs",
        head=("Hours of good subs", *head),
        rows=tuple((say_duration(h * 3600), *(column[at] for column in columns)) for at, h in enumerate(TABLE_H)),
    )


def _own_goal(shown: Picture, stack: Stack) -> str:
    """The goal of a light that has another one than the light in view."""
    goal = stack.row.goal_snr
    return "" if goal == shown.goal else f" (SNR {say_number(goal)})"


def _say_depth(times: float, own: float, unit: str) -> str:
    if np.isnan(times):
        return "less than one sub"
    return _say_flux(times * own, unit) if np.isfinite(times) else "none"
