"""One case: everything that an answer depends on."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from expocalc.base.noun import Noun, field_of, text
from expocalc.budget.doubt import Doubt
from expocalc.budget.night import Night
from expocalc.budget.routine import Goal, Routine
from expocalc.gear.camera import Camera
from expocalc.gear.passband import Filter
from expocalc.gear.telescope import Telescope
from expocalc.light.moon import Moon
from expocalc.light.site import Site
from expocalc.light.sky import Sky
from expocalc.light.target import Target

__all__ = ["Case"]


def _read_filters(name: str, value: Any) -> tuple[Filter, ...]:
    filters = tuple(value)
    if not filters:
        msg = f"{name} must hold one filter or more, got none"
        raise ValueError(msg)
    twice = [shared for shared, count in Counter(f.name for f in filters).items() if count > 1]
    if twice:
        msg = f"{name} must have different names, got {twice[0]!r} more than once"
        raise ValueError(msg)
    return filters


@dataclass(frozen=True, eq=False, kw_only=True)
class Case(Noun):
    """Place, sky, gear, target, routine and goal.

    Parameters
    ----------
    title : str
        One line that names the case.
    sky : Sky
    telescope : Telescope
    camera : Camera
    filters : sequence of Filter
        One or more, each with its own name.
    target : Target
    site : Site, optional
    routine : Routine, optional
    goal : Goal, optional
    doubt : Doubt, optional
    moon : Moon, optional
        Left out where the Moon is down.
    night : Night, optional

    Raises
    ------
    ValueError
        If there is no filter, two share a name, or the sky was measured in a filter that is not there.
    """

    sky: Sky
    telescope: Telescope
    camera: Camera
    filters: tuple[Filter, ...] = field_of(_read_filters)
    target: Target
    title: str = text("untitled")
    site: Site = field(default_factory=Site)
    routine: Routine = field(default_factory=Routine)
    goal: Goal = field(default_factory=Goal)
    doubt: Doubt = field(default_factory=Doubt)
    moon: Moon | None = None
    night: Night = field(default_factory=Night)
