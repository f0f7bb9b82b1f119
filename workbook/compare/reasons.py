"""Why one plan takes fewer hours than another: its parts swapped one at a time, and the term that changed most.

The plan that wins is the base, so that the hours are finite: in it one section after another is replaced by that of
the plan that loses, and the hours are worked out anew. The section that would cost most hours is the reason. Within it
the squared noise and the light per patch of sky are compared term by term.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from expocalc.base.words import colour_word, in_colour, say_number
from expocalc.budget.answer import answer
from expocalc.budget.carried import carried
from expocalc.budget.case import Case
from expocalc.budget.clock import kept_share
from expocalc.budget.rates import rates
from expocalc.budget.row import Answer, Row
from expocalc.budget.stack import ELEMENT_AREA
from expocalc.light.emission import LINES
from expocalc.light.lights import LineLight
from expocalc.plan import Plan
from workbook.compare.keys import deciding_key

__all__ = ["SECTIONS", "Reason", "reasons", "total_hours"]

SECTIONS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "sky": ("sky", "site"),
        "telescope": ("telescope",),
        "camera": ("camera",),
        "filters": ("filters",),
        "target": ("target",),
        "routine": ("routine",),
        "goal": ("goal",),
    }
)
"""What is swapped as one, by the name that people give it."""
_PLAIN: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "target": ("its target is easier to show", "its target is harder to show"),
        "routine": ("its routine and calibration cost less", "its routine and calibration cost more"),
        "goal": ("its goal asks for less", "its goal asks for more"),
    }
)
"""Sections that are said without looking for a term: for the better, and for the worse."""
_TERMS: Mapping[str, tuple[str, ...]] = MappingProxyType({"sky": ("sky", "signal"), "filters": ("sky", "signal")})
"""What some sections change by themselves; what else then counts more or less, as calibration does, follows from it."""


@dataclass(frozen=True, kw_only=True)
class Reason:
    """One section of the plan that wins against that of the plan that loses.

    Attributes
    ----------
    section : str
        One of :data:`SECTIONS`.
    times : float
        Hours of the winner with the loser's section, over its own: above 1 the section helps it to win. Infinite where
        the goal is then out of reach, NaN where the two don't fit together. [-]
    words : str
        What about it makes most of that.
    """

    section: str
    times: float
    words: str

    @property
    def weight(self) -> float:
        """How much it changes, whichever way."""
        return 0.0 if math.isnan(self.times) else abs(math.log(self.times)) if self.times > 0 else math.inf


def total_hours(case: Case, found: Answer, lights: frozenset[str]) -> float:
    """Hours on the clock of all filters, for some of the target's lights. [h]"""
    return sum(found.hours_on(case.routine, lights).values())


def reasons(winner: Plan, found: Answer, loser: Plan, lights: frozenset[str]) -> tuple[Reason, ...]:
    """Sections in which two plans differ, the one that changes the hours most first.

    Parameters
    ----------
    winner : Plan
        The one that reaches the goal, in fewer hours.
    found : Answer
        Of the winner.
    loser : Plan
    lights : frozenset of str
        Lights that both see.

    Returns
    -------
    tuple of Reason
    """
    own = total_hours(winner.case, found, lights)
    each = []
    for section in SECTIONS:
        if not _differ(winner, loser, section):
            continue
        try:
            swapped = _swapped(winner.case, loser.case, section)
            other = answer(swapped)
        except (ValueError, ArithmeticError):  # a filter wider than the camera's curve, for one
            each.append(Reason(section=section, times=math.nan, words="can't be swapped alone"))
            continue
        times = total_hours(swapped, other, lights) / own
        if section in _PLAIN:
            key = deciding_key(winner, loser, section, lambda case: total_hours(case, answer(case), lights), times)
            words = f"{_PLAIN[section][times < 1]}{key and f' ({key})'}"
        else:
            words = _words(winner.case, found, swapped, other, lights, section)
        each.append(Reason(section=section, times=times, words=words))
    return tuple(sorted(each, key=lambda reason: -reason.weight))


def _differ(one: Plan, other: Plan, section: str) -> bool:
    """Whether two plans say different things, or the same about files in different folders."""
    if all(getattr(one.case, part) is getattr(other.case, part) for part in SECTIONS[section]):
        return False
    return one.folder != other.folder or any(
        one.values.get(part) != other.values.get(part) for part in SECTIONS[section]
    )


def _swapped(case: Case, other: Case, section: str) -> Case:
    parts: dict[str, Any] = {part: getattr(other, part) for part in SECTIONS[section]}
    return carried(case.seen(**parts), other if section == "sky" else case)


@dataclass(frozen=True, kw_only=True)
class _Terms:
    """What hours are made of, per square arcsecond of sky and second, or for the whole of a star. [electron s-1]"""

    signal: float
    noise: Mapping[str, float]
    clock: float

    @property
    def variance(self) -> float:
        return sum(self.noise.values())


def _terms(case: Case, row: Row) -> _Terms:
    filter_ = next(one for one in case.filters if one.name == row.filter_name)
    rate = rates(case, filter_)
    share = case.camera.colour_share[row.colour or "mono"]
    star = row.light in rate.stars
    pixels = share * (max(1.0, ELEMENT_AREA * rate.fwhm_px**2) if star else 1 / row.scale_arcsec_px**2)
    known = {
        "sky": row.sky_e_s,
        "dark": row.dark_e_s,
        "read": case.camera.setting.read_variance_e2 / row.sub_s,
    }
    of_all = sum(row.noise_share[name] for name in ("sky", "dark", "read", "quantisation"))
    total = pixels * sum(known.values()) / of_all if of_all > 0 else math.nan
    kept = float(kept_share(row.sub_s, case.routine.lost_per_hour, case.routine.lost_at_dither))
    return _Terms(
        signal=(row.target_e_s or 0.0) * (share if star else pixels),
        noise={
            **{name: pixels * part for name, part in known.items()},
            **{name: total * row.noise_share[name] for name in ("target", "calibration")},
        },
        clock=(1 + case.routine.dead_s / row.sub_s) / kept,
    )


def _words(case: Case, found: Answer, swapped: Case, other: Answer, lights: frozenset[str], section: str) -> str:
    """What changed most between a case and one with a section swapped, for the light that decides."""
    deciding = _deciding(case, found, swapped, other, lights)
    if deciding is None:
        return ""
    row, theirs = deciding
    own, his = _terms(case, row), _terms(swapped, theirs)
    effects = {term: times for term, times in _effects(own, his).items() if term in _TERMS.get(section, (term,))}
    helps = theirs.hours_on(swapped.routine) >= row.hours_on(case.routine)
    name = max(effects, key=lambda term: effects[term] if helps else 1 / effects[term])
    return _say(name, own, his, row) + _cut_off(case, row, swapped, theirs, name == "signal")


def _deciding(
    case: Case, found: Answer, swapped: Case, other: Answer, lights: frozenset[str]
) -> tuple[Row, Row] | None:
    """Row of the light that sets a filter's hours, and the other plan's: of the filter whose hours change most.

    Of a filter's lights it is the one that sets the hours on the side that needs more.
    """
    by_filter: dict[str, list[tuple[float, float, Row, Row]]] = {}
    for row in found.rows:
        theirs = _like(row, other) if row.light in lights else None
        if theirs is not None:
            hours = row.hours_on(case.routine), theirs.hours_on(swapped.routine)
            by_filter.setdefault(row.filter_name, []).append((*hours, row, theirs))
    changes = []
    for pairs in by_filter.values():
        before, after = max(one[0] for one in pairs), max(one[1] for one in pairs)
        *_, row, theirs = max(pairs, key=lambda one: one[1] if after >= before else one[0])
        if not math.isnan(after - before):
            changes.append((abs(after - before), row, theirs))
    return max(changes, key=lambda one: one[0])[1:] if changes else None


def _cut_off(case: Case, row: Row, swapped: Case, theirs: Row, of_signal: bool) -> str:
    """Words for lines that come along with the light and that only one of two filters passes."""
    own, his = _along(case, row), _along(swapped, theirs)
    only_own, only_his = " and ".join(sorted(own - his)), " and ".join(sorted(his - own))
    if only_own:
        return f", as {row.filter_shown} passes its {only_own} too" if of_signal else f" and passes its {only_own} too"
    if only_his:
        return (
            f", as {row.filter_shown} cuts off its {only_his}" if of_signal else f", though it cuts off its {only_his}"
        )
    return ""


def _along(case: Case, row: Row) -> frozenset[str]:
    """Companions of a line that a filter passes half as well as the line, or better."""
    light = None if row.light is None else case.target.light_named(row.light)
    if not isinstance(light, LineLight):
        return frozenset()
    curve = next(one for one in case.filters if one.name == row.filter_name).curve_in(case.telescope)

    def passed(line: str) -> float:
        return float(curve(LINES[line].wavelength_nm[0]))

    along = light.companions or {}
    return frozenset(line for line, times in along.items() if times > 0 and passed(line) >= passed(light.line) / 2)


def _like(row: Row, other: Answer) -> Row | None:
    """The other plan's row of that light: in the filter of that name, else the quickest one."""
    rows = [theirs for theirs in other.rows if theirs.light == row.light]
    same = [theirs for theirs in rows if theirs.filter_name == row.filter_name]
    return min(same or rows, key=lambda theirs: math.inf if theirs.clock_h is None else theirs.clock_h, default=None)


def _effects(own: _Terms, his: _Terms) -> dict[str, float]:
    """Hours with one of his terms in place of the own, over the own hours."""
    effects = {
        name: (own.variance - own.noise[name] + his.noise[name]) / own.variance
        for name in ("sky", "dark", "read", "calibration")
    }
    effects["signal"] = (own.signal / his.signal) ** 2 if his.signal > 0 else math.inf
    effects["clock"] = his.clock / own.clock
    return {name: effect for name, effect in effects.items() if effect > 0}


def _say(name: str, own: _Terms, his: _Terms, row: Row) -> str:
    """The term in words, from the own side."""
    if name == "clock":
        return f"it loses {'less' if own.clock <= his.clock else 'more'} to pauses and spoilt subs"
    if name == "signal":
        ratio, more, fewer = own.signal / his.signal if his.signal > 0 else math.inf, "more", "less"
        if ratio < 1:
            ratio, more = 1 / ratio, fewer
        return (
            f"it collects {_times(ratio)} {more} light of {row.light}{in_colour(row.colour)} from the same patch of sky"
        )
    before, after = own.noise[name], his.noise[name]
    less = before <= after
    ratio = _times(max(before, after) / min(before, after)) if min(before, after) > 0 else "far"
    if row.light is not None and row.light.startswith("star"):  # its disc may have another size
        return f"{ratio} {'less' if less else 'more'} noise lies behind its {row.light}{in_colour(row.colour)}"
    return {
        "sky": f"its sky in {row.filter_shown}{_of(row)} is {ratio} {'darker' if less else 'brighter'}",
        "dark": f"its chip makes {ratio} {'less' if less else 'more'} dark current",
        "read": f"its read noise, squared, counts {ratio} {'less' if less else 'more'}",
        "calibration": f"its calibration leaves {ratio} {'less' if less else 'more'} noise behind",
    }[name]


def _of(row: Row) -> str:
    return f" on {colour_word(row.colour)} pixels" if row.colour else ""


def _times(ratio: float) -> str:
    return f"{say_number(ratio).removesuffix('.0')} times" if ratio < 1e4 else "far"
