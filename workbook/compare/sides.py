"""The two sides of a comparison, and their lights matched in pairs."""

from __future__ import annotations

import math
from dataclasses import dataclass

from expocalc.budget.case import Case
from expocalc.budget.row import Answer, Row
from expocalc.plan import Plan

__all__ = ["SIDES", "Pair", "Side", "clock_hours", "pairs_of", "whole_hours"]

SIDES = ("left", "right")


@dataclass(frozen=True, eq=False)
class Side:
    """A plan and its answer.

    Examples
    --------
    A side is solved once, and compared as often as the other one changes: ``Side.of(plan)``.
    """

    plan: Plan
    found: Answer

    @classmethod
    def of(cls, plan: Plan) -> Side:
        """Solve a plan; PlanError if its parts do not fit together."""
        return cls(plan, plan.solve())

    @property
    def case(self) -> Case:
        """What the answer was computed from."""
        return self.plan.case

    @property
    def lights(self) -> frozenset[str]:
        """Lights that one of the filters passes."""
        return frozenset(row.light for row in self.found.rows if row.light is not None)


@dataclass(frozen=True, kw_only=True)
class Pair:
    """One light in one filter, on both sides; None where a side does not have it.

    Attributes
    ----------
    label : str
    left, right : Row or None
    left_h, right_h : float or None
        Hours on the clock, infinite where the goal is out of reach. [h]
    """

    label: str
    left: Row | None
    right: Row | None

    @property
    def left_h(self) -> float | None:
        """Hours on the left."""
        return clock_hours(self.left)

    @property
    def right_h(self) -> float | None:
        """Hours on the right."""
        return clock_hours(self.right)


def clock_hours(row: Row | None) -> float | None:
    """Hours on the clock of a row, infinite where the goal is out of reach. [h]"""
    return None if row is None else math.inf if row.clock_h is None else row.clock_h


def pairs_of(left: Answer, right: Answer) -> tuple[Pair, ...]:
    """Rows of both sides, matched by filter and light, then by light alone; what is left over stands alone."""
    theirs = [row for row in right.rows if row.light is not None]
    ours = [row for row in left.rows if row.light is not None]
    matched: dict[int, Row] = {}
    for same_filter in (True, False):
        for number, row in enumerate(ours):
            if number in matched:
                continue
            for other in theirs:
                if other.light == row.light and (other.filter_name == row.filter_name or not same_filter):
                    matched[number] = other
                    theirs.remove(other)
                    break
    found = [(row, matched.get(number)) for number, row in enumerate(ours)]
    return tuple(
        Pair(label=_label(one, other, (*left.rows, *right.rows)), left=one, right=other)
        for one, other in (*found, *((None, other) for other in theirs))
    )


def _label(one: Row | None, other: Row | None, rows: tuple[Row, ...]) -> str:
    names = list(dict.fromkeys(row.filter_shown for row in (one, other) if row is not None))
    light = next(row.light for row in (one, other) if row is not None)
    if len(names) > 1:
        return f"{light} ({names[0]} and {names[1]})"
    several = len({row.light for row in rows if row.filter_shown == names[0]}) > 1
    return f"{names[0]}, {light}" if several else names[0]


def whole_hours(side: Side, lights: frozenset[str]) -> float:
    """Hours on the clock of all filters in whole subs, as every panel says them. [h]"""
    hours: dict[str, float] = {}
    for row in side.found.rows:
        if row.light in lights:
            hours[row.filter_name] = max(clock_hours(row) or 0.0, hours.get(row.filter_name, 0.0))
    return sum(hours.values())
