"""What would cure a cause of many hours, or lift a ceiling: one change of the routine or the rig, with its hours.

The sub length stays, but for a cure that is another length. Cures of one cause stand in the order of what they take:
first what costs nothing, then more frames, then another place or other gear.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import astropy.units as u

from expocalc.base.words import say_duration, say_number, say_share
from expocalc.budget.blame import Effort
from expocalc.budget.routine import RAREST_DITHER, USUAL_FRAMES, WIDEST_BACKGROUND_ARCSEC, Routine
from expocalc.gear.camera import COLDEST_DEG_C

__all__ = ["CADENCE", "Cure", "cures", "lift"]

CADENCE = 3
"""Subs between dithers where a plan has none: common practice, no source."""
DARKER_MAG = 1.0
COOLER_K = 10.0
_MOST_DOUBLINGS = 6
_FAINTEST_STAR = 30.0
_MANY_H = 300.0
"""Hours on the clock that someone may still give a picture: common practice, no source. [h]"""
_MOST_BOX_PX, _MOST_FRAMES = 500.0, 500
"""Beyond them nobody goes: common practice, no source."""


@dataclass(frozen=True, eq=False)
class Cure:
    """One change: its words ("a dither box of 60 pixels") and what the light takes with it."""

    words: str
    effort: Effort


def cures(effort: Effort, cause: str, *, times: int = 2, longest_s: float = math.inf) -> tuple[Cure, ...]:
    """Changes that work against a cause; none where there is nothing but a longer night.

    Parameters
    ----------
    effort : Effort
    cause : str
        One of :data:`expocalc.budget.blame.CAUSES`.
    times : int, optional
        How many times wider, more or less something becomes.
    longest_s : float, optional
        Longest sub that is allowed. [s]
    """
    found = _CURES.get(cause)
    return () if found is None else tuple(found(effort, times, longest_s))


def lift(effort: Effort, cause: str, longest_s: float = math.inf) -> Cure | None:
    """The first change, in the order of what it takes, that brings a goal within reach by lifting its ceiling.

    Each is doubled as far as anyone goes, until the goal takes hours that someone may have; where none does that, it
    is the one that takes the fewest.
    """
    reached: list[tuple[int, int, Cure]] = []
    for doublings in range(1, _MOST_DOUBLINGS + 1):
        for place, cure in enumerate(cures(effort, cause, times=2**doublings, longest_s=longest_s)):
            if math.isfinite(cure.effort.hours):
                reached.append((place, doublings, cure))
    sane = [one for one in reached if one[2].effort.hours <= _MANY_H]
    if sane:
        return min(sane, key=lambda one: one[:2])[2]
    return min((cure for *_, cure in reached), key=lambda cure: cure.effort.hours, default=None)


def _routine(effort: Effort, words: str, **changed: Any) -> Cure:
    routine = dataclasses.replace(effort.case.routine, **changed)
    return Cure(words, dataclasses.replace(effort, case=dataclasses.replace(effort.case, routine=routine)))


def _longer(effort: Effort, times: int, longest_s: float) -> Iterator[Cure]:
    """Longer subs, where they are allowed."""
    sub_s = min(times * effort.sub_s, longest_s)
    if sub_s > effort.sub_s * 1.01:
        yield Cure(f"subs of {say_duration(sub_s)}", dataclasses.replace(effort, sub_s=sub_s))


def _of_calibration(effort: Effort, times: int, longest_s: float) -> Iterator[Cure]:
    routine = effort.case.routine
    every, box = routine.dither_every, float(routine.dither_size.value)
    if every is None:
        yield _routine(effort, f"a dither after every {CADENCE}rd sub", dither_every=CADENCE)
        wide = min(times * box, _MOST_BOX_PX)
        words = f"a dither after every {CADENCE}rd sub in a box of {wide:g} pixels"
        yield _routine(effort, words, dither_every=CADENCE, dither_size=f"{wide} pixel")
    else:
        if 0 < box < _MOST_BOX_PX:
            wide = min(times * box, _MOST_BOX_PX)
            yield _routine(effort, f"a dither box of {wide:g} pixels", dither_size=f"{wide} pixel")
        if every > 1:
            often = max(every // times, 1)
            words = "a dither after every sub" if often == 1 else f"a dither every {often} subs"
            yield _routine(effort, words, dither_every=often)
    yield from _longer(effort, times, longest_s)
    for kind in ("darks", "flats"):
        more = _more(routine, kind, times)
        if more:
            yield _routine(effort, f"{more} {kind}", **{kind: more})


def _more(routine: Routine, kind: str, times: int) -> int:
    """So many times as many frames; 0 where there are no more to have."""
    frames = routine.frames(kind)
    more = min(times * frames, _MOST_FRAMES) if frames else float(USUAL_FRAMES)
    return int(more) if math.isfinite(frames) and more > frames else 0


def _of_sky(effort: Effort, _: int, __: float) -> Iterator[Cure]:
    rate = effort.rate
    if rate.moon_e_s.any() and rate.sky_e_s is rate.model_sky_e_s:
        dark = dataclasses.replace(rate, sky_e_s=rate.sky_e_s - rate.moon_e_s)
        yield Cure("the Moon down", dataclasses.replace(effort, rate=dark))
    darker = dataclasses.replace(rate, sky_e_s=rate.sky_e_s * 10 ** (-0.4 * DARKER_MAG))
    yield Cure(f"a sky {DARKER_MAG:g} mag darker", dataclasses.replace(effort, rate=darker))


def _of_read_noise(effort: Effort, times: int, longest_s: float) -> Iterator[Cure]:
    yield from _longer(effort, times, longest_s)
    case = effort.case
    for name, setting in case.camera.gains.items():
        if setting.read_noise < case.camera.setting.read_noise:
            camera = dataclasses.replace(case.camera, gain=name)
            changed = dataclasses.replace(effort, case=dataclasses.replace(case, camera=camera))
            yield Cure(f'gain setting "{name}"', changed)


def _of_dark(effort: Effort, _: int, __: float) -> Iterator[Cure]:
    camera = effort.case.camera
    cold_deg_c = max(camera.temperature.value - COOLER_K, COLDEST_DEG_C)
    fall_k = camera.temperature.value - cold_deg_c
    if fall_k <= 0:
        return
    cooler = dataclasses.replace(camera, temperature=u.Quantity(cold_deg_c, "deg_C"))
    changed = dataclasses.replace(
        effort,
        case=dataclasses.replace(effort.case, camera=cooler),
        rate=dataclasses.replace(effort.rate, dark_e_s=cooler.dark_e_s),
    )
    yield Cure(f"a sensor {fall_k:.3g} K cooler", changed)


def _of_stacking(effort: Effort, _: int, __: float) -> Iterator[Cure]:
    if effort.case.routine.stacking == "median":
        yield _routine(effort, "a clipped mean instead of the median", stacking="clipped mean")
    else:
        yield _routine(effort, "a plain mean", stacking="mean")


def _of_background(effort: Effort, times: int, _: float) -> Iterator[Cure]:
    patch = float(effort.case.routine.background_patch.value)
    wide = min(times * patch, WIDEST_BACKGROUND_ARCSEC)
    if wide > patch:
        yield _routine(effort, f"a background from {say_number(wide)}″", background_patch=f"{wide} arcsec")


def _of_unevenness(effort: Effort, times: int, _: float) -> Iterator[Cure]:
    even = effort.case.routine.flatness / times
    yield _routine(effort, f"a background even to {say_share(even)}", background_flatness=even)


def _of_faint_stars(effort: Effort, times: int, _: float) -> Iterator[Cure]:
    target = effort.case.target
    assert target.stars_removed_to is not None  # they cost nothing otherwise
    deeper = min(float(target.stars_removed_to.value) + math.log2(times), _FAINTEST_STAR)
    changed = dataclasses.replace(target, stars_removed_to=u.Quantity(deeper, "mag"))
    words = f"stars taken out down to {say_number(deeper, 3)} mag"
    yield Cure(words, dataclasses.replace(effort, case=dataclasses.replace(effort.case, target=changed)))


def _of_losses(effort: Effort, times: int, _: float) -> Iterator[Cure]:
    routine = effort.case.routine
    fewer = {name: getattr(routine, name) / times for name in ("lost_per_hour", "lost_per_dither")}
    yield _routine(effort, "half the losses" if times == 2 else f"losses {times} times fewer", **fewer)


def _of_pauses(effort: Effort, times: int, longest_s: float) -> Iterator[Cure]:
    routine = effort.case.routine
    every = routine.dither_every
    if every and routine.dither_time.value and every < RAREST_DITHER:
        seldom = min(times * every, RAREST_DITHER)
        yield _routine(effort, f"a dither every {seldom} subs", dither_every=seldom)
    yield from _longer(effort, times, longest_s)


_CURES: Mapping[str, Callable[[Effort, int, float], Iterator[Cure]]] = MappingProxyType(
    {
        "calibration": _of_calibration,
        "sky": _of_sky,
        "read noise": _of_read_noise,
        "dark current": _of_dark,
        "stacking": _of_stacking,
        "background": _of_background,
        "unevenness": _of_unevenness,
        "faint stars": _of_faint_stars,
        "losses": _of_losses,
        "pauses": _of_pauses,
    }
)
