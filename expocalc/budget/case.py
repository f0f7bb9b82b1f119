"""One case: everything that an answer depends on."""

from __future__ import annotations

import dataclasses
from collections import Counter
from typing import Any

from expocalc.base.field import within
from expocalc.base.noun import Noun, field_of, nested, suggest, text
from expocalc.budget.doubt import Doubt
from expocalc.budget.goal import Goal
from expocalc.budget.night import Night
from expocalc.budget.routine import Routine
from expocalc.gear.camera import Camera
from expocalc.gear.filter import Filter
from expocalc.gear.telescope import Telescope
from expocalc.light.conditions import Conditions
from expocalc.light.lamp_shares import LampsFromRates
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


class Case(Noun):
    """Place, sky, gear, target, routine and goal.

    Raises
    ------
    ValueError
        If there is no filter, two share a name, a filter is wanted for a light that the target does not have, or the
        sky was measured in a filter that is not there; if lamps are to be told by rates that are too few or contradict.
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
    site: Site = nested(Site, Site, meaning="Where the telescope stands.", origin="a map")
    routine: Routine = nested(
        Routine, Routine, meaning="How the subs are taken, and what is lost.", origin="your own nights"
    )
    goal: Goal = nested(Goal, Goal, meaning="What the picture has to show.", origin="your own choice")
    doubt: Doubt = nested(
        Doubt,
        Doubt,
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
    night: Night = nested(
        Night,
        Night,
        meaning="Which night it is, which of its hours are wanted, and what takes time in it.",
        origin="your own choice",
    )

    measured_under: Conditions = nested(
        Conditions,
        Conditions,
        meaning="Where the telescope looked, and the Moon, when the sky was measured, if not as in this plan.",
        origin="the header of the test sub",
        advanced=True,
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        names = [name for name, _ in self.target.named_lights]
        for at, filter_ in enumerate(self.filters):
            for light in filter_.wanted or ():
                if light not in names:
                    msg = (
                        f'filter "{filter_.name}" is wanted for the light {light!r}, which the target does not have'
                        f"{suggest(light, names) or '; it has ' + ', '.join(names)}"
                    )
                    raise within(ValueError(msg), "filters", at, "wanted")
        if isinstance(self.sky.lamps, LampsFromRates) and self.sky.told is None:
            object.__setattr__(self, "sky", self._told())

    def _told(self) -> Sky:
        """The sky with the lamps that its rates tell."""
        from expocalc.budget.told import told_sky  # few plans have such rates

        return told_sky(
            self.sky, self.telescope, self.camera, self.filters, self.measured_under,
            float(self.site.elevation.value), float(self.target.altitude.value), self.doubt,
        )  # fmt: skip

    def seen(self, **changed: Any) -> Case:
        """The case with another target, or other filters: what a filter is wanted for is then what the target has.

        A filter none of whose lights the target has is for all that it passes.
        """
        target, filters = changed.get("target", self.target), changed.get("filters", self.filters)
        names = [name for name, _ in target.named_lights]
        fitting = tuple(
            dataclasses.replace(one, wanted=[light for light in one.wanted if light in names] or None)
            if one.wanted and not set(one.wanted) <= set(names)
            else one
            for one in filters
        )
        same = all(one is other for one, other in zip(filters, fitting, strict=True))
        return dataclasses.replace(self, **{**changed, "filters": filters if same else fitting})

    def filter_shown(self, name: str) -> str:
        """A filter's name as it is shown: with its width where the name tells another."""
        return next(one.shown_name for one in self.filters if one.name == name)

    def goal_of(self, light: str | None) -> float:
        """SNR that a light must reach: its own, or the goal's. [-]"""
        own = None if light is None else self.target.light_named(light).snr
        return self.goal.snr if own is None else own

    def patch_of(self, light: str | None) -> float:
        """Side of the smallest square of an extended light that has to show: its own, or the target's. [arcsec]"""
        own = None if light is None else getattr(self.target.light_named(light), "patch", None)
        return float((self.target.patch if own is None else own).value)
