"""The verdict on two plans, in plain words."""

from __future__ import annotations

import math

from expocalc.base.words import say_count, say_duration, say_given, say_number, say_share
from expocalc.budget.assumed import assumed_sentence
from expocalc.budget.case import Case
from expocalc.budget.routine import Routine
from workbook.compare.reasons import Reason
from workbook.compare.sides import SIDES, Pair, Side, setters
from workbook.parts.light_in_view import ALL

__all__ = ["basis", "headline", "others", "say_times"]


def headline(
    pairs: tuple[Pair, ...],
    lights: frozenset[str],
    hours: list[float],
    at: int,
    wins: bool,
    why: tuple[Reason, ...],
    times: float,
) -> str:
    """Which side wins, by how much and why.

    Parameters
    ----------
    pairs : tuple of Pair
    lights : frozenset of str
        Lights that both sides show.
    hours : list of float
        Of both sides, in whole subs. [h]
    at : int
        Number of the quicker side.
    wins : bool
        Whether it is so by more than anyone would overlook.
    why : tuple of Reason
    times : float
        Hours of the other side over its own. [-]
    """
    if not lights:
        return "The two plans show no light in common, so their hours can't be compared."
    best, worst = (say_duration(3600 * h) for h in (hours[at], hours[1 - at]))
    if math.isinf(hours[at]):
        return _neither(pairs)
    if not wins:
        if not why:
            return f"Both sides are the same: at best {best} on the clock. Change something on the right."
        one, other = (best, worst) if at == 0 else (worst, best)
        return f"Hardly a difference: at best {one} on the clock on the left, {other} on the right."
    because = _because(math.log(times), why)
    name = SIDES[at].capitalize()
    if math.isinf(times):
        never = f"{name} wins: at best {best} on the clock, and {SIDES[1 - at]} never reaches its goal{because}"
        return f"{never}{_enough(SIDES[1 - at], why)}."
    return f"{name} wins: at best {best} on the clock instead of {worst}, {_fewer(times)}{because}."


def _neither(pairs: tuple[Pair, ...]) -> str:
    """Which light keeps both sides from their goal."""
    never = [pair for pair in pairs if pair.left_h == pair.right_h == math.inf]
    said = "Neither side reaches its goal in any number of hours"
    if not never:
        return f"{said}."
    others = say_count(len(never) - 1, "other")
    more = f" (nor {'does' if len(never) == 2 else 'do'} {others})" if len(never) > 1 else ""
    return f"{said}: {never[0].label} never does{more}."


def _fewer(times: float) -> str:
    often = f"{say_number(times).removesuffix('.0')} times" if times >= 1.5 else say_share(1 - 1 / times)
    return f"{often} fewer hours"


def _because(whole: float, why: tuple[Reason, ...]) -> str:
    """The leading reason, as far as there is one."""
    helping = [reason for reason in why if reason.times > 1]
    if not helping:
        return ""
    lead = helping[0]
    alone = len(why) == 1 or _enough("", why)
    how = "because" if alone else "mostly because" if lead.weight >= 0.6 * whole else "first of all because"
    return f", {how} {lead.words}" if lead.words else f", {how.removesuffix(' because')} by its {lead.section}"


def _enough(loser: str, why: tuple[Reason, ...]) -> str:
    """What else keeps the loser from its goal all by itself, beside the leading reason."""
    others = [reason.section for reason in why if math.isinf(reason.times)][1:]
    return f"; {loser}'s {' or '.join(others)} alone would do the same" if others else ""


def others(at: int, wins: bool, why: tuple[Reason, ...]) -> str:
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


def basis(left: Side, right: Side, lights: frozenset[str]) -> str:
    """What both share, and where the comparison is not like for like."""
    one, other = left.case, right.case
    said = []
    asked, other_asks = ({name: _asks(case, name) for name in sorted(lights)} for case in (one, other))
    if asked == other_asks:
        goals = {asks: [name for name in asked if asked[name] == asks] for asks in asked.values()}
        each = [asks if len(goals) == 1 else f"{asks} for {', '.join(names)}" for asks, names in goals.items()]
        said.append(f"Both count until {'; '.join(each) or 'the goal'}, under a clear sky.")
    else:
        said.append("Mind that the two sides ask for a different SNR, or in another patch of sky.")
    said += _setters(left, right, lights)
    for side, name in ((left, "right"), (right, "left")):
        lost = sorted(side.lights - lights)
        if lost:
            said.append(f"Left out, since {name} has no filter for it: {', '.join(lost)}.")
    if left.case.sky.measured and right.plan.changes:
        said.append("The measured sky goes along with a change by the ratio that the model gives.")
    said += _assumed(one.routine, other.routine)
    if one.sky.gradient is None and other.sky.gradient is None:
        said.append("The town's light was taken as at the zenith on both sides.")
    return " ".join(said)


def _setters(left: Side, right: Side, lights: frozenset[str]) -> list[str]:
    """Which light the hours of a filter for several are those of."""
    if left.light != ALL:
        return [f"Only {left.light} is in view."]
    names = [" and ".join(setters(side, lights)) for side in (left, right)]
    if names[0] == names[1]:
        return [f"Hours are those of {names[0]} on both sides."] if names[0] else []
    told = [f"of {name} on the {side}" for name, side in zip(names, SIDES, strict=True) if name]
    return [f"Hours are those {' and '.join(told)}."]


def _assumed(one: Routine, other: Routine) -> list[str]:
    """What neither plan says, and what only one of them leaves to be assumed."""
    said = {"left": assumed_sentence(one), "right": assumed_sentence(other)}
    if said["left"] == said["right"]:
        return [said["left"]] if said["left"] else []
    return [f"On the {side}: {words[0].lower()}{words[1:]}" for side, words in said.items() if words]


def _asks(case: Case, light: str) -> str:
    """SNR of a light's goal, and the patch it is counted in."""
    snr = f"SNR {say_given(case.goal_of(light))}"
    if light.startswith("star"):
        return snr
    return f"{snr} in the same {say_number(case.patch_of(light))}″ patch"
