"""The course of a night as its model has it, for the moments of its subs: sky, and how much of the light arrives."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.answer import answer_filter, filter_named
from expocalc.budget.case import Case
from expocalc.frames.tell.conditions import begin_of
from expocalc.frames.tell.ledger import Entry
from expocalc.night.moments import moments_of, rates_over
from expocalc.night.windows import almanac_of, position_of

__all__ = ["MODEL", "Course", "course_of"]

MODEL = "the night's model"
"""Where a course comes from that follows the hours."""

_DOWN = "By the subs' dates and the plan's place the target was down: clock, place or coordinates are off"


@dataclass(frozen=True, eq=False, kw_only=True)
class Course:
    """What the model says for each sub.

    Attributes
    ----------
    sky_e_s, light : ndarray
        Sky of a pixel of the entries' colour, and the target's light over that of its best moment, shape (subs,).
        [electron s-1], [-]
    source : str
        "the night's model" or "the plan".
    note : str
        One sentence where the night's model could be asked but says nothing, else empty.
    """

    sky_e_s: Floats
    light: Floats
    source: str
    note: str = ""


def course_of(case: Case, entries: Sequence[Entry], planned_sky_e_s: Mapping[str, float]) -> Course:
    """The night's model at each sub's begin; the plan's one sky without a place, coordinates or dates.

    Parameters
    ----------
    case : Case
    entries : sequence of Entry
    planned_sky_e_s : mapping of str to float
        The plan's sky by filter. [electron s-1]
    """
    skies = np.array([planned_sky_e_s.get(one.filter, math.nan) for one in entries])
    lights = np.ones(len(entries))
    almanac = almanac_of(case)
    begins = [begin_of(one.date) for one in entries]
    if almanac is None or position_of(case) is None or None in begins:
        return Course(sky_e_s=skies, light=lights, source="the plan")
    try:
        at = moments_of(case, almanac, np.array([one.timestamp() for one in begins if one is not None]))
    except ValueError:  # a date beyond the almanac
        return Course(sky_e_s=skies, light=lights, source="the plan")
    if not (at.altitude_deg > 0).all():
        return Course(sky_e_s=skies, light=lights, source="the plan", note=_DOWN)
    for name in planned_sky_e_s:
        mine = np.array([one.filter == name for one in entries])
        if not mine.any():
            continue
        filter_ = filter_named(case, name)
        now = answer_filter(case, filter_)[0]
        colour = now.rates.colours.index(now.neediest.colour) if now.neediest.colour else 0
        rate = rates_over(case, filter_, at)
        skies[mine] = rate.sky_e_s[mine, colour]
        if now.neediest.light in rate.extended:  # dimmed by the air as the stars are
            dimmed = rate.extended[str(now.neediest.light)][mine, colour]
            lights[mine] = dimmed / dimmed.max()
    return Course(sky_e_s=skies, light=lights, source=MODEL)
