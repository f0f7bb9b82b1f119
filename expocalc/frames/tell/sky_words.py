"""The sentences on a test sub: whether its length is right, what the sky brings, and the hours that it leaves."""

from __future__ import annotations

from collections.abc import Mapping

from expocalc.base.words import in_colour, say_duration, say_number, say_span
from expocalc.budget.planned import plan_for
from expocalc.budget.ranges import Range
from expocalc.budget.row import FilterAnswer
from expocalc.frames.measure.sub import SubFound
from expocalc.frames.tell.conditions import Seen

__all__ = ["advice_of", "hours_words", "no_sky_words", "sky_words"]

_ROUND = 1.02


def advice_of(found: SubFound, now: FilterAnswer) -> tuple[str, str]:
    """Whether the sub's length is right under the measured sky."""
    row, length = now.neediest, found.exposure_s
    low = min(row.sub_low_s, row.sub_s)
    high = min(max(row.sub_high_s, row.sub_s), row.sub_longest_s)
    best = say_duration(now.sub_s)
    if length < low / _ROUND:
        return "longer", f"Take longer subs: {best} instead of {say_duration(length)}"
    if length > high * _ROUND:
        return "shorter", f"Take shorter subs: {best} instead of {say_duration(length)}"
    return "keep going", f"Keep going with {say_duration(length)} subs"


def hours_words(now: FilterAnswer, planned: FilterAnswer, hours: Range | None) -> str:
    """Hours for the goal with the measured sky, and by the plan's own."""
    if now.neediest.light is None:
        return f"{now.filter_shown} passes none of the target's light"
    row = now.neediest
    asked = "the goal" if len(now.rates.lights) < 2 else f"the goal of {row.light}{in_colour(row.colour)}"
    if now.kept_h is None:
        return f"With this sky no number of hours reaches {asked}"
    before = f", instead of {say_duration(3600 * planned.kept_h)} at best with the plan's sky" if planned.kept_h else ""
    goal = f"{say_duration(3600 * now.kept_h)} at best" if hours is None else plan_for(now.kept_h, hours)
    return f"Hours for {asked} under this sky, at the plan's altitude and Moon: {goal}{before}"


_ABOVE = {"two lengths": "what both subs have in common"}
"""What a sky would stand above, where that is not what was taken off."""


def no_sky_words(found: SubFound) -> tuple[str, str]:
    """That no sky was seen, and what may be behind it; of the colour that most pixels have."""
    one, above = found.colours[found.main], _ABOVE.get(found.method, found.method)
    error = (one.high_e_s - one.low_e_s) / 2
    if one.sky_e_s < -2 * error:
        return (
            f"No sky was seen: the sub lies {say_number(-one.sky_e_s)} electron/s a pixel below {above}",
            "That level is not this sub's: another gain, offset, length, temperature or dark, or light fell on it",
        )
    return (
        f"No sky was seen above {above}: it is at most {say_number(one.sky_e_s + 2 * error)} electron/s a pixel",
        "A cap or a closed shutter, or a sub too short for so dark a sky: take a longer one",
    )


def sky_words(
    found: SubFound,
    ratio: Mapping[str, float] | None = None,
    doubt: tuple[float, float] | None = None,
    seen: Seen | None = None,
) -> str:
    """What the sky brings, beside the plan's where there is one."""
    parts = []
    for colour, one in found.colours.items():
        name = "" if colour == "mono" else f"{colour} "
        parts.append(f"{name}{say_number(one.sky_e_s, 3) if one.seen else 'no'}")
    sentence = f"The sky brings {', '.join(parts)} electron/s to a pixel"
    if ratio is None or doubt is None or seen is None:
        return sentence
    usual, (low, high) = ratio[found.main], doubt
    of = "" if found.main == "mono" else " in green"
    within = "within" if low <= usual <= high else "beyond"
    return (
        f"{sentence}, {say_number(usual)} times what the plan expects{of}, {within} its doubt of "
        f"{say_span(say_number(low), say_number(high))} (for {seen.words})"
    )
