"""The answer of one filter in plain words, with numbers and units."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from expocalc.base.words import in_colour, say_duration, say_number, say_share
from expocalc.budget.assumed import assumed_sentence
from expocalc.budget.because import ceiling_sentence, hours_sentence, length_sentence, stars_sentence
from expocalc.budget.blame import Effort
from expocalc.budget.case import Case
from expocalc.budget.estimator import estimator_warning, median_refusal
from expocalc.budget.limits import Limits
from expocalc.budget.mount import end_of_sub
from expocalc.budget.noise import hours_growth, sub_variance_e2
from expocalc.budget.rates import Rates
from expocalc.budget.routine import LONGEST_SUB_S
from expocalc.budget.row import Row
from expocalc.budget.whose import of_read_noise, of_sky, of_star

__all__ = ["verdict", "why_that_long"]

_TOO_LONG = {
    "mount": "the mount does not hold",
    "saturation": "the star of magnitude {star} that must not fill the well does{star_in}",
    "sky share": "the sky fills more of the well than you allow{sky_in}",
}
_WHY = {
    "mount": "the mount allows no longer",
    "saturation": "in longer ones the star of magnitude {star} that must not fill the well would{star_in}",
    "sky share": "in longer ones the sky would fill more of the well than you allow{sky_in}",
    "day": "no sub is longer than a day",
    "losses": "longer subs lose more than they gain",
    "dead time": "shorter subs lose more to the pauses between them",
    "nothing": "nothing speaks against longer ones",
    "whole subs": "so few will do that a part of one more would count",
}


def verdict(case: Case, rate: Rates, rows: tuple[Row, ...], limits: Limits, most: Row) -> tuple[str, ...]:
    """Sentences that answer: how long, why, at what price, how many hours."""
    sentences = [_sub_sentence(case, rate, rows, limits, most), _price_sentence(case, rate, rows, most)]
    longest_s = float(min(limits.least_s, LONGEST_SUB_S))
    effort = None if most.light is None else Effort(case, rate, most.light, most.sub_s)
    if most.light is None:
        sentences.append(_dark_sentence(rate))
    elif effort is None or most.kept is None or most.kept_h is None:
        sentences.append(_hopeless_sentence(case, rate, most, longest_s))
    elif most.shot is None or most.clock_h is None:
        sentences.append("Hardly a sub of that length survives the losses, so no number of hours will do.")
    else:
        where = f"{say_number(most.patch_arcsec)}″ patch" if most.patch_arcsec else "fit"
        sentences.append(
            f"SNR {say_number(most.goal_snr)} for {most.light} in the {where} takes {most.kept} {_subs(most.kept)} "
            f"kept ({say_duration(most.kept_h * 3600)}) out of {most.shot} shot, "
            f"{say_duration(most.clock_h * 3600)} on the clock, at best."
        )
        if case.routine.sub_length is not None and most.sub_s <= longest_s:
            sentences.append(length_sentence(effort, min(most.sub_best_s, longest_s)))
        sentences.append(hours_sentence(effort, longest_s))
        sentences.append(estimator_warning(case.routine.stacking, most.kept, case.routine.clip) or "")
    if effort is not None:
        sentences.append(assumed_sentence(case.routine))
        sentences.append(stars_sentence(case.target))
    sentences.append(_sky_sentence(case, rate))
    return tuple(filter(None, sentences))


def _dark_sentence(rate: Rates) -> str:
    """A filter that passes nothing that is asked of it."""
    if rate.extended or rate.stars:
        return f"The filter passes none of the light that it is wanted for ({', '.join(rate.wanted or ())})."
    return "The filter passes none of the target's light, so no number of hours will show it."


def _sub_sentence(case: Case, rate: Rates, rows: tuple[Row, ...], limits: Limits, most: Row) -> str:
    length, name = say_duration(most.sub_s), case.filter_shown(most.filter_name)
    longest, bound = limits.least
    worst = max(rows, key=lambda row: row.sub_shortest_s)
    shortest, inside = worst.sub_shortest_s, in_colour(of_read_noise(case, rate, worst))
    if case.routine.sub_length is not None:
        if most.sub_s <= longest * (1 + 1e-9):
            return f"{name}: {length} subs, as you set."
        past = f"past {say_duration(longest)} {_why(case, rate, bound, _TOO_LONG)}"
        return f"{name}: {length} subs, as you set, are too long: {past}."
    wish, why, few = "", _why(case, rate, most.bounded_by, _WHY), most.bounded_by == "whole subs"
    if shortest > most.sub_s * (1 + 1e-9) and math.isfinite(shortest):
        but = "that would lose more" if most.bounded_by == "losses" else why
        if few:
            but = _why(case, rate, bound, _WHY) if shortest > longest else ""
        wish = (
            f"{say_duration(shortest)} would be needed to keep read noise within {say_share(case.goal.noise_growth)}"
            f"{inside}{but and ', but '}{but}"
        )
        if most.bounded_by != "losses" and not few:
            return f"{name}: take {length} subs, the longest there is; {wish}."
    reach = "; ".join(filter(None, (wish, "" if few else _reach(most))))
    return f"{name}: take {length} subs ({why}){reach and '; '}{reach}."


_TRAILS = {
    "own": "",
    "drift": "stars drift too far, as nothing guides and the polar axis is off",
    "rotation": "the corners turn too far about the guide star, as the polar axis is off",
    "flexure": "stars wander too far from where guiding holds them",
}
"""How the mount ends a sub where the plan sets no limit of its own."""


def why_that_long(case: Case, rate: Rates, bounded_by: str) -> str:
    """What ends a sub of automatic length, in words."""
    return _why(case, rate, bounded_by, _WHY)


def _why(case: Case, rate: Rates, name: str, words: Mapping[str, str]) -> str:
    if name == "mount" and (trail := _TRAILS[end_of_sub(case)[0]]):
        return trail if words is _TOO_LONG else f"in longer ones {trail}"
    star = case.goal.unsaturated_star
    return words[name].format(
        star="" if star is None else say_number(float(star.value), 3),
        star_in=in_colour(of_star(rate)),
        sky_in=in_colour(of_sky(rate)),
    )


def _reach(most: Row) -> str:
    """Lengths that are as good, with how many subs they would be; nothing where there is hardly a choice."""
    low, high = most.sub_low_s, most.sub_high_s
    if most.shot is None or low >= high * 0.98:
        return ""
    to = "up" if high >= LONGEST_SUB_S else f"to {_so_many(high, most.shot_high, most)}"
    return f"anything from {_so_many(low, most.shot_low, most)} {to} costs at most 2 % more hours"


def _subs(count: float) -> str:
    return "sub" if count == 1 else "subs"


def _so_many(sub_s: float, subs: float | None, most: Row) -> str:
    """A length and how many subs that is; of the advised length as many as are said to be shot."""
    length = say_duration(sub_s)
    if most.shot is not None and length == say_duration(most.sub_s):
        return f"{length} ({most.shot:.0f} {_subs(most.shot)})"
    whole = None if subs is None else max(round(subs), 1)
    count = "" if whole is None else f" ({whole if whole < 100 else say_number(whole)} {_subs(whole)})"
    return f"{length}{count}"


def _price_sentence(case: Case, rate: Rates, rows: tuple[Row, ...], most: Row) -> str:
    """What read noise adds where it adds more than is wished, to the light that suffers most from it."""
    worst = max(rows, key=lambda row: row.sub_shortest_s)
    if math.isinf(worst.sub_shortest_s):
        return "Read noise is all the noise there is."
    if worst.sub_shortest_s <= most.sub_s * (1 + 1e-9):
        return ""
    growth = math.sqrt(1 + float(hours_growth(case.goal.noise_growth)) * worst.sub_shortest_s / most.sub_s) - 1
    return (
        f"At that length read noise adds {say_share(growth)} to the noise{in_colour(of_read_noise(case, rate, worst))}."
    )


def _hopeless_sentence(case: Case, rate: Rates, most: Row, longest_s: float) -> str:
    """Why no number of hours reaches the goal."""
    at = rate.colours.index(most.colour) if most.colour else 0
    setting, goal = case.camera.setting, say_number(most.goal_snr)
    if float(rate.sky_e_s[at] + rate.dark_e_s) * most.sub_s >= setting.saturation_e:
        return (
            f"Sky and dark current alone fill the well{in_colour(most.colour)} in a sub of that length, so that "
            "nothing shows in any number of hours; the median stands at its top."
        )
    if case.routine.stacking == "median":
        variance = float(sub_variance_e2(rate.background_e_s[at], most.sub_s, setting.read_variance_e2))
        refusal = median_refusal(variance, setting.read_variance_e2, setting.native_step_e)
        if refusal:
            return f"No hours are given: {refusal}."
    if most.goal_snr >= most.snr_ceiling:
        assert most.light is not None
        return ceiling_sentence(Effort(case, rate, most.light, most.sub_s), longest_s)
    return f"{most.light} is far too faint for SNR {goal} in any number of hours."


def _beside_model(rate: Rates) -> str:
    """The measured sky over the model's, colour by colour."""
    pairs = zip(rate.colours, rate.sky_e_s, rate.model_sky_e_s, strict=True)
    said = [(colour, say_number(float(sky / model))) for colour, sky, model in pairs if model > 0]
    if not said:
        return ""
    each = [number if colour == "mono" else f"{number}{in_colour(colour)}" for colour, number in said]
    return f", {', '.join(each)} times what the model expects"


def _sky_sentence(case: Case, rate: Rates) -> str:
    """What the sky rate rests on, where that is not the model at the target's altitude."""
    if rate.sky_e_s is not rate.model_sky_e_s:
        times = _beside_model(rate)
        when, there = case.measured_under.date, case.measured_under.altitude
        said = f"The sky is the one you measured{f' ({when})' if when else ''}{times}."
        if there is not None:
            return said
        moon = "with the Moon down" if case.measured_under.moon is None else "under its own Moon"
        altitude = say_number(float(case.target.altitude.value))
        return f"{said} It is taken as measured at {altitude}° {moon}, since the plan names no altitude of it."
    if case.sky.told is not None:
        return f"The sky rests on the lamps that {len(case.sky.told.measured)} measured rates tell."
    if rate.moon_e_s.any():
        without = rate.sky_e_s - rate.moon_e_s
        lit = without > 0
        brighter = np.where(lit, rate.sky_e_s / np.where(lit, without, 1.0), math.inf if not lit.any() else 0.0)
        at = int(brighter.argmax())
        inside = in_colour(rate.colours[at]) if len(rate.colours) > 1 else ""
        return f"The Moon makes the sky in this filter {say_number(float(brighter[at]))} times as bright{inside}."
    if case.sky.gradient is None and case.sky.mix.town and float(case.target.altitude.value) < 75:
        return "The town's light was taken as at the zenith; lower down it is brighter."
    return ""
