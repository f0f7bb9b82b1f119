"""Which single value of a section makes most of the difference: each is swapped alone and the hours worked out."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from typing import Any

from expocalc.base.field import fields_of
from expocalc.budget.case import Case
from expocalc.plan import Plan

__all__ = ["deciding_key"]

_LEAST = 1.005
"""A factor on the hours below which nobody would name a value."""


def deciding_key(winner: Plan, loser: Plan, section: str, hours_of: Callable[[Case], float], times: float) -> str:
    """The value that changes the hours most in the direction of the whole section, in words; "" where none does.

    Parameters
    ----------
    winner, loser : Plan
    section : str
        A section that both have: "routine", "goal" or "target".
    hours_of : callable
        Hours on the clock of a case; infinite where the goal is out of reach. [h]
    times : float
        Hours of the winner with the whole section of the loser, over its own. [-]
    """
    own, his = getattr(winner.case, section), getattr(loser.case, section)
    before = hours_of(winner.case)
    effects: dict[str, float] = {}
    for field in fields_of(type(own)):
        name = field.name
        if _given(winner, section, name) == _given(loser, section, name):
            continue
        try:
            noun = dataclasses.replace(own, **{name: getattr(his, name)})
            after = hours_of(winner.case.seen(**{section: noun}))
        except (ValueError, TypeError, ArithmeticError):  # not allowed without another one
            continue
        effects[name] = after / before if times >= 1 else before / after if after else math.inf
    name = max(effects, key=lambda one: effects[one], default="")
    if not name or not effects[name] > _LEAST:
        return ""
    label = next(field.label for field in fields_of(type(own)) if field.name == name)
    return f"{label.lower()} {_say(winner, section, name)} instead of {_say(loser, section, name)}"


def _given(plan: Plan, section: str, name: str) -> Any:
    return plan.values.get(section, {}).get(name)


def _say(plan: Plan, section: str, name: str) -> str:
    given = _given(plan, section, name)
    if given is None or isinstance(given, list | dict):
        return "not given" if given is None else "another"
    return str(given)
