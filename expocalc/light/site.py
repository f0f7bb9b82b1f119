"""The place: where the telescope stands and how calm its air is."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from expocalc.base.noun import Noun, field_of, measure
from expocalc.base.quantity import read_number, read_quantity

__all__ = ["Site"]


def _read_zone(name: str, value: Any) -> str:
    try:
        ZoneInfo(str(value))
    except (ZoneInfoNotFoundError, ValueError, OSError):
        msg = f'{name} must be a time zone of the IANA list, got {str(value)[:60]!r}; write it like "Europe/Brussels"'
        raise ValueError(msg) from None
    return str(value)


def _read_horizon(name: str, value: Any) -> tuple[tuple[float, float], ...]:
    """Height of the skyline as (azimuth, altitude) pairs in degrees; one altitude stands for all around."""
    if not isinstance(value, list | tuple):
        altitude = read_quantity(name, value, "deg", minimum=0, below=90, example='"25 deg"')
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


@dataclass(frozen=True, eq=False, kw_only=True)
class Site(Noun):
    """Where the telescope stands.

    Parameters
    ----------
    latitude, longitude : Quantity or str, optional
        North and east positive. [deg]
    elevation : Quantity or str
        Height above the sea. [m]
    time_zone : str, optional
        Name in the IANA list.
    horizon : str or list, optional
        Height of the skyline: one altitude, or pairs [azimuth, altitude] in degrees.
    seeing : Quantity or str
        Full width at half maximum of a star at the zenith, from the air alone. [arcsec]

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit, or is out of range.

    Examples
    --------
    >>> Site(seeing="2,8 arcsec").seeing
    <Quantity 2.8 arcsec>
    """

    latitude: Any = measure("deg", None, minimum=-90, maximum=90, example='"51.2 deg"')
    longitude: Any = measure("deg", None, minimum=-180, maximum=360, example='"3.1 deg"')
    elevation: Any = measure("m", "0 m", minimum=-500, maximum=9000, example='"12 m"')
    time_zone: str | None = field_of(_read_zone, None)
    horizon: tuple[tuple[float, float], ...] = field_of(_read_horizon, "0 deg")
    seeing: Any = measure("arcsec", "3 arcsec", above=0, maximum=30, example='"2.8 arcsec"')
