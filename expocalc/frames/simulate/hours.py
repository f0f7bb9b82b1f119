"""A field as it is seen at each moment of a night: its sky and its light are those of the plan's own night model."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.answer import filter_named
from expocalc.budget.case import Case
from expocalc.frames.read.header import FrameError
from expocalc.frames.simulate.night import Field
from expocalc.night.moments import moments_of, rates_over
from expocalc.night.windows import almanac_of, position_of

__all__ = ["fields_over"]


def fields_over(case: Case, filter_name: str, field: Field, begins: Sequence[datetime]) -> list[Field]:
    """The field at the begin of each sub.

    Parameters
    ----------
    case : Case
    filter_name : str
    field : Field
        As the plan has it.
    begins : sequence of datetime
        UTC.

    Returns
    -------
    list of Field
        The same one over and over where the plan has no place or no coordinates: its sky then has no course.

    Raises
    ------
    FrameError
        If the target is down at one of the moments.
    """
    almanac = almanac_of(case)
    if almanac is None or position_of(case) is None or not begins:
        return [field] * len(begins)
    at = moments_of(case, almanac, np.array([one.replace(tzinfo=UTC).timestamp() for one in begins]))
    if not (at.altitude_deg > 0).all():
        down = begins[int(np.argmin(at.altitude_deg > 0))]
        msg = f"the target is down at {down:%Y-%m-%d %H:%M} UTC; take fewer subs"
        raise FrameError(msg)
    now = rates_over(case, filter_named(case, filter_name), at)
    plain, colour = field.scene.light_e_s - field.nebula_e_s, field.scene.colour
    before = field.rate
    found = []
    for moment in range(len(begins)):
        sky = plain * (now.sky_e_s[moment] / before.sky_e_s)[colour]
        light = _dimmed(before.extended, now.extended, moment, len(before.colours))
        nebula = field.nebula_e_s * light[colour]
        found.append(
            replace(
                field, scene=replace(field.scene, light_e_s=sky + nebula), nebula_e_s=nebula,
                star_e_s=field.star_e_s * light,
            )
        )  # fmt: skip
    return found


def _dimmed(before: Mapping[str, Floats], now: Mapping[str, Floats], moment: int, colours: int) -> Floats:
    """What the air lets through over what the plan has, colour by colour: that of the light that is drawn."""
    name = next(iter(before), None)
    if name is None:
        return np.ones(colours)
    seen = np.asarray(before[name]) > 0
    return np.asarray(np.divide(now[name][moment], before[name], out=np.ones(colours), where=seen))
