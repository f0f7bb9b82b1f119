"""What the sub-length panel draws and says about a plan: numbers and finished words, no widgets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import in_colour, say_duration, say_share
from expocalc.budget.case import Case
from expocalc.budget.limits import sub_limits
from expocalc.budget.rates import Rates, rates
from expocalc.budget.row import Answer, FilterAnswer, Row
from expocalc.budget.whose import of_read_noise, of_sky, of_star, whose, whose_hours
from expocalc.plan import Plan, one_sentence
from workbook.parts.end_label import end_label, label_gap
from workbook.parts.light_in_view import ALL, for_light
from workbook.parts.places import nice_above, nice_below, spread
from workbook.parts.shares import Bar, divided
from workbook.parts.verdict import Words
from workbook.sub_length.curves import NEVER_H, hours_by_light, most_hours, setters
from workbook.sub_length.verdict import words

__all__ = ["SUB_S", "Bound", "End", "Picture", "noise_bar", "whose_at"]

SUB_S: Floats = np.geomspace(1, 3600, 97)
"""Sub lengths at which the curves are drawn. [s]"""
_LINE = 0.09
"""Height of a line of words, as a share of the figure's."""
_MOST_H = 1e5
"""Where the axis of hours ends: more than anyone has. [h]"""


@dataclass(frozen=True, kw_only=True)
class End:
    """The plan's own sub on the curve of one filter, and the words at the curve's end. [s, h]"""

    sub_s: float
    hours: float
    label: str
    label_hours: float


@dataclass(frozen=True, kw_only=True)
class Bound:
    """A sub length that something allows no further, or asks for at least. [s]"""

    kind: str
    sub_s: float
    words: str


class Picture:
    """All that the panel shows of a plan, with one filter in view.

    The curves are there at once: they take what the filters deliver, not the answer. The rest is worked out when it is
    asked for, so that a moved slider moves the curves first.

    Parameters
    ----------
    plan : Plan
    filter_name : str
        The filter that the verdict, the good range and the bounds speak of.
    light : str, optional
        The light in view, of every filter that is for it; without it the one that needs most.

    Attributes
    ----------
    plan : Plan
    filter_name, light : str
    seen : Plan
        With the filters being for the light in view alone.
    curves : ndarray
        Clock hours at :data:`SUB_S`, a row for each filter; NaN where no hours will do. [h]

    Raises
    ------
    PlanError
        If parts of the plan do not fit together.
    """

    def __init__(self, plan: Plan, filter_name: str, light: str = ALL) -> None:
        self.plan, self.filter_name, self.light = plan, filter_name, light
        self.seen = for_light(plan, light)
        with one_sentence():
            case = self.seen.case
            self._by_light = hours_by_light(case, [rates(case, one) for one in case.filters], SUB_S)
        self.curves = np.array([most_hours(rows, SUB_S.size) for rows in self._by_light])

    @cached_property
    def found(self) -> Answer:
        """The plan's answer; PlanError where there is none."""
        return self.seen.solve()

    @cached_property
    def _one(self) -> FilterAnswer:
        return self.found.of_filter(self.filter_name)

    @cached_property
    def _at_sub(self) -> list[float]:
        filters = self.found.filters
        subs = [one.sub_s for one in filters]
        by_light = hours_by_light(self.seen.case, [one.rates for one in filters], subs)
        return [float(most_hours(rows, len(subs))[at]) for at, rows in enumerate(by_light)]

    @cached_property
    def hours_reach(self) -> tuple[float, float]:
        """Ends of the axis of hours: all the best hours, and above them room for what short subs cost. [h]"""
        seen = [(curve, at) for curve, at in zip(self.curves, self._at_sub, strict=True) if np.isfinite(curve).any()]
        if not seen:
            return 1.0, 100.0
        best = [float(np.fmin(np.nanmin(curve), at)) for curve, at in seen]
        own = [at if np.isfinite(at) else least for (_, at), least in zip(seen, best, strict=True)]
        return nice_below(min(0.8 * min(best), _MOST_H / 10)), nice_above(min(3 * max(own), _MOST_H))

    @cached_property
    def sub_reach(self) -> tuple[float, float]:
        """Ends of the axis of sub lengths: no room for subs that nobody would take. [s]"""
        top = self.hours_reach[1]
        drawn = SUB_S[(self.curves <= top).any(axis=0)]
        subs = [one.sub_s for one in self.found.filters]
        bounds = [bound.sub_s for bound in self.bounds]
        low = min([*subs, *bounds, *(float(drawn[0]) for _ in range(min(drawn.size, 1)))]) / 1.5
        high = 1.5 * max([2 * max(subs), self.good_s[1], *(x for x in bounds if x < 5 * max(subs))])
        return max(low, float(SUB_S[0])), min(high, float(SUB_S[-1]))

    @property
    def reached(self) -> bool:
        """Whether some length of sub reaches the goal of some filter."""
        return bool(np.isfinite(self.curves).any())

    @property
    def ends(self) -> tuple[End, ...]:
        """One for each filter."""
        low, high = np.log(self.hours_reach)
        last = int(np.searchsorted(SUB_S, self.sub_reach[1] * (1 + 1e-9))) - 1
        at_end = [curve[last] for curve in self.curves]
        ends = [float(np.clip(np.log(hours), low, high)) if hours > 0 else float(low) for hours in at_end]
        filters = self.found.filters
        labels = [
            _end_label(one, bool(np.isfinite(curve).any())) for one, curve in zip(filters, self.curves, strict=True)
        ]
        places = np.exp(spread(ends, label_gap(labels, _LINE) * float(high - low), float(low), float(high)))
        return tuple(
            End(sub_s=one.sub_s, hours=hours, label_hours=float(place), label=label)
            for one, hours, place, label in zip(filters, self._at_sub, places, labels, strict=True)
        )

    @property
    def said(self) -> tuple[tuple[str, ...], ...]:
        """Hours at :data:`SUB_S` in words, with whose they are; for each filter."""
        return tuple(
            tuple(map(_said, curve, whose_at(self.found, one, rows, SUB_S.size)))
            for one, curve, rows in zip(self.found.filters, self.curves, self._by_light, strict=True)
        )

    @property
    def good_s(self) -> tuple[float, float]:
        """Sub lengths that cost at most 2 % more hours than the best allowed, the advised one among them. [s]

        That alone where so few subs will do that it is chosen for their whole number: the others count parts of one.
        """
        row = self._one.neediest
        if row.bounded_by == "whole subs":
            return row.sub_s, row.sub_s
        good = (max(row.sub_low_s, row.sub_shortest_s), min(row.sub_high_s, row.sub_longest_s))
        if not good[0] < good[1]:
            return row.sub_s, row.sub_s
        if self.plan.case.routine.sub_length is not None:
            return good
        return min(good[0], row.sub_s), max(good[1], row.sub_s)

    @cached_property
    def bounds(self) -> tuple[Bound, ...]:
        """Bounds inside the reach of :data:`SUB_S`."""
        return _bounds(self.seen.case, self._one.rates, self._one.neediest)

    @property
    def bars(self) -> tuple[Bar, ...]:
        """What the noise is made of, one bar for each filter."""
        return tuple(noise_bar(one) for one in self.found.filters)

    @property
    def words(self) -> Words:
        """The verdict."""
        return words(self.seen, self._one, self.light)


def whose_at(found: Answer, one: FilterAnswer, rows: Mapping[str, Floats], count: int) -> list[str]:
    """Whose the hours of a filter are at `count` lengths of a sub; empty words where it is for one light at most."""
    if len(rows) < 2:
        return [""] * count
    colours = {row.light: row.colour for row in found.rows if row.filter_name == one.filter_name}
    return [whose(light, rows, colours[light]) for light in setters(rows)]


def _said(hours: float, whose: str) -> str:
    return f"{say_duration(hours * 3600)} {whose}".rstrip() if hours < NEVER_H else "never"


def _end_label(one: FilterAnswer, drawn: bool) -> str:
    row = one.neediest
    never = f"not with {say_duration(row.sub_s)} subs" if drawn else "out of reach"
    return end_label(row, never if row.clock_h is None else say_duration(row.clock_h * 3600), whose_hours(one))


def _bounds(case: Case, rate: Rates, row: Row) -> tuple[Bound, ...]:
    limits = sub_limits(case, rate)
    growth, fill = say_share(case.goal.noise_growth), say_share(case.goal.sky_share_of_well)
    read_in, star_in, sky_in = map(in_colour, (of_read_noise(case, rate, row), of_star(rate), of_sky(rate)))
    found = (
        Bound(
            kind="read noise",
            sub_s=row.sub_shortest_s,
            words=f"read noise adds {growth}{read_in} at {say_duration(row.sub_shortest_s)}",
        ),
        Bound(kind="mount", sub_s=limits.mount, words=f"mount holds {say_duration(limits.mount)}"),
        Bound(
            kind="star",
            sub_s=limits.saturation,
            words=f"brightest star full{star_in} at {say_duration(limits.saturation)}",
        ),
        Bound(
            kind="sky", sub_s=limits.sky_share, words=f"sky fills {fill}{sky_in} at {say_duration(limits.sky_share)}"
        ),
    )
    return tuple(bound for bound in found if SUB_S[0] <= bound.sub_s <= SUB_S[-1])


def noise_bar(one: FilterAnswer) -> Bar:
    """What the noise of a filter's sub is made of, in the pixels that its weakest light needs."""
    row = one.neediest
    share, pixels = row.noise_share, f"{in_colour(row.colour)} pixels" if row.colour else ""
    light = whose(row.light, one.rates.lights)
    shares = {**share, "read noise": share["read"] + share["quantisation"]}
    endless = ", after endless hours" if row.light is not None and row.clock_h is None else ""
    name = f"{row.filter_shown} {light}".rstrip()
    return divided(f"{name}{pixels}, {say_duration(row.sub_s)}{endless}", shares)
