"""The place: where the telescope stands and how calm its air is."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from types import MappingProxyType
from typing import Any

from expocalc.base.noun import Noun, field_of, measure
from expocalc.base.quantity import read_number, read_quantity

__all__ = ["Site"]


_SKYLINE: Mapping[str, Any] = MappingProxyType({"minimum": 0, "below": 90, "example": '"25 deg"'})


def _read_zone(name: str, value: Any) -> str:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError  # few plans name a zone

    try:
        ZoneInfo(str(value))
    except (ZoneInfoNotFoundError, ValueError, OSError):
        msg = f'{name} must be a time zone of the IANA list, got {str(value)[:60]!r}; write it like "Europe/Brussels"'
        raise ValueError(msg) from None
    return str(value)


def _read_horizon(name: str, value: Any) -> tuple[tuple[float, float], ...]:
    """Height of the skyline as (azimuth, altitude) pairs in degrees; one altitude stands for all around."""
    if not isinstance(value, list | tuple):
        altitude = read_quantity(name, value, "deg", **_SKYLINE)
        return ((0.0, altitude),)
    pairs = []
    for pair in value:
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            msg = f"{name} must be one altitude or pairs [azimuth, altitude] in degrees, got {pair!r}"
            raise ValueError(msg)
        azimuth = read_number(f"{name} azimuth", pair[0], minimum=0, maximum=360)
        pairs.append((azimuth, read_number(f"{name} altitude", pair[1], minimum=0, below=90)))
    if not pairs or any(b[0] <= a[0] for a, b in pairwise(pairs)):
        msg = f"{name} must hold pairs [azimuth, altitude] with increasing azimuth, got {value!r}"
        raise ValueError(msg)
    return tuple(pairs)


class Site(Noun):
    """Where the telescope stands.

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit, or is out of range.

    Examples
    --------
    >>> Site(seeing="2,8 arcsec").seeing
    <Quantity 2.8 arcsec>
    """

    latitude: Any = measure(
        "deg",
        None,
        minimum=-90,
        maximum=90,
        example='"51.2 deg"',
        meaning="Latitude of the place, north positive.",
        origin="a map",
    )
    longitude: Any = measure(
        "deg",
        None,
        minimum=-180,
        maximum=360,
        example='"3.1 deg"',
        meaning="Longitude of the place, east positive.",
        origin="a map",
    )
    elevation: Any = measure(
        "m",
        "0 m",
        minimum=-500,
        maximum=9000,
        example='"12 m"',
        meaning="Height of the place above the sea; higher up, the air takes less light.",
        origin="a map",
    )
    time_zone: str | None = field_of(
        _read_zone,
        None,
        kind="text",
        example='"Europe/Brussels"',
        other="a name of the IANA list",
        meaning="Time zone in which clock times are shown.",
        origin="the IANA time zone database",
    )
    horizon: tuple[tuple[float, float], ...] = field_of(
        _read_horizon,
        "0 deg",
        kind="quantity",
        unit="deg",
        **_SKYLINE,
        other="or pairs [azimuth, altitude] in degrees",
        meaning="How high houses and trees stand: one altitude all around, or one for each direction.",
        origin="your own look around; 0 is a free view",
    )
    seeing: Any = measure(
        "arcsec",
        "3 arcsec",
        above=0,
        maximum=30,
        example='"2.8 arcsec"',
        meaning="Width of a star at half its height at the zenith, from the unrest of the air alone.",
        origin="assumed; your own subs show it",
    )
