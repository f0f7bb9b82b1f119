"""What the comparison panel draws and says about two plans: numbers and finished words, no widgets."""

from __future__ import annotations

import math
from dataclasses import dataclass

from expocalc.base.words import say_duration, say_number, say_share
from expocalc.budget.case import Case
from expocalc.budget.rates import rates
from expocalc.budget.routine import kept_share
from expocalc.budget.row import Answer, Row
from expocalc.budget.stack import snr_per_patch
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.gear.image import field_arcmin, pixel_scale_arcsec
from expocalc.plan import Plan
from workbook.compare.reasons import Reason, reasons, total_hours
from workbook.parts.places import nice_above, nice_below
from workbook.parts.table import Table

__all__ = ["Comparison", "Pair", "Side", "Words", "compare", "hours_table", "reasons_table", "say_times"]

SIDES = ("left", "right")
_EVEN = 1.05
"""Hours closer than this factor are no difference that anyone would notice: common practice, no source."""


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
        return _clock(self.left)

    @property
    def right_h(self) -> float | None:
        """Hours on the right."""
        return _clock(self.right)


@dataclass(frozen=True, kw_only=True)
class Words:
    """The verdict: which side wins, by how much and why; what speaks against it; what it rests on."""

    headline: str
    others: str
    basis: str


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """All that the panel shows of two plans.

    Attributes
    ----------
    words : Words
    pairs : tuple of Pair
    hours_reach : tuple of float
        Ends of the axis of hours. [h]
    winner : str
        "left" or "right"; "" where there is none.
    reasons : tuple of Reason
        Sections in which the plans differ; empty where no side wins or none differs.
    facts : Table
        Both sides in a few lines.
    differs : bool
        Whether the two plans say different things.
    """

    words: Words
    pairs: tuple[Pair, ...]
    hours_reach: tuple[float, float]
    winner: str
    reasons: tuple[Reason, ...]
    facts: Table
    differs: bool

    @property
    def reasons_title(self) -> str:
        """What the figure of reasons shows."""
        if not self.reasons:
            if not self.pairs:
                return "Nothing to compare"
            if self.differs:
                return "Neither reaches its goal: no hours to weigh"
            return "Nothing differs yet that could be a reason"
        if not self.winner:
            return "Hours of the quicker side with one thing of the other"
        return f"Hours of {self.winner} with one thing of {'left' if self.winner == 'right' else 'right'}"


def compare(left: Side, right: Side, same_h: float) -> Comparison:
    """Compare two plans.

    Parameters
    ----------
    left, right : Side
    same_h : float
        Clock hours for each filter after which both signals are compared. [h]

    Returns
    -------
    Comparison
    """
    lights = left.lights & right.lights
    hours = [total_hours(side.case, side.found, lights) for side in (left, right)] if lights else [math.inf] * 2
    at = 0 if hours[0] <= hours[1] else 1
    why: tuple[Reason, ...] = ()
    if math.isfinite(hours[at]):
        first, second = (left, right) if at == 0 else (right, left)
        why = reasons(first.plan, first.found, second.plan, lights)
    pairs = _pairs(left.found, right.found)
    said = [_whole_hours(side, lights) for side in (left, right)]
    wins = math.isfinite(hours[at]) and hours[1 - at] > hours[at] * _EVEN and said[1 - at] > said[at]
    return Comparison(
        words=Words(
            headline=_headline(pairs, lights, said, at, wins, why, hours[1 - at] / hours[at] if wins else 1.0),
            others=_others(at, wins, why),
            basis=_basis(left, right, lights),
        ),
        pairs=pairs,
        hours_reach=_reach(pairs),
        winner=SIDES[at] if wins else "",
        reasons=why,
        facts=_facts(left, right, same_h),
        differs=left.plan.values != right.plan.values,
    )


def _clock(row: Row | None) -> float | None:
    return None if row is None else math.inf if row.clock_h is None else row.clock_h


def _pairs(left: Answer, right: Answer) -> tuple[Pair, ...]:
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


def _reach(pairs: tuple[Pair, ...]) -> tuple[float, float]:
    """Ends of the axis, with room for words on both sides."""
    hours = [h for pair in pairs for h in (pair.left_h, pair.right_h) if h is not None and math.isfinite(h)]
    if not hours:
        return 1.0, 100.0
    return nice_below(min(hours) / 2.5), nice_above(max(hours) * 2.5)


def _whole_hours(side: Side, lights: frozenset[str]) -> float:
    """Hours on the clock of all filters in whole subs, as every panel says them. [h]"""
    hours: dict[str, float] = {}
    for row in side.found.rows:
        if row.light in lights:
            hours[row.filter_name] = max(_clock(row) or 0.0, hours.get(row.filter_name, 0.0))
    return sum(hours.values())


def _headline(
    pairs: tuple[Pair, ...],
    lights: frozenset[str],
    hours: list[float],
    at: int,
    wins: bool,
    why: tuple[Reason, ...],
    times: float,
) -> str:
    if not lights:
        return "The two plans show no light in common, so their hours can't be compared."
    best, worst = (say_duration(3600 * h) for h in (hours[at], hours[1 - at]))
    if math.isinf(hours[at]):
        never = [pair.left for pair in pairs if pair.left and pair.left_h == pair.right_h == math.inf]
        names = " and ".join(dict.fromkeys(row.light for row in never if row.light))
        return f"Neither side reaches its goal{f' for {names}' if names else ''} in any number of hours."
    if not wins:
        if not why:
            return f"Both sides are the same: at best {best} on the clock. Change something on the right."
        one, other = (best, worst) if at == 0 else (worst, best)
        return f"Hardly a difference: at best {one} on the clock on the left, {other} on the right."
    because = _because(math.log(times), why)
    name = SIDES[at].capitalize()
    if math.isinf(times):
        return f"{name} wins: at best {best} on the clock, and {SIDES[1 - at]} never reaches its goal{because}."
    return f"{name} wins: at best {best} on the clock instead of {worst}, {_fewer(times)}{because}."


def _fewer(times: float) -> str:
    often = f"{say_number(times).removesuffix('.0')} times" if times >= 1.5 else say_share(1 - 1 / times)
    return f"{often} fewer hours"


def _because(whole: float, why: tuple[Reason, ...]) -> str:
    """The leading reason, as far as there is one."""
    helping = [reason for reason in why if reason.times > 1]
    if not helping:
        return ""
    lead = helping[0]
    how = "because" if len(why) == 1 else "mostly because" if lead.weight >= 0.6 * whole else "first of all because"
    return f", {how} {lead.words}" if lead.words else f", {how.removesuffix(' because')} by its {lead.section}"


def _others(at: int, wins: bool, why: tuple[Reason, ...]) -> str:
    """What each section does alone, where there are several."""
    if not wins or len(why) < 2:
        return ""
    said = [f"{reason.section} {say_times(reason.times)}" for reason in why]
    return f"Hours if {SIDES[at]} had only one thing from {SIDES[1 - at]}: {', '.join(said)}."


def say_times(times: float) -> str:
    """A factor of hours in words.

    Examples
    --------
    >>> say_times(1.0412), say_times(4.449), say_times(float("inf"))
    ('× 1.04', '× 4.4', 'never')
    """
    if math.isnan(times):
        return "does not fit"
    if math.isinf(times):
        return "never"
    return f"× {say_number(times, 3 if 0.95 <= times < 2 else 2)}"


def _basis(left: Side, right: Side, lights: frozenset[str]) -> str:
    """What both share, and where the comparison is not like for like."""
    one, other = left.case, right.case
    said = []
    asked, other_asks = ({name: _asks(case, name) for name in sorted(lights)} for case in (one, other))
    if asked == other_asks:
        goals = list(dict.fromkeys(asked.values()))
        each = goals[0] if len(goals) == 1 else ", ".join(f"{asks} for {name}" for name, asks in asked.items())
        said.append(f"Both count until {each or 'the goal'}, of clear sky.")
    else:
        said.append("Mind that the two sides ask for a different SNR, or in another patch of sky.")
    for side, name in ((left, "right"), (right, "left")):
        lost = sorted(side.lights - lights)
        if lost:
            said.append(f"Left out, since {name} has no filter for it: {', '.join(lost)}.")
    if left.case.sky.measured and right.plan.changes:
        said.append("The measured sky goes along with a change by the ratio that the model gives.")
    if one.sky.gradient is None and other.sky.gradient is None:
        said.append("The town's light was taken as at the zenith on both sides.")
    return " ".join(said)


def _asks(case: Case, light: str) -> str:
    """SNR of a light's goal, and the patch it is counted in."""
    snr = f"SNR {say_number(case.goal_of(light))}"
    if light.startswith("star"):
        return snr
    return f"{snr} in the same {say_number(case.patch_of(light))}″ patch"


def _facts(left: Side, right: Side, same_h: float) -> Table:
    rows = (
        ("On the clock, all filters", _sum_hours),
        ("Length of a sub", _subs),
        (f"SNR after {say_duration(3600 * same_h)} each", lambda side: _snr_words(side, same_h)),
        (
            "One pixel",
            lambda side: f"{say_number(pixel_scale_arcsec(side.case.telescope, side.case.camera), 3)}″",
        ),
        ("Field", _field),
        ("Files to the goal", _gigabytes),
    )
    return Table(
        caption="Per patch of sky, not per pixel",
        head=("What", "Left", "Right"),
        rows=tuple((name, say(left), say(right)) for name, say in rows),
    )


def _sum_hours(side: Side) -> str:
    hours = _whole_hours(side, side.lights)
    if not side.lights:
        return "no light passes"
    return say_duration(3600 * hours) if math.isfinite(hours) else "never"


def _subs(side: Side) -> str:
    words = [say_duration(one.sub_s) for one in side.found.filters]
    return words[0] if len(set(words)) == 1 else _joined(words)


def _joined(words: list[str]) -> str:
    return " / ".join(words if len(words) <= 4 else [*words[:4], "…"])


def _snr_words(side: Side, same_h: float) -> str:
    return _joined([say_number(_snr_after(side.case, row, same_h)) for row in side.found.rows if row.light]) or "-"


def _snr_after(case: Case, row: Row, clock_h: float) -> float:
    """SNR of a light in the patch after some hours on the clock in its filter. [-]"""
    assert row.light is not None
    rate = rates(case, next(one for one in case.filters if one.name == row.filter_name))
    routine = case.routine
    kept = float(kept_share(row.sub_s, routine.lost_per_hour, routine.lost_at_dither))
    subs = clock_h * 3600 / (row.sub_s + routine.dead_s) * kept
    patch, habits = patch_of(case, rate, row.light, row.sub_s), habits_of(case, rate.scale_arcsec)
    return float(snr_per_patch(patch, habits, subs))


def _field(side: Side) -> str:
    sides = field_arcmin(side.case.telescope, side.case.camera)
    if max(sides) < 90:
        return " × ".join(f"{say_number(one)}′" for one in sides)
    return " × ".join(f"{say_number(one / 60)}°" for one in sides)


def _gigabytes(side: Side) -> str:
    sizes = [one.storage_gb for one in side.found.filters if one.neediest.light is not None]
    return f"{say_number(sum(filter(None, sizes)))} GB" if sizes and None not in sizes else "-"


def hours_table(left: Side, right: Side, same_h: float) -> Table:
    """Table behind the figure of hours: every light of every filter on both sides."""

    def words(side: Side, row: Row | None) -> tuple[str, ...]:
        if row is None:
            return ("none", "-", "-", "-")
        hours = say_duration(3600 * row.clock_h) if row.clock_h is not None else "never"
        return (
            row.filter_shown,
            say_duration(row.sub_s),
            hours,
            say_number(_snr_after(side.case, row, same_h)),
        )

    heads = (f"{name}: {what}" for name in ("Left", "Right") for what in ("filter", "sub", "clock", "SNR"))
    return Table(
        caption=f"Each light on both sides; SNR in the patch after {say_duration(3600 * same_h)} on the clock",
        head=("Light", *heads),
        rows=tuple(
            (pair.label, *words(left, pair.left), *words(right, pair.right)) for pair in _pairs(left.found, right.found)
        ),
    )


def reasons_table(found: Comparison) -> Table:
    """Table behind the figure of reasons."""
    loser = "left" if found.winner == "right" else "right"
    return Table(
        caption=f"Hours of {found.winner or 'the quicker side'} with one thing from {loser}, over its own hours",
        head=("Taken from the other side", "Hours", "Why"),
        rows=tuple((reason.section, say_times(reason.times), reason.words) for reason in found.reasons),
    )
