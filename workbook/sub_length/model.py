"""What the sub-length panel draws and says about a plan: numbers and finished words, no widgets."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import in_colour, say_duration, say_number, say_share
from expocalc.budget.answer import answer_filter
from expocalc.budget.case import Case
from expocalc.budget.limits import sub_limits
from expocalc.budget.rates import Rates, rates
from expocalc.budget.row import Answer, FilterAnswer, Row
from expocalc.budget.stack import Patch
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.budget.sub_length import clock_hours
from expocalc.budget.whose import of_read_noise, of_sky, of_star
from expocalc.light.instruments import sky_readings
from expocalc.plan import Plan, PlanError, one_sentence
from workbook.parts.looks import QUANTITIES
from workbook.parts.places import nice_above, nice_below, spread
from workbook.parts.reading import as_user, say_step, sky_words
from workbook.parts.shares import Bar, divided
from workbook.parts.table import Table
from workbook.parts.units import units_now
from workbook.sub_length.in_view import ALL, for_light

__all__ = ["SUB_S", "Bound", "End", "Picture", "Words", "hours_table", "noise_table"]

SUB_S: Floats = np.geomspace(1, 3600, 97)
"""Sub lengths at which the curves are drawn. [s]"""
_TABLE_S = (5.0, 10.0, 30.0, 60.0, 120.0, 180.0, 300.0, 600.0, 1200.0, 3600.0)
_OTHER_READINGS = ("bortle", "luminance", "naked_eye_limit", "reading_band", "brightness_error")
_MOST_H = 1e5
"""Where the axis of hours ends: more than anyone has. [h]"""
_LABEL_GAP = 0.085
"""Room of a label at a line's end, as a share of the figure's height."""


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


@dataclass(frozen=True, kw_only=True)
class Words:
    """The verdict: its first sentence, the rest, what it rests on and what would change it."""

    headline: str
    rest: str
    basis: str
    change: str


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
            self.curves = _hours(case, [rates(case, one) for one in case.filters], SUB_S)

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
        return np.diag(_hours(self.seen.case, [one.rates for one in filters], [one.sub_s for one in filters])).tolist()

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
        places = np.exp(spread(ends, _LABEL_GAP * float(high - low), float(low), float(high)))
        return tuple(
            End(
                sub_s=one.sub_s,
                hours=hours,
                label_hours=float(place),
                label=_end_label(one.neediest, bool(np.isfinite(curve).any())),
            )
            for one, hours, place, curve in zip(self.found.filters, self._at_sub, places, self.curves, strict=True)
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
        return tuple(_bar(one.neediest) for one in self.found.filters)

    @property
    def words(self) -> Words:
        """The verdict."""
        return _words(self.seen, self._one, self.light)


def _hours(case: Case, delivered: Sequence[Rates], sub_s: Sequence[float] | Floats) -> Floats:
    """Hours on the clock until every light of a filter reaches the goal, a row for each filter. [h]

    NaN where the filter passes no light, or no hours will do.
    """
    lights = [(at, name) for at, rate in enumerate(delivered) for name in rate.lights]
    most = np.full((len(delivered), len(sub_s)), np.nan)
    if lights:
        # One call for all lights: it takes little longer than for one.
        patches = [patch_of(case, delivered[at], name, 1.0) for at, name in lights]
        habits = habits_of(case, delivered[0].scale_arcsec)
        goals = np.array([case.goal_of(name) for _, name in lights])[:, None]
        hours = clock_hours(_together(patches), habits, case.routine, goals, sub_s)
        for (at, _), row in zip(lights, hours, strict=True):
            most[at] = np.fmax(most[at], row)
    return np.where(np.isfinite(most), most, np.nan)


def _together(patches: Sequence[Patch]) -> Patch:
    """Patches of one camera as one, along an axis before that of the sub lengths."""
    return replace(
        patches[0],
        side_px=np.array([patch.side_px for patch in patches])[:, None],
        signal_e_s=np.array([patch.signal_e_s for patch in patches])[:, None],
        light_e_s=np.array([patch.light_e_s for patch in patches])[:, None],
        faint_e_s=np.array([np.broadcast_to(patch.faint_e_s, patch.light_e_s.shape) for patch in patches])[:, None],
    )


def _end_label(row: Row, drawn: bool) -> str:
    name = row.filter_shown
    if row.light is None or not row.target_e_s:
        return f"{name}: no light"
    if row.clock_h is None:
        return f"{name}: not with {say_duration(row.sub_s)} subs" if drawn else f"{name}: out of reach"
    return f"{name}: {say_duration(row.clock_h * 3600)}"


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


def _pixels(row: Row) -> str:
    """Whose pixels the shares are of."""
    return f"{in_colour(row.colour)} pixels" if row.colour else ""


def _bar(row: Row) -> Bar:
    share = row.noise_share
    shares = {**share, "read noise": share["read"] + share["quantisation"]}
    endless = ", after endless hours" if row.light is not None and row.clock_h is None else ""
    return divided(f"{row.filter_shown}{_pixels(row)}, {say_duration(row.sub_s)}{endless}", shares)


def _words(plan: Plan, one: FilterAnswer, light: str = ALL) -> Words:
    row, (first, *rest) = one.neediest, one.sentences
    if light != ALL:
        alone = row.light == light
        rest.append(f"Only {light} is in view." if alone else f"{one.filter_shown} is not for {light}, or passes none.")
    return Words(headline=first, rest=as_user(" ".join(rest)), basis=_basis(plan.case, row), change=_change(plan, row))


def _basis(case: Case, row: Row) -> str:
    telescope, altitude = case.telescope, float(case.target.altitude.value)
    read_noise_e = float(case.camera.setting.read_noise.value)
    return (
        f"It rests on {_sky_words(case, row.filter_name)}, the target at {say_number(altitude)}°, "
        f"{units_now().say_mm(float(telescope.aperture.value))} at f/{telescope.focal_ratio:.3g}, read noise "
        f"{say_number(read_noise_e)} electrons, {say_duration(case.routine.dead_s)} lost per sub."
    )


def _sky_words(case: Case, filter_name: str) -> str:
    sky = case.sky
    if sky.measured and filter_name in sky.measured:
        return "the sky that you measured"
    if sky.bortle is not None:
        return f"a sky of Bortle class {sky.bortle}"
    if sky.zenith_brightness is not None:
        return f"a sky of {sky_words(sky, '.2f')}"
    return f"a sky of {sky_words(dataclasses.replace(sky, reading_band='bessell-V'), '.2f')}"


def _change(plan: Plan, row: Row) -> str:
    """What a sky one magnitude darker would do, or brighter where none is darker."""
    sky = plan.case.sky
    if row.clock_h is None or sky.told is not None or (sky.measured and row.filter_name in sky.measured):
        return ""
    v = sky_readings(sky).bessell_v
    for step in (1.0, -1.0):
        changed: dict[tuple[str | int, ...], str | None] = {("sky", other): None for other in _OTHER_READINGS}
        changed["sky", "zenith_brightness"] = f"{v + step} mag/arcsec2"
        try:
            other = plan.with_values(changed).case
        except PlanError:
            continue
        filter_ = next(f for f in other.filters if f.name == row.filter_name)
        found, _ = answer_filter(other, filter_)
        if found.clock_h is not None:
            return (
                f"With a sky {say_step(step)}: {say_duration(found.sub_s)} subs, "
                f"{say_duration(found.clock_h * 3600)} on the clock at best."
            )
    return ""


def hours_table(plan: Plan) -> Table:
    """Table behind the figure of hours: each filter at round sub lengths, with the price against its own sub."""
    case, found = plan.case, plan.solve()
    subs = [one.sub_s for one in found.filters]
    rows = sorted({*_TABLE_S, *subs})
    hours = _hours(case, [one.rates for one in found.filters], rows)
    whole = [np.nan if one.clock_h is None else one.clock_h for one in found.filters]
    return Table(
        caption="Hours on the clock until the goal is reached, and how much more or less that is than with the plan's "
        "own sub; that one is counted in whole subs, as everywhere",
        head=("Sub", *(f.shown_name for f in case.filters)),
        rows=tuple(
            (
                say_duration(sub_s),
                *(
                    _priced(row[at], row[rows.index(own)], needed if sub_s == own else None)
                    for row, own, needed in zip(hours, subs, whole, strict=True)
                ),
            )
            for at, sub_s in enumerate(rows)
        ),
    )


def _priced(hours: float, own: float, whole: float | None) -> str:
    """Hours in words, with their price over those of the plan's own sub; `whole` are its own in whole subs."""
    if not np.isfinite(hours):
        return "never"
    if whole is not None:
        return f"{say_duration((whole if np.isfinite(whole) else hours) * 3600)} (the plan's)"
    if not np.isfinite(own):
        return say_duration(hours * 3600)
    more = hours / own - 1
    if abs(more) < 5e-5:
        return f"{say_duration(hours * 3600)} (the same)"
    return f"{say_duration(hours * 3600)} ({'+' if more >= 0 else '−'}{say_share(abs(more))})"


def noise_table(plan: Plan) -> Table:
    """Table behind the figure of noise: all shares, in the pixels that the filter's weakest light needs."""
    found = plan.solve()
    bars = [_bar(one.neediest) for one in found.filters]
    return Table(
        caption="Share of each cause in the noise of one pixel, squared",
        head=("Filter and sub", *QUANTITIES),
        rows=tuple((bar.words, *(say_share(part.share) for part in bar.parts)) for bar in bars),
    )
