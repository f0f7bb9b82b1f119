"""Sharing hours out: the split of some hours over filters that makes the weakest light as strong as can be.

The weakest light is as strong as can be when no filter could give an hour away without making a weaker one: all filters
then stand at the same share of their goal. That share follows from the hours alone, as the hours that all filters take
for a share grow with it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.answer import answer
from expocalc.budget.case import Case
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.rates import rates
from expocalc.budget.reach import subs_for_snr
from expocalc.budget.row import Answer
from expocalc.budget.stack import snr_per_patch
from expocalc.budget.stacked import habits_of, patch_of

__all__ = ["Split", "even_level", "split", "split_hours"]

LEAST_LEVEL = 1e-3
"""A filter that all the hours don't bring to this share of the goal can't show its lights in them. [-]"""
_CLOSE = 1e-9
_FARTHEST = 1e12
"""Times the goal, or below it, beyond which no level is looked for."""


def even_level(hours: float, hours_for: Callable[[float], Floats]) -> float:
    """Level that all filters reach together in some hours.

    Parameters
    ----------
    hours : float
        To be shared out, above 0. [h]
    hours_for : callable
        From a level to the hours of each filter, which grow with it; infinite beyond what a filter can reach. [h]

    Returns
    -------
    level : float
        Largest level whose hours fit. [-]

    Examples
    --------
    Noise of independent subs: hours grow with the square of SNR.

    >>> need_h = np.array([2.0, 6.0])
    >>> round(even_level(2.0, lambda level: need_h * level**2), 6)
    0.5
    """

    def fits(level: float) -> bool:
        return float(np.sum(hours_for(level))) <= hours

    low = high = 1.0
    while not fits(low) and low > 1 / _FARTHEST:
        low, high = low / 4, low
    while fits(high) and high < _FARTHEST:
        low, high = high, 4 * high
    while high > low * (1 + _CLOSE):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low


def split_hours(hours: float, hours_for: Callable[[float], Floats]) -> Floats:
    """Hours of each filter that bring the weakest as far as can be; arguments as in :func:`even_level`.

    Returns
    -------
    ndarray
        They sum to `hours`, unless a filter is at the end of what it can reach: the rest helps nobody. [h]

    Examples
    --------
    >>> need_h = np.array([2.0, 6.0])
    >>> split_hours(2.0, lambda level: need_h * level**2).round(6)
    array([0.5, 1.5])
    """
    return hours_for(even_level(hours, hours_for))


@dataclass(frozen=True, kw_only=True)
class Split:
    """Some hours on the clock, shared out over the filters of a case.

    Attributes
    ----------
    hours : mapping of str to float
        Of each filter that can show its lights. [h]
    level : float
        SNR of the weakest light over the goal; 0 where no filter can show anything. [-]
    snr : mapping of (str, str) to float
        Of each of these filters' lights, by filter and light. [-]
    equal_snr : mapping of (str, str) to float
        What it would be with as many hours for each filter. [-]
    hopeless : tuple of str
        Filters that pass no light, or can't show one of theirs in all the hours: they get none.
    """

    hours: Mapping[str, float]
    level: float
    snr: Mapping[tuple[str, str], float]
    equal_snr: Mapping[tuple[str, str], float]
    hopeless: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Light:
    filter_name: str
    name: str
    patch: Patch
    habits: Habits
    goal_snr: float
    clock_h: float
    """Of one kept sub, with pauses and lost ones. [h]"""

    def hours_for(self, level: float) -> float:
        """Hours on the clock to a share of its goal. [h]"""
        return float(subs_for_snr(self.patch, self.habits, level * self.goal_snr)) * self.clock_h

    def snr(self, hours: float) -> float:
        return float(snr_per_patch(self.patch, self.habits, hours / self.clock_h))


def split(case: Case, hours: float, found: Answer | None = None) -> Split:
    """Split of some hours on the clock over the filters of a case, that makes the weakest light as strong as can be.

    Parameters
    ----------
    case : Case
    hours : float
        On the clock, for all filters together, above 0. [h]
    found : Answer, optional
        The case's answer, where it is at hand: its sub lengths are taken.

    Returns
    -------
    Split

    Raises
    ------
    ValueError
        If there are no hours.

    Examples
    --------
    >>> from expocalc.plan import Plan
    >>> case = Plan.example().case
    >>> shared = split(case, 10)
    >>> shared.hours["O III"] > shared.hours["H-alpha"], round(sum(shared.hours.values()), 3)
    (True, 10.0)
    >>> [round(snr, 1) for snr in shared.snr.values()] == [round(10 * shared.level, 1)] * 2
    True
    """
    if not 0 < hours < math.inf:
        msg = f"hours must be above 0 h, got {hours:g} h"
        raise ValueError(msg)
    found = found or answer(case)
    lights = _lights_of(case, found)
    full = _full(case, found)
    able = [f.name for f in case.filters if f.name not in full and _can_show(lights.get(f.name, []), hours)]
    hopeless = tuple(filter_.name for filter_ in case.filters if filter_.name not in able)
    if not able:
        return Split(hours={}, level=0.0, snr={}, equal_snr={}, hopeless=hopeless)

    def hours_for(level: float) -> Floats:
        return np.array([max(light.hours_for(level) for light in lights[name]) for name in able])

    level = even_level(hours, hours_for)
    shares = dict(zip(able, map(float, hours_for(level)), strict=True))
    those = [light for name in able for light in lights[name]]
    return Split(
        hours=MappingProxyType(shares),
        level=level,
        snr=MappingProxyType({(one.filter_name, one.name): one.snr(shares[one.filter_name]) for one in those}),
        equal_snr=MappingProxyType({(one.filter_name, one.name): one.snr(hours / len(able)) for one in those}),
        hopeless=hopeless,
    )


def _lights_of(case: Case, found: Answer) -> dict[str, list[_Light]]:
    lights: dict[str, list[_Light]] = {}
    for filter_, summary in zip(case.filters, found.filters, strict=True):
        rate, sub_s = rates(case, filter_), summary.sub_s
        lights[filter_.name] = [
            _Light(
                filter_.name,
                light,
                patch_of(case, rate, light, sub_s),
                habits_of(case, rate.scale_arcsec),
                case.goal_of(light),
                case.routine.clock_h(1.0, sub_s),
            )
            for light in rate.lights
        ]
    return lights


def _full(case: Case, found: Answer) -> set[str]:
    """Filters in whose subs sky and dark current alone fill the well: they show nothing."""
    well = case.camera.setting.saturation_e
    return {row.filter_name for row in found.rows if (row.sky_e_s + row.dark_e_s) * row.sub_s >= well}


def _can_show(lights: list[_Light], hours: float) -> bool:
    """Whether each light reaches the least share of its goal when its filter has all the hours."""
    return bool(lights) and all(
        math.isfinite(light.clock_h) and light.hours_for(LEAST_LEVEL) <= hours for light in lights
    )
