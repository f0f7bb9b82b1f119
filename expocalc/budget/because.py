"""Why a light takes its hours, or never reaches its goal, in words: each is what the numbers say."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from expocalc.base.words import say_duration, say_number, say_share
from expocalc.budget.assumed import frames_said
from expocalc.budget.blame import CAUSES, Blame, Effort
from expocalc.budget.calibration import Calibration, common_variance_e2
from expocalc.budget.cure import Cure, cures, lift
from expocalc.light.star_counts import LEAST_LATITUDE_DEG, galactic
from expocalc.light.target import Target

__all__ = [
    "calibration_words",
    "ceiling_sentence",
    "hours_sentence",
    "length_sentence",
    "stars_sentence",
]

_MENTIONED = 0.05
"""A second cause is named where it costs this share of the hours."""
_NOTICED = 1.02


def hours_sentence(effort: Effort, longest_s: float = math.inf) -> str:
    """What costs most of the hours on the clock, and what would cure it; empty where there is no such thing.

    Parameters
    ----------
    effort : Effort
        With finite hours.
    longest_s : float, optional
        Longest sub that is allowed. [s]
    """
    blame = Blame.of(effort)
    if not blame.ranked:
        return ""
    first, *others = blame.ranked
    saved = blame.saved_h(first)
    much = "Most" if saved > effort.hours / 2 else "The largest part"
    said = f"{much} of that is {_named(effort, first)}, without which {_hours(blame.hours_h[first])} would do"
    said += _cured(_best(effort, first, longest_s))
    second = next(iter(others), None)
    if second and blame.saved_h(second) >= _MENTIONED * effort.hours:
        said += f". Then comes {_named(effort, second)}, {_hours(blame.saved_h(second))} of it"
        said += _cured(_best(effort, second, longest_s))
    return f"{said}."


def length_sentence(effort: Effort, best_s: float) -> str:
    """What subs cost against the best ones, and which cause makes it; empty where hardly anyone would notice.

    Parameters
    ----------
    effort : Effort
    best_s : float
        Best length that is allowed. [s]
    """
    best = dataclasses.replace(effort, sub_s=best_s)
    if math.isinf(effort.hours) or math.isinf(best.hours) or effort.hours < _NOTICED * best.hours:
        return ""
    own, other = Blame.of(effort), Blame.of(best)
    left = {
        cause: own.hours_h[cause] / other.hours_h[cause] - 1
        for cause in CAUSES
        if other.hours_h[cause] > 0 and math.isfinite(own.hours_h[cause])
    }
    more = effort.hours / best.hours - 1
    said = f"That is {say_share(more)} more than with {say_duration(best_s)} subs"
    cause = min(left, key=lambda one: left[one], default=None)
    if cause is None or left[cause] > 0.9 * more:
        return f"{said}."
    rest = f"{say_share(left[cause])} more" if left[cause] > 0.005 else "no more"
    return f"{said}; without {_named(effort, cause)} it would be {rest}."


def ceiling_sentence(effort: Effort, longest_s: float = math.inf) -> str:
    """What ends the SNR of a light below its goal, the cheapest change that lifts it, and what asks for less."""
    blame = Blame.of(effort)
    cause = blame.capping
    case = effort.case
    goal = say_number(case.goal_of(effort.light))
    start = f"SNR {goal} for {effort.light} is out of reach"
    if cause is None:
        return f"{start} in any number of hours."
    said = f"{start}: {_named(effort, cause)} ends it at {say_number(effort.ceiling)} whatever the hours"
    found = lift(effort, cause, longest_s)
    said += f". With {found.words} it takes {_hours(found.effort.hours)} on the clock." if found else "."
    if effort.light in effort.rate.extended:
        wide = 2 * case.patch_of(effort.light)
        wider = dataclasses.replace(effort, side_arcsec=wide)
        if math.isfinite(wider.hours):
            said += f" A patch of {say_number(wide)}″ would ask for less: {_hours(wider.hours)}."
    return said


def stars_sentence(target: Target) -> str:
    """How faint stars count nearer to the Milky Way's plane than the star counts are good for; else empty."""
    if target.right_ascension is None or target.declination is None:
        return ""
    _, latitude = galactic(float(target.right_ascension.value), float(target.declination.value))
    if abs(latitude) >= LEAST_LATITUDE_DEG:
        return ""
    away = f"The target lies {say_number(abs(latitude))}° from the plane of the Milky Way"
    if target.stars_removed_to is None:
        return f"{away}: stars too faint to be taken out are not counted."
    most = say_number(LEAST_LATITUDE_DEG)
    return f"{away}: stars too faint to be taken out are counted as at {most}°, and there are more."


def calibration_words(effort: Effort) -> str:
    """The dearest part of what calibration leaves, with how it is seen through the dither."""
    routine, habits, patch = effort.case.routine, effort.habits, effort.patch
    used = habits.calibration
    parts = {
        frames_said(routine, "darks"): dataclasses.replace(
            used, flats=math.inf, fixed_e=0.0 if routine.frames("darks") else used.fixed_e, flat_pattern=0.0
        ),
        frames_said(routine, "flats"): dataclasses.replace(
            used, darks=math.inf, dark_pattern=0.0, fixed_e=0.0,
            flat_pattern=0.0 if routine.frames("flats") else used.flat_pattern,
        ),
        "the camera's own pattern": Calibration(
            fixed_e=used.fixed_e if routine.frames("darks") else 0.0,
            flat_pattern=used.flat_pattern if routine.frames("flats") else 0.0,
        ),
    }  # fmt: skip
    at = int(np.argmax(effort.parts.worth))
    light_e = (patch.signal_e_s + patch.light_e_s)[at] * effort.sub_s
    dark_e = effort.rate.dark_e_s * effort.sub_s
    sizes = {
        words: float(common_variance_e2(light_e, dark_e, patch.read_variance_e2, part)) for words, part in parts.items()
    }
    words = max(sizes, key=lambda one: sizes[one])
    if routine.dither_every is None:
        return f"{words}, without dither"
    return f"{words} seen through a dither box of {float(routine.dither_size.value):g} pixels"


def _named(effort: Effort, cause: str) -> str:
    return f"{CAUSES[cause]} ({calibration_words(effort)})" if cause == "calibration" else CAUSES[cause]


def _hours(hours: float) -> str:
    return say_duration(3600 * hours)


def _best(effort: Effort, cause: str, longest_s: float) -> Cure | None:
    """The cure that saves most; None where none saves a noticeable part."""
    found = min(cures(effort, cause, longest_s=longest_s), key=lambda one: one.effort.hours, default=None)
    return found if found and found.effort.hours * _NOTICED < effort.hours else None


def _cured(cure: Cure | None) -> str:
    return f"; with {cure.words} it takes {_hours(cure.effort.hours)}" if cure else ""
