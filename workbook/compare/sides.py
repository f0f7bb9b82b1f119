"""The two sides of a comparison, and their lights matched in pairs."""

from __future__ import annotations

import math
from dataclasses import dataclass

from expocalc.base.words import in_colour
from expocalc.budget.case import Case
from expocalc.budget.row import Answer, Row
from expocalc.budget.whose import filter_for
from expocalc.plan import Plan
from workbook.parts.light_in_view import ALL, for_light

__all__ = ["SIDES", "Pair", "Side", "clock_hours", "pairs_of", "setters", "whole_hours"]

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
    light: str = ALL

    @classmethod
    def of(cls, plan: Plan, light: str = ALL) -> Side:
        """Solve a plan, for one light in view or for all; PlanError if its parts do not fit together."""
        seen = for_light(plan, light)
        return cls(seen, seen.solve(), light)

    @property
    def case(self) -> Case:
        """What the answer was computed from."""
        return self.plan.case

    @property
    def lights(self) -> frozenset[str]:
        """Lights that one of the filters passes, or the one in view."""
        return frozenset(row.light for row in self.rows if row.light is not None)

    @property
    def rows(self) -> tuple[Row, ...]:
        """Rows of the lights in view."""
        return tuple(row for row in self.found.rows if row.light is not None and self.light in (ALL, row.light))


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


def pairs_of(left: Side, right: Side) -> tuple[Pair, ...]:
    """Rows of both sides, matched by filter and light, then by light alone; what is left over stands alone."""
    theirs, ours = list(right.rows), list(left.rows)
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
    if not several:
        return names[0]
    colours = {row.colour for row in (one, other) if row is not None}
    return f"{names[0]}, {light}{in_colour(colours.pop()) if len(colours) == 1 else ''}"


def setters(side: Side, lights: frozenset[str]) -> tuple[str, ...]:
    """Filters that are for several lights, each with the one of `lights` that sets its hours."""
    found = []
    for one in side.found.filters:
        rows = [row for row in side.rows if row.filter_name == one.filter_name and row.light in lights]
        if len(one.rates.lights) > 1 and rows:
            row = max(rows, key=lambda row: clock_hours(row) or 0.0)
            found.append(filter_for(row.filter_shown, row.light, one.rates.lights, row.colour))
    return tuple(found)


def whole_hours(side: Side, lights: frozenset[str]) -> float:
    """Hours on the clock of all filters in whole subs, as every panel says them. [h]"""
    hours: dict[str, float] = {}
    for row in side.found.rows:
        if row.light in lights:
            hours[row.filter_name] = max(clock_hours(row) or 0.0, hours.get(row.filter_name, 0.0))
    return sum(hours.values())
