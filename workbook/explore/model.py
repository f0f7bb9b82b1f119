"""Working out a map of hours: one sweep for all skies, or one for each width of the filter."""

from __future__ import annotations

import math
from collections.abc import Generator, Sequence
from typing import Any

import astropy.units as u
import numpy as np

from expocalc import sweep
from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_share
from expocalc.budget.case import Case
from expocalc.budget.limits import Limits, sub_limits
from expocalc.budget.rates import rates
from expocalc.budget.row import FilterAnswer
from expocalc.budget.whose import whose_hours
from expocalc.plan import Plan, PlanError
from workbook.explore.hours_map import SKY, SUB_S, WIDTH, Edge, HoursMap
from workbook.parts.reading import in_luminance, luminance_of, on_reading, zenith_reading

__all__ = ["map_steps", "no_map"]

_SKIES = np.round(np.arange(16.5, 22.01, 0.25), 2)
"""Readings of a map's rows. [mag arcsec-2]"""
_WIDTHS, _TIMES = 37, 4.0
"""Rows of a map of widths, and how many times wider and narrower than the plan's it reaches."""

Steps = Generator[float, None, HoursMap]


def no_map(plan: Plan, filter_name: str, kind: str) -> str:
    """Why there is no such map; empty where there is one."""
    number = _number(plan.case, filter_name)
    bands, shown = plan.values["filters"][number]["passbands"], plan.case.filters[number].shown_name
    if kind == WIDTH and not all("width" in band for band in bands):
        return f"The curve of {shown} comes from a table, so it has no width that could change."
    if plan.solve().filters[number].neediest.light is None:
        return f"{shown} passes none of the target's light: there are no hours to draw."
    return ""


def map_steps(plan: Plan, filter_name: str, kind: str) -> Steps:
    """Work out a map; yields the share that is done.

    Parameters
    ----------
    plan : Plan
    filter_name : str
        A filter that :func:`no_map` says nothing about.
    kind : str
        :data:`SKY` or :data:`WIDTH`.

    Returns
    -------
    HoursMap

    Raises
    ------
    PlanError
        If parts of the plan do not fit together.
    """
    number = _number(plan.case, filter_name)
    one = plan.solve().filters[number]
    base, up_here = _by_reading(plan, filter_name, one)
    alone = base.with_values({("filters",): [base.values["filters"][number]]})
    band = {"meter": "by meter", "cie-V": "from luminance", "bessell-V": "in V"}[base.case.sky.reading_band]
    if kind == SKY:
        at_once = sweep(alone, {"sky.zenith_brightness": _texts(_SKIES, "mag/arcsec2"), **_SUBS})
        yield 0.7
        rows = at_once.group_by("sky.zenith_brightness").groups
        plans = [alone.with_values({("sky", "zenith_brightness"): f"{mag:.2f} mag/arcsec2"}) for mag in _SKIES]
        luminance = np.array([luminance_of(one.case.sky) for one in plans]) if in_luminance() else None
        label = f"darker ↑  {'mcd/m²' if in_luminance() else f'mag/arcsec² {band}'}"
        return _map(kind, one, _SKIES, list(rows), plans, up_here=up_here, up_label=label, luminance=luminance)
    widths = [float(part.width.value) for part in plan.case.filters[number].passbands]
    tables, plans, ups = [], [], []
    for step, factor in enumerate(np.geomspace(1 / _TIMES, _TIMES, _WIDTHS), start=1):
        changes = {("filters", 0, "passbands", at, "width"): f"{x * factor:.6g} nm" for at, x in enumerate(widths)}
        try:
            plans.append(alone.with_values(changes))
            tables.append(sweep(plans[-1], _SUBS))
        except PlanError:  # wider than a passband may be, or it meets its neighbour
            plans = plans[: len(tables)]
        else:
            ups.append(widths[0] * float(factor))
        yield step / _WIDTHS
    bands = "width of the first band, nm" if len(widths) > 1 else "width of the filter, nm"
    return _map(kind, one, np.array(ups), tables, plans, up_here=widths[0], up_label=bands)


_SUBS = {"routine.sub_length": [f"{sub_s:.6f} s" for sub_s in SUB_S]}


def _texts(values: Floats, unit: str) -> list[str]:
    return [f"{value:.2f} {unit}" for value in values]


def _number(case: Case, filter_name: str) -> int:
    return [f.name for f in case.filters].index(filter_name)


def _by_reading(plan: Plan, filter_name: str, one: FilterAnswer) -> tuple[Plan, float]:
    """The plan with its sky as one reading, and that reading. [mag arcsec-2]

    A sky that was measured through the filter becomes the reading that means as many electrons.
    """
    here = zenith_reading(plan.case.sky)
    measured = plan.case.sky.measured or {}
    read = plan.with_values(on_reading(plan) | ({("sky", "measured"): None} if measured else {}))
    if filter_name not in measured:
        return read, here
    table = sweep(read, {"sky.zenith_brightness": _texts(_SKIES, "mag/arcsec2")})
    row = one.neediest
    mine = (table["filter"] == filter_name) & (table["light"] == (row.light or ""))
    sky_e_s = np.array(table["sky_electron_s"][mine])
    here = float(np.interp(-math.log(row.sky_e_s), -np.log(sky_e_s), _SKIES))
    return read.with_values({("sky", "zenith_brightness"): f"{here:.2f} mag/arcsec2"}), here


def _map(
    kind: str, one: FilterAnswer, up: Floats, tables: Sequence[Any], plans: Sequence[Plan], *, up_here: float,
    up_label: str, luminance: Floats | None = None,
) -> HoursMap:  # fmt: skip
    row = one.neediest
    own = [table[table["light"] == row.light] for table in tables]
    shortest = np.array([u.Quantity(table["sub_shortest_s"]).value[0] if len(table) else np.nan for table in own])
    limits = [sub_limits(plan.case, rates(plan.case, plan.case.filters[0])) for plan in plans]
    hours = "out of reach" if row.clock_h is None else say_duration(row.clock_h * 3600)
    return HoursMap(
        kind=kind,
        filter_name=one.filter_name,
        filter_shown=one.filter_shown,
        whose=whose_hours(one),
        up=up,
        up_label=up_label,
        luminance=luminance,
        hours=np.array([_hours(table) for table in tables]),
        edges=_edges(plans[0].case, shortest, limits),
        sub_s=one.sub_s,
        up_here=up_here,
        here=f"your plan: {say_duration(one.sub_s)}, {hours}",
    )


def _hours(table: Any) -> Floats:
    """Hours of the light that needs most, for each sub length; NaN where one of them never gets there."""
    clock = np.array(table["clock_h"], dtype=float).reshape(len(SUB_S), -1)
    lit = (np.array(table["light"]) != "").reshape(clock.shape)
    most = np.where(lit, np.where(np.isnan(clock), np.inf, clock), -np.inf).max(axis=1)
    return np.where(np.isfinite(most), most, np.nan)


def _edges(case: Case, shortest: Floats, limits: Sequence[Limits]) -> tuple[Edge, ...]:
    growth, fill = say_share(case.goal.noise_growth), say_share(case.goal.sky_share_of_well)
    mount = limits[0].mount
    found = (
        Edge(kind="read noise", words=f"read noise adds {growth}", sub_s=shortest),
        Edge(kind="mount", words=f"mount holds {say_duration(mount)}", sub_s=np.array([x.mount for x in limits])),
        Edge(kind="star", words="brightest star full", sub_s=np.array([x.saturation for x in limits])),
        Edge(kind="sky", words=f"sky fills {fill}", sub_s=np.array([x.sky_share for x in limits])),
    )
    return tuple(edge for edge in found if edge.kind == "read noise" or np.isfinite(edge.sub_s).any())
