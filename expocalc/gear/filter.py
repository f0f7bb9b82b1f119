"""A filter: the passbands it has, what they pass together, and the name it is shown by."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from expocalc.base.curve import EDGE_NM, RANGE_NM, Curve
from expocalc.base.noun import Noun, build, choice, field_of, number, read_text_line, text
from expocalc.gear.passband import NARROW_NM, Passband, in_cone
from expocalc.gear.telescope import Telescope

__all__ = ["Filter", "is_narrow"]

_WIDTH_IN_NAME = r"(\d+(?:[.,]\d+)?)\s*nm\b"
_PARALLEL = 1000.0
"""Focal ratio that stands for parallel light."""


def _read_passbands(name: str, value: Any) -> tuple[Passband, ...]:
    if not isinstance(value, list | tuple) or not value:
        msg = (
            f'{name} must be a list of one or more passbands; write it like [{{ centre = "656.3 nm", width = "5 nm" }}]'
        )
        raise TypeError(msg)
    if len(value) == 1:
        return (build(Passband, name, value[0], 0),)
    return tuple(build(Passband, f"{name} {i}", item, i - 1) for i, item in enumerate(value, start=1))


def _read_wanted(name: str, value: Any) -> tuple[str, ...]:
    if isinstance(value, str) or not isinstance(value, Sequence) or not value:
        msg = f'{name} must be a list of one or more names of lights, got {value!r}; write it like ["H-alpha", "O III"]'
        raise TypeError(msg)
    names = tuple(read_text_line(name, light) for light in value)
    twice = [light for light in names if names.count(light) > 1]
    if twice:
        msg = f"{name} must name each light once, got {twice[0]!r} more than once"
        raise ValueError(msg)
    return names


class Filter(Noun):
    """A filter: one or more passbands. Compared by identity.

    Raises
    ------
    TypeError, ValueError
        If there is no passband, one is refused, or together they pass more than all light.

    Examples
    --------
    >>> Filter(name="Ha", passbands=[{"centre": "656.3 nm", "width": "5 nm"}]).passbands[0].width
    <Quantity 5. nm>
    """

    name: str = text(meaning="Name that tells the filter from the others.", origin="your own choice")
    passbands: tuple[Passband, ...] = field_of(
        _read_passbands,
        kind="list",
        nouns=(Passband,),
        meaning="Ranges of wavelengths that the filter passes, one or more; what they pass adds up.",
        origin="the maker's data sheet",
    )
    wanted: tuple[str, ...] | None = field_of(
        _read_wanted,
        None,
        kind="words",
        example='["H-alpha", "O III"]',
        meaning="Names of the target's lights that this filter is for; other light that it passes only adds noise.",
        origin="your own choice; left out, all that it passes is wanted",
    )
    blocking: float | None = number(
        None,
        minimum=1,
        maximum=8,
        example="4",
        meaning="Optical density outside the passbands: 4 lets one part in 10000 through; without it nothing leaks.",
        origin="the maker's data sheet",
        advanced=True,
    )
    place: str = choice(
        ("behind the lens", "ahead of the lens"),
        "behind the lens",
        meaning="Where the filter stands: behind the lens its band moves in the cone of light, ahead of it hardly.",
        origin="your own gear",
        advanced=True,
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        largest = float(_sum([passband.curve for passband in self.passbands]).value.max())
        if largest > 1 + 1e-9:
            msg = f"passbands must together pass at most all light, got {largest:.3g} where they overlap"
            raise ValueError(msg)

    @cached_property
    def shown_name(self) -> str:
        """Its own name; where that tells a width that none of its passbands has, with the width that they have.

        Examples
        --------
        >>> narrow = Filter(name="Ha 5 nm", passbands=[{"centre": "656.3 nm", "width": "3 nm"}])
        >>> narrow.shown_name
        'Ha 5 nm (now 3 nm)'
        """
        told = re.search(_WIDTH_IN_NAME, self.name)
        widths = [float(band.width.value) for band in self.passbands if band.width is not None]
        if told is None or not widths:
            return self.name
        number = float(told[1].replace(",", "."))
        if any(math.isclose(width, number, rel_tol=0.02) for width in widths):
            return self.name
        return f"{self.name} (now {' and '.join(dict.fromkeys(f'{width:.3g}' for width in widths))} nm)"

    def curve_in(self, telescope: Telescope) -> Curve:
        """Transmission in the telescope's cone; cached. [-]"""
        return self.curve_in_cone(*telescope.cone)

    def curve_in_cone(self, focal_ratio: float, obstruction_share: float, field_angle_deg: float = 0.0) -> Curve:
        """Transmission in a cone given by its numbers, or in parallel light ahead of the lens; cached. [-]"""
        if self.place == "ahead of the lens":
            return _filter_in(self, _PARALLEL, 0.0, field_angle_deg)
        return _filter_in(self, focal_ratio, obstruction_share, field_angle_deg)


def is_narrow(filter_: Filter) -> bool:
    """Whether all that a filter passes lies in bands up to 20 nm wide."""
    return all(band.width is not None and band.width.value <= NARROW_NM for band in filter_.passbands)


def _sum(curves: list[Curve]) -> Curve:
    if len(curves) == 1:
        return curves[0]
    x = np.unique(np.concatenate([curve.wavelength_nm for curve in curves]))
    return Curve(x, np.sum([curve(x) for curve in curves], axis=0))


@lru_cache(maxsize=128)
def _filter_in(filter_: Filter, focal_ratio: float, obstruction_share: float, field_angle_deg: float) -> Curve:
    beam_of = focal_ratio, obstruction_share, field_angle_deg
    passed = _sum([in_cone(passband, *beam_of) for passband in filter_.passbands])
    if filter_.blocking is None:
        return passed
    x, leak = passed.wavelength_nm, 10**-filter_.blocking
    ends = [end for end in (*RANGE_NM, x[0] - EDGE_NM, x[-1] + EDGE_NM) if RANGE_NM[0] <= end <= RANGE_NM[1]]
    x = np.unique(np.concatenate((x, ends)))
    return Curve(x, np.maximum(passed(x), leak))
