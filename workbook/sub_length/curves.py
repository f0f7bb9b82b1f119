"""Hours on the clock against the length of a sub: of each light of each filter, and of the one that takes most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.budget.parts import MOST_SUBS
from expocalc.budget.patch import Patch
from expocalc.budget.rates import Rates
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.budget.sub_length import clock_hours

__all__ = ["NEVER_H", "hours_by_light", "most_hours", "setters"]

NEVER_H = MOST_SUBS
"""No plan has more subs than that, be each an hour long. [h]"""


def hours_by_light(case: Case, delivered: Sequence[Rates], sub_s: Sequence[float] | Floats) -> list[dict[str, Floats]]:
    """Hours on the clock until a light reaches its goal, for each filter and each light that it is for. [h]

    Infinite where no hours will do.
    """
    lights = [(at, name) for at, rate in enumerate(delivered) for name in rate.lights]
    found: list[dict[str, Floats]] = [{} for _ in delivered]
    if lights:
        # One call for all lights: it takes little longer than for one.
        patches = [patch_of(case, delivered[at], name, 1.0) for at, name in lights]
        habits = habits_of(case, delivered[0].scale_arcsec)
        goals = np.array([case.goal_of(name) for _, name in lights])[:, None]
        hours = clock_hours(_together(patches), habits, case.routine, goals, sub_s)
        for (at, name), row in zip(lights, hours, strict=True):
            found[at][name] = row
    return found


def most_hours(rows: Mapping[str, Floats], count: int) -> Floats:
    """Hours until every light of a filter reaches its goal, at `count` lengths of a sub. [h]

    NaN where the filter passes no light, or no hours will do.
    """
    most = np.max(list(rows.values()), axis=0) if rows else np.full(count, np.nan)
    return np.where(np.isfinite(most), most, np.nan)


def setters(rows: Mapping[str, Floats]) -> list[str]:
    """The light of a filter that takes most hours, at each length of a sub."""
    names = list(rows)
    return [names[at] for at in np.argmax(list(rows.values()), axis=0)]


def _together(patches: Sequence[Patch]) -> Patch:
    """Patches of one camera as one, along an axis before that of the sub lengths."""
    return replace(
        patches[0],
        side_px=np.array([patch.side_px for patch in patches])[:, None],
        signal_e_s=np.array([patch.signal_e_s for patch in patches])[:, None],
        light_e_s=np.array([patch.light_e_s for patch in patches])[:, None],
        faint_e_s=np.array([np.broadcast_to(patch.faint_e_s, patch.light_e_s.shape) for patch in patches])[:, None],
    )
