"""What to do in the night, in finished words; the field sheet and the printed page both say it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from expocalc.base.words import say_duration, say_given, say_number, say_share
from expocalc.budget.case import Case
from expocalc.budget.planned import plan_for_each, say_range
from expocalc.budget.ranges import Range
from expocalc.budget.routine import Routine
from expocalc.budget.row import Answer, FilterAnswer
from expocalc.budget.spread import Spread
from expocalc.budget.terms import terms_of
from expocalc.budget.whose import whose_hours
from expocalc.light.lights import StarLight
from expocalc.light.site import Site
from expocalc.night.night import tonight_of
from expocalc.night.windows import almanac_of, position_of
from expocalc.night.words import second_best
from workbook.parts.reading import say_sky
from workbook.parts.units import units_now

__all__ = ["FilterWords", "Night", "goal_words", "night"]

SAFETY = (
    "Cap the telescope before sunrise. Use outdoor leads and a residual-current switch.",
    "Estimates for a clear sky; no safety device.",
)


@dataclass(frozen=True, kw_only=True)
class FilterWords:
    """One filter: what to shoot, and what a raw sub should read.

    Attributes
    ----------
    name : str
    whose : str
        The light that sets its hours, where it is for several.
    sub, shoot, kept, clock, storage : str
    likely : str
        Kept hours to plan for, and in eight cases of ten.
    median : str
        Expected median of a raw sub between the stars, in stored ADU.
    twice : str
        The same under a sky twice as bright.
    """

    name: str
    whose: str
    sub: str
    shoot: str
    kept: str
    likely: str
    clock: str
    storage: str
    median: str
    twice: str


@dataclass(frozen=True, kw_only=True)
class Night:
    """The night in words.

    Attributes
    ----------
    title, target, goal, gear, sky, tonight, dither, stop : str
        `tonight` says how long it is dark with the target up, and how many such nights the whole takes.
    cloud : str
        What to do if the night begins cloudy; empty where it has nothing to do.
    filters : tuple of FilterWords
    total : FilterWords
        All filters together; empty words where a sum says nothing.
    planned : str
        Kept hours to plan for, by filter.
    calibration : tuple of (str, str)
        Kind of frame, and how many of which.
    safety : tuple of str
    """

    title: str
    target: str
    goal: str
    gear: str
    sky: str
    tonight: str
    cloud: str
    filters: tuple[FilterWords, ...]
    total: FilterWords
    planned: str
    dither: str
    stop: str
    calibration: tuple[tuple[str, str], ...]
    safety: tuple[str, ...] = SAFETY


def night(case: Case, found: Answer, hours: Spread) -> Night:
    """Words of a solved case.

    Parameters
    ----------
    case : Case
    found : Answer
        The case's own.
    hours : Spread
        The case's own.

    Returns
    -------
    Night
    """
    target, telescope = case.target, case.telescope
    place = f"{say_number(float(target.altitude.value))} deg high"
    if target.right_ascension is not None:
        east, north = float(target.right_ascension.value), float(target.declination.value)
        place = f"RA {east:.3f} deg, Dec {north:+.3f} deg, {place}"
    return Night(
        title=case.title,
        target=f"{target.name}, {place}",
        goal=goal_words(case, found),
        gear=f"{units_now().say_mm(float(telescope.aperture.value))} at f/{telescope.focal_ratio:.3g}, "
        f"{_setting(case)}",
        sky=_sky(case),
        tonight=_tonight(case, found),
        cloud=second_best(tonight_of(case)),
        filters=tuple(_filter_words(case, one, hours) for one in found.filters),
        total=_total(found),
        planned=plan_for_each({one.filter_shown: hours.filters.get(one.filter_name) for one in found.filters}),
        dither=_dither(case),
        stop=_stop(case.site),
        calibration=_calibration(case, found),
    )


def _setting(case: Case) -> str:
    camera = case.camera
    noise = say_number(float(camera.setting.read_noise.value))
    return f"gain {camera.gain}, read noise {noise} e-, {float(camera.temperature.value):.3g} C"


def goal_words(case: Case, found: Answer) -> str:
    """What is to be reached, and by which lights: those that a filter is for, each with the goal that it has."""
    asked = {name for one in found.filters for name in one.rates.lights}
    said: dict[str, list[str]] = {}
    for name, light in case.target.named_lights:
        if asked and name not in asked:
            continue
        goal = f"SNR {say_given(case.goal_of(name))}"
        if not isinstance(light, StarLight):
            goal += f" in a patch of {say_number(case.patch_of(name))} arcsec"
        value = next(getattr(light, kind) for kind in ("brightness", "continuum", "star") if hasattr(light, kind))
        said.setdefault(goal, []).append(f"{name} {say_number(float(value.value), 3)} {value.unit.to_string()}")
    return "; ".join(f"{goal}: {', '.join(lights)}" for goal, lights in said.items())


def _sky(case: Case) -> str:
    """The reading that the numbers rest on."""
    sky = case.sky
    kind = {
        "zenith_brightness": f"a reading in {sky.reading_band}", "bortle": f"Bortle class {sky.bortle}",
        "luminance": "a luminance", "naked_eye_limit": "the faintest star seen",
    }[sky.reading_name]  # fmt: skip
    measured = f"; measured in {', '.join(map(case.filter_shown, sky.measured))}" if sky.measured else ""
    measured += "; lamps from these rates" if sky.told is not None else ""
    return f"{say_sky(sky, '.2f')} overhead, from {kind}{measured}"


def _tonight(case: Case, found: Answer) -> str:
    """Hours of this night, and how many nights like it the whole takes."""
    night_ = tonight_of(case)
    date = f"{night_.evening.date:%d %b %Y}"
    if almanac_of(case) is None:
        return f"{date}: give the plan a latitude and a longitude, and it says when it is dark"
    hours = sum(window.end_s - window.begin_s for window in night_.windows) / 3600
    up = "dark, target up" if position_of(case) is not None else "dark"
    if not hours:
        return f"{date}: never {up}"
    begin, end = (f"{night_.evening.local(t):%H:%M}" for t in (night_.windows[0].begin_s, night_.windows[-1].end_s))
    clock = [one.clock_h for one in found.filters if one.neediest.light is not None]
    whole = None if None in clock else sum(filter(None, clock))
    nights = f"; all of it takes at best {max(whole / hours, 0.1):.1f} such nights, if clear" if whole else ""
    return f"{date}: {up} {begin} to {end}, {_hours(hours)}{nights}"


def _filter_words(case: Case, one: FilterAnswer, hours: Spread) -> FilterWords:
    return FilterWords(
        name=one.filter_shown,
        whose=whose_hours(one),
        sub=say_duration(one.sub_s),
        shoot="-" if one.shot is None else f"{one.shot:.0f}",
        kept=_hours(one.kept_h),
        likely=_likely(hours.filters.get(one.filter_name)),
        clock=_hours(one.clock_h),
        storage=_storage(one.storage_gb),
        median=_medians(case, one, 1),
        twice=_medians(case, one, 2),
    )


def _medians(case: Case, one: FilterAnswer, times: float) -> str:
    """Expected median of a raw sub in each colour, under a sky so many times as bright. [ADU]"""
    setting, rate = case.camera.setting, one.rates
    behind = times * np.asarray(rate.sky_e_s) + rate.dark_e_s
    above = np.minimum(behind * one.sub_s, terms_of(case).saturation_e) / setting.electrons_per_adu
    bias = setting.bias_level
    read = [round(adu, 1) for adu in above.tolist()]  # a camera stores whole numbers
    said = [f"bias+{say_number(adu, 3)}" if bias is None else say_number(adu + bias, 3) for adu in read]
    if len(said) == 1:
        return said[0]
    return ", ".join(f"{colour} {adu}" for colour, adu in zip(rate.colours, said, strict=True))


def _hours(hours: float | None) -> str:
    return "-" if hours is None else say_duration(3600 * hours)


def _likely(hours: Range | None) -> str:
    if hours is None or math.isinf(hours.p50_h):
        return "-"
    if math.isinf(hours.p90_h):
        return f"{_hours(hours.p50_h)} or more"
    half, around = _hours(hours.p50_h), say_range(hours)
    return half if around == half else f"{half}, {around}"


def _storage(gigabytes: float | None) -> str:
    return "-" if gigabytes is None else f"{say_number(gigabytes)} GB"


def _total(found: Answer) -> FilterWords:
    """Sum over the filters that pass light; none where one of them never gets there."""

    def of(name: str) -> float | None:
        numbers = [getattr(one, name) for one in found.filters if one.neediest.light is not None]
        return sum(numbers) if numbers and None not in numbers else None

    shot = of("shot")
    return FilterWords(
        name="All",
        whose="",
        sub="",
        shoot="-" if shot is None else f"{shot:.0f}",
        kept=_hours(of("kept_h")),
        likely="",
        clock=_hours(of("clock_h")),
        storage=_storage(of("storage_gb")),
        median="",
        twice="",
    )


def _dither(case: Case) -> str:
    routine = case.routine
    if routine.dither_every is None:
        return "none planned"
    every = "sub" if routine.dither_every == 1 else f"{routine.dither_every} subs"
    return f"after every {every}, in a box of {say_number(float(routine.dither_size.value))} pixels"


def _stop(site: Site) -> str:
    lowest = max(altitude for _, altitude in site.horizon)
    skyline = f"{say_number(lowest)} deg" if lowest > 0 else "your skyline"
    return f"A filter: when its subs are shot. All: target at {skyline}, or dawn lifts the median."


def _calibration(case: Case, found: Answer) -> tuple[tuple[str, str], ...]:
    routine, setting = case.routine, case.camera.setting
    lengths = list(dict.fromkeys(say_duration(one.sub_s) for one in found.filters))
    flat_e = routine.flat_level * float(setting.full_well.value)
    flat_adu = flat_e / setting.electrons_per_adu + (setting.bias_level or 0)
    level = f"at {say_share(routine.flat_level)} of the well" + (
        f", {say_number(flat_adu, 3)} ADU" if setting.bias_level is not None else ""
    )
    filters = f"each of {len(found.filters)} filters" if len(found.filters) > 1 else found.filters[0].filter_shown
    return (
        ("Darks", _frames(routine, "darks", f"{' and '.join(lengths)}, gain and temperature as above")),
        ("Flats", _frames(routine, "flats", f"{filters}, {level}")),
        *((("Biases", f"{routine.biases}"),) if routine.biases else ()),
    )


def _frames(routine: Routine, kind: str, which: str) -> str:
    """How many darks or flats, and which."""
    said = getattr(routine, kind)
    if said == "none":
        return "none planned"
    if said == "perfect":
        return f"perfect ones, of {which}"
    return f"{routine.frames(kind):g}{' (assumed)' if said is None else ''} of {which}"
