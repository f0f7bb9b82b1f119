"""One case: everything that an answer depends on."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from expocalc.base.noun import Noun, field_of, nested, text
from expocalc.budget.doubt import Doubt
from expocalc.budget.routine import Goal, Routine
from expocalc.gear.camera import Camera
from expocalc.gear.passband import Filter
from expocalc.gear.telescope import Telescope
from expocalc.light.conditions import Conditions
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

    Raises
    ------
    ValueError
        If there is no filter, two share a name, or the sky was measured in a filter that is not there.
    """

    sky: Sky = nested(Sky, meaning="The night sky over the telescope, by one reading of it.", origin="your own reading")
    telescope: Telescope = nested(
        Telescope, meaning="How much light the telescope takes in, and how sharply.", origin="the maker's data sheet"
    )
    camera: Camera = nested(
        Camera, meaning="The camera: pixels, efficiency and noise.", origin="the maker's data sheet"
    )
    filters: tuple[Filter, ...] = field_of(
        _read_filters,
        kind="list",
        nouns=(Filter,),
        meaning="The filters, one or more, each with its own name.",
        origin="the maker's data sheet",
    )
    target: Target = nested(Target, meaning="What the picture is of.", origin="a catalogue, or a picture of others")
    title: str = text("untitled", meaning="One line that names the plan.", origin="your own choice")
    site: Site = nested(Site, Site(), meaning="Where the telescope stands.", origin="a map")
    routine: Routine = nested(
        Routine, Routine(), meaning="How the subs are taken, and what is lost.", origin="your own nights"
    )
    goal: Goal = nested(Goal, Goal(), meaning="What the picture has to show.", origin="your own choice")
    doubt: Doubt = nested(
        Doubt,
        Doubt(),
        meaning="What the plan's numbers may be off by: one standard deviation of each.",
        origin="assumed, some from papers",
        advanced=True,
    )
    moon: Moon | None = nested(
        Moon,
        None,
        meaning="Where the Moon stands and how full it is; left out where it is down.",
        origin="an almanac",
    )
    measured_under: Conditions = nested(
        Conditions,
        Conditions(),
        meaning="Where the telescope looked, and the Moon, when the sky was measured, if not as in this plan.",
        origin="the header of the test sub",
        advanced=True,
    )
