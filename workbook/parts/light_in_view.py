"""One of the target's lights in view: the plan as if its filters were for that light alone.

What else a filter passes stays, as noise.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from functools import lru_cache

from expocalc.budget.rates import rates
from expocalc.gear.filter import Filter
from expocalc.plan import Plan, Where, one_sentence

__all__ = ["ALL", "for_light", "light_menu", "lights_in_view", "turned_to"]

ALL = ""
"""All lights that a filter is for; the one that needs most sets its hours."""


@lru_cache(maxsize=64)
def _alone(filter_: Filter, light: str) -> Filter:
    """The filter for one light; the same object again, so that its integrals are kept."""
    return dataclasses.replace(filter_, wanted=[light])


def lights_in_view(plan: Plan, filter_name: str) -> tuple[str, ...]:
    """Lights that a filter is for, and passes."""
    with one_sentence():
        return rates(plan.case, next(one for one in plan.case.filters if one.name == filter_name)).lights


def light_menu(lights: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Lights as options of a menu, after the choice of none of them."""
    return (("the one that needs most", ALL), *((one, one) for one in lights))


def for_light(plan: Plan, light: str) -> Plan:
    """The plan with the filters that are for a light being for it alone; the others as they are.

    Parameters
    ----------
    plan : Plan
    light : str
        Or :data:`ALL`.
    """
    if light == ALL:
        return plan
    filters = tuple(_alone(one, light) if light in lights_in_view(plan, one.name) else one for one in plan.case.filters)
    return dataclasses.replace(plan, case=dataclasses.replace(plan.case, filters=filters))


def turned_to(plan: Plan, light: str) -> Plan:
    """As :func:`for_light`, written into the plan's values, for what reads them again."""
    if light == ALL:
        return plan
    wanted: dict[Where, list[str]] = {
        ("filters", number, "wanted"): [light]
        for number, one in enumerate(plan.case.filters)
        if light in lights_in_view(plan, one.name)
    }
    return plan.with_values(wanted)
