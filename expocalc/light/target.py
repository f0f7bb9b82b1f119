"""What the picture is of: its place on the sky, its patch and its light."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import Any

import astropy.units as u

from expocalc.base.field import within
from expocalc.base.noun import Noun, field_of, measure, number, text
from expocalc.light.lights import LIGHT_EXAMPLE, ContinuumLight, Light, LineLight, StarLight, read_light
from expocalc.light.position import read_declination, read_right_ascension
from expocalc.light.star_counts import galactic, lumps

__all__ = ["Target"]


def _lights(name: str, value: Any) -> tuple[Light, ...]:
    items = [value] if isinstance(value, Mapping | Light) else value
    if not isinstance(items, Iterable) or isinstance(items, str):
        msg = f"{name} must be a list, got {value!r}; write it like [{LIGHT_EXAMPLE}]"
        raise TypeError(msg)
    items = tuple(items)
    lights = []
    for at, item in enumerate(items):
        try:
            called = f"{name} {at + 1}" if len(items) > 1 else name
            lights.append(item if isinstance(item, Light) else read_light(item, called))
        except (TypeError, ValueError) as error:
            within(error, at)
            raise
    if not lights:
        msg = f"{name} must hold at least one light, got none; write it like [{LIGHT_EXAMPLE}]"
        raise ValueError(msg)
    return tuple(lights)


class Target(Noun):
    """What the picture is of.

    Raises
    ------
    ValueError
        If only one coordinate is given, or a field is out of range.

    Examples
    --------
    >>> light = {"line": "H-alpha", "brightness": "12 R"}
    >>> target = Target(light=[light], right_ascension="20h 45m", declination="+30d 43m")
    >>> target.right_ascension
    <Quantity 311.25 deg>
    """

    name: str = text("target", meaning="Name of what the picture is of.", origin="your own choice")
    right_ascension: u.Quantity | None = field_of(
        read_right_ascension,
        None,
        kind="quantity",
        unit="deg",
        minimum=0,
        maximum=360,
        example='"20h 45m 38s" or "311.4 deg"',
        meaning="Place on the sky, eastward; with the declination or not at all.",
        origin="a catalogue",
    )
    declination: u.Quantity | None = field_of(
        read_declination,
        None,
        kind="quantity",
        unit="deg",
        minimum=-90,
        maximum=90,
        example='"+30d 43m" or "30.7 deg"',
        meaning="Place on the sky, northward; with the right ascension or not at all.",
        origin="a catalogue",
    )
    altitude: u.Quantity = measure(
        "deg",
        "60 deg",
        above=0,
        maximum=90,
        example='"60 deg"',
        meaning="Height of the target above the horizon, for a plan without a date.",
        origin="assumed; a chart for your place and date",
    )
    patch: u.Quantity = measure(
        "arcsec",
        "10 arcsec",
        above=0,
        maximum=36000,
        example='"15 arcsec"',
        meaning="Side of the smallest square of the target that has to show.",
        origin="your own choice: the finest detail that you want to see",
    )
    stars_removed_to: u.Quantity | None = measure(
        "mag",
        None,
        minimum=5,
        maximum=30,
        example='"17 mag"',
        meaning="V magnitude of the faintest stars that are kept out of the patch; those still fainter make it lumpy.",
        origin="the faintest stars that your stack shows; left out, no star is taken to be in the patch",
        advanced=True,
    )
    star_crowding: float = number(
        1.0,
        minimum=0,
        maximum=1000,
        example="3",
        meaning="Stars there over the formula's, which counts those of 20 degrees nearer to the Milky Way too.",
        origin="Bahcall & Soneira 1980 is 1; a count of your own stars against it tells more",
        advanced=True,
    )
    light: tuple[Light, ...] = field_of(
        _lights,
        kind="list",
        nouns=(LineLight, ContinuumLight, StarLight),
        meaning="The target's light, one or more: lines, a continuum, stars.",
        origin="a survey or a paper",
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if (self.right_ascension is None) != (self.declination is None):
            missing = "declination" if self.declination is None else "right_ascension"
            msg = f"a position must have right_ascension and declination, got no {missing}"
            raise ValueError(msg)
        if self.stars_removed_to is not None and self.right_ascension is None:
            msg = (
                "stars_removed_to must have a position beside it, got no right_ascension and declination: "
                "how many stars there are depends on the place"
            )
            raise within(ValueError(msg), "stars_removed_to")

    @cached_property
    def lumps(self) -> float:
        """Variance of the light of stars too faint to be taken out; 0 where nobody says. [(star of mag 0)2 arcsec-2]"""
        if self.stars_removed_to is None or self.right_ascension is None or self.declination is None:
            return 0.0
        place = galactic(float(self.right_ascension.value), float(self.declination.value))
        return self.star_crowding * lumps(float(self.stars_removed_to.value), *place)

    @cached_property
    def named_lights(self) -> tuple[tuple[str, Light], ...]:
        """Lights by name, with a number behind it where there are several of one name: "star 1", "star 2"."""
        names = [light.name for light in self.light]
        numbers = {name: itertools.count(1) for name in names}
        return tuple(
            (f"{light.name} {next(numbers[light.name])}" if names.count(light.name) > 1 else light.name, light)
            for light in self.light
        )

    def light_named(self, name: str) -> Light:
        """The light of a name."""
        return dict(self.named_lights)[name]
