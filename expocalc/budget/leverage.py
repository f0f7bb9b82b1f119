"""What buys hours: every real choice, one at a time, and the hours on the clock with it.

Hours with the Moon down are a choice where the plan has a Moon that is up.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType
from typing import Any

import astropy.units as u

from expocalc.budget.answer import answer
from expocalc.budget.carried import carried
from expocalc.budget.case import Case
from expocalc.budget.cure import CADENCE
from expocalc.budget.routine import USUAL_FRAMES, Routine
from expocalc.budget.row import Answer
from expocalc.gear.filter import Filter
from expocalc.gear.passband import Passband
from expocalc.light.lights import StarLight
from expocalc.light.reading import BORTLE, bortle_v
from expocalc.light.sky import Sky
from expocalc.light.target import Target

__all__ = ["LARGER", "Choice", "darker_site", "leverage"]

LARGER = 1.25
"""The next class of aperture has this times the diameter: common practice, no source."""
COOLER_K = 10.0
NARROW_NM = 30.0
"""Passbands up to this width are sold in several widths; others are not halved or doubled. [nm]"""
_WIDEST_BOX_PX = 500.0
"""Beyond it a dither costs too much of the picture's edges: common practice, no source. [pixel]"""


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One choice and the hours on the clock of all filters together; infinite where the goal is out of reach.

    Attributes
    ----------
    key : str
        "darker", "narrower", "wider", "aperture", "cooler", "gain NAME", "dither less", "dither more", "dither", "box",
        "darks", "flats", "patch".
    label : str
        The choice in plain words.
    before_h, after_h : float
        Hours on the clock, parts of a sub counted. [h]
    filters_h : mapping of str to float
        Those after the choice, by filter. [h]
    lost_lights : tuple of str
        Lights of the target that no filter passes any more.
    """

    key: str
    label: str
    before_h: float
    after_h: float
    filters_h: Mapping[str, float]
    lost_lights: tuple[str, ...] = ()

    @property
    def asks_for_less(self) -> bool:
        """Whether it buys no hours but asks for less: coarser detail."""
        return self.key == "patch"

    @property
    def saved_h(self) -> float:
        """Hours that it saves, negative where it costs; 0 where the goal stays out of reach. [h]"""
        return 0.0 if math.isinf(self.before_h) and math.isinf(self.after_h) else self.before_h - self.after_h

    @property
    def ratio(self) -> float:
        """Hours after over hours before: 0 where only the choice brings the goal within reach. [-]"""
        if math.isinf(self.before_h):
            return 1.0 if math.isinf(self.after_h) else 0.0
        return self.after_h / self.before_h


def leverage(case: Case, found: Answer | None = None) -> tuple[Choice, ...]:
    """All choices that a case has, the one that saves most first.

    Parameters
    ----------
    case : Case
    found : Answer, optional
        The case's answer, where it is at hand.

    Returns
    -------
    tuple of Choice
        Empty where no filter passes any of the target's light. Choices that lose a light come last, but for the one
        that asks for less.

    Notes
    -----
    Sub lengths are found anew for each choice, as far as the plan leaves them to us. A measured sky is brought along by
    the ratio that the model gives.

    Examples
    --------
    >>> from expocalc.plan import Plan
    >>> case = Plan.example().case
    >>> for choice in leverage(case):
    ...     print(f"{choice.ratio:.2f} {choice.label}")
    0.33 narrow filters half as wide
    0.34 a site one Bortle class darker, V 20.0 instead of 19.0
    0.64 100 mm of aperture at the same f/6
    0.98 a sensor 10 K cooler, at -20 deg C
    1.00 a dither after every 3rd sub
    1.58 narrow filters twice as wide
    0.25 a patch twice as wide, 20 arcsec
    """
    found = found or answer(case)
    before = found.hours_on(case.routine)
    if not before:
        return ()
    choices = []
    for key, label, section, change in _changes(case):
        try:
            moved = carried(dataclasses.replace(case, **{section: change()}), case)
            other = answer(moved)
        except ValueError:
            continue  # what the model can't take is no choice, such as a filter wider than the camera's curve
        after = other.hours_on(moved.routine)
        kept = _lights(other)
        choices.append(
            Choice(
                key=key,
                label=label,
                before_h=sum(before.values()),
                after_h=sum(after.values()),
                filters_h=MappingProxyType(after),
                lost_lights=tuple(light for light in _lights(found) if light not in kept),
            )
        )
    return tuple(sorted(choices, key=lambda one: (one.asks_for_less, bool(one.lost_lights), one.after_h)))


def _lights(found: Answer) -> tuple[str, ...]:
    """Lights that one filter or another passes."""
    return tuple(dict.fromkeys(row.light for row in found.rows if row.light is not None))


def _changes(case: Case) -> Iterator[tuple[str, str, str, Callable[[], Any]]]:
    """Every choice: key, label, the part of the case that it changes, and what makes the new part."""
    sky, scope, camera, target = case.sky, case.telescope, case.camera, case.target
    v, step = _class_step(sky)
    if step:
        label = f"a site one Bortle class darker, V {v + step:.1f} instead of {v:.1f}"
        yield "darker", label, "sky", partial(darker_site, sky)

    if case.moon is not None and float(case.moon.altitude.value) > 0:
        yield "moonless", "only hours with the Moon down", "moon", lambda: None

    if any(_is_narrow(passband) for filter_ in case.filters for passband in filter_.passbands):
        for key, times, words in (("narrower", 0.5, "half"), ("wider", 2.0, "twice")):
            yield key, f"narrow filters {words} as wide", "filters", partial(_wider, case.filters, times)

    parts = {name: LARGER * getattr(scope, name) for name in ("aperture", "focal_length", "obstruction")}
    label = f"{parts['aperture'].value:.0f} mm of aperture at the same f/{scope.focal_ratio:.2g}"
    yield "aperture", label, "telescope", partial(dataclasses.replace, scope, **parts)

    cooler = u.Quantity(camera.temperature.value - COOLER_K, "deg_C")
    label = f"a sensor {COOLER_K:g} K cooler, at {cooler.value:g} deg C"
    yield "cooler", label, "camera", partial(dataclasses.replace, camera, temperature=cooler)
    for name in camera.gains:
        if name != camera.gain:
            yield f"gain {name}", f'gain setting "{name}"', "camera", partial(dataclasses.replace, camera, gain=name)

    for key, label, field, number in _habits(case.routine):
        yield key, label, "routine", partial(dataclasses.replace, case.routine, **{field: number})

    label = f"a patch twice as wide, {2 * target.patch.value:g} arcsec"
    yield "patch", label, "target", partial(_coarser, target)


def _coarser(target: Target) -> Target:
    """The target with twice the patch, of lights that have their own as well."""
    lights = tuple(
        light
        if isinstance(light, StarLight) or light.patch is None
        else dataclasses.replace(light, patch=2 * light.patch)
        for light in target.light
    )
    return dataclasses.replace(target, patch=2 * target.patch, light=lights)


def _habits(routine: Routine) -> Iterator[tuple[str, str, str, Any]]:
    """Choices of the routine: key, label, field and its new value."""
    every = routine.dither_every
    if every is None:
        yield "dither", f"a dither after every {CADENCE}rd sub", "dither_every", CADENCE
    else:
        yield "dither less", f"a dither every {2 * every} subs instead of {every}", "dither_every", 2 * every
        if every > 1:
            more = "sub" if every < 4 else f"{every // 2} subs"
            yield "dither more", f"a dither every {more} instead of {every}", "dither_every", every // 2
        box = float(routine.dither_size.value)
        if box > 0 and any(math.isfinite(routine.frames(kind)) for kind in ("darks", "flats")):
            wide = u.Quantity(min(2 * box, _WIDEST_BOX_PX), "pixel")
            yield "box", f"a dither box of {wide.value:g} pixels instead of {box:g}", "dither_size", wide
    for kind in ("darks", "flats"):
        frames = routine.frames(kind)
        if math.isfinite(frames):
            count = int(2 * frames) or USUAL_FRAMES
            yield kind, f"{count} {kind} instead of {int(frames) or 'none'}", kind, count


def _class_step(sky: Sky) -> tuple[float, float]:
    """V of a sky, and the step from the nearest Bortle class to the next darker one, 0 in the darkest. [mag/arcsec2]"""
    v = sky.brightness("bessell-V")
    nearest = min(BORTLE, key=lambda number: abs(bortle_v(number) - v))
    return v, bortle_v(nearest - 1) - bortle_v(nearest) if nearest - 1 in BORTLE else 0.0


def darker_site(sky: Sky) -> Sky:
    """The sky of a site one Bortle class darker, and the sky itself in the darkest: read in V."""
    _, step = _class_step(sky)
    other_readings: dict[str, Any] = dict.fromkeys(("bortle", "luminance", "naked_eye_limit"))
    reading = u.Quantity(sky.as_read.brightness("bessell-V") + step, "mag/arcsec2")
    return dataclasses.replace(sky, zenith_brightness=reading, reading_band="bessell-V", **other_readings)


def _is_narrow(passband: Passband) -> bool:
    return passband.width is not None and bool(passband.width.value <= NARROW_NM)


def _wider(filters: Sequence[Filter], times: float) -> tuple[Filter, ...]:
    """Filters with each narrow passband that is given by its width `times` as wide, the others as they are."""
    return tuple(
        dataclasses.replace(
            filter_,
            passbands=tuple(
                dataclasses.replace(passband, width=times * passband.width) if _is_narrow(passband) else passband
                for passband in filter_.passbands
            ),
        )
        if any(map(_is_narrow, filter_.passbands))
        else filter_
        for filter_ in filters
    )
