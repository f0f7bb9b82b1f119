"""Places on the sky as people write them: 5h 35m, -5d 23m, 83.8 deg."""

from __future__ import annotations

import re
from typing import Any

import astropy.units as u

from expocalc.base.quantity import read_quantity

__all__ = ["read_declination", "read_right_ascension"]

_SEXAGESIMAL = (
    r"(?i)\s*([+\-−]?)\s*(\d{1,3})\s*([hd°:]|\s)\s*(\d{1,2}(?:[.,]\d+)?)\s*(?:[m'′:]|\s|$)"
    r"\s*(?:(\d{1,2}(?:[.,]\d+)?)\s*[s\"″]?)?\s*"
)
_WHOLE = r"(?i)\s*([+\-−]?)\s*(\d{1,3}(?:[.,]\d+)?)\s*([hd°])\s*"
"""Hours or degrees alone, with decimals perhaps."""


def _angle(name: str, value: Any, *, hours: bool, example: str) -> u.Quantity:
    """Angle from a quantity or from sexagesimal text; `hours` says what a text without h or d counts."""
    low, high = (0, 360) if hours else (-90, 90)
    match = re.fullmatch(_SEXAGESIMAL, value) or re.fullmatch(_WHOLE, value) if isinstance(value, str) else None
    if match is None:
        return u.Quantity(read_quantity(name, value, "deg", minimum=low, maximum=high, example=example), "deg")
    sign, first, mark, *smaller = match.groups()
    minute, second = (float((text or "0").replace(",", ".")) for text in (*smaller, "0", "0")[:2])
    in_hours = mark in "hH" or (hours and mark not in "dD°")
    degrees = (float(first.replace(",", ".")) + minute / 60 + second / 3600) * (15 if in_hours else 1)
    degrees = -degrees if sign in ("-", "−") else degrees
    if (in_hours and not hours) or minute >= 60 or second >= 60 or not low <= degrees <= high:
        msg = (
            f"{name} must lie from {low} to {high} deg{'' if hours else ', in degrees not hours,'} with minutes and "
            f"seconds below 60, got {value!r}; write it like {example}"
        )
        raise ValueError(msg)
    return u.Quantity(degrees, "deg")


def read_right_ascension(name: str, value: Any) -> u.Quantity:
    """Right ascension. [deg]

    Parameters
    ----------
    name : str
        The field's name, for the error message.
    value : str or astropy.units.Quantity
        "5h 35m 17s" or an angle with its unit, from 0 to 360 deg.

    Raises
    ------
    TypeError
        If it is a bare number.
    ValueError, astropy.units.UnitsError
        If it is no angle or out of range.

    Examples
    --------
    >>> read_right_ascension("right_ascension", "5h35.0m"), read_right_ascension("right_ascension", "83d 45m")
    (<Quantity 83.75 deg>, <Quantity 83.75 deg>)
    """
    return _angle(name, value, hours=True, example='"20h 45m 38s" or "311.4 deg"')


def read_declination(name: str, value: Any) -> u.Quantity:
    """Declination. [deg]

    Parameters
    ----------
    name : str
        The field's name, for the error message.
    value : str or astropy.units.Quantity
        "-5d 23m" or an angle with its unit, from -90 to 90 deg.

    Raises
    ------
    TypeError
        If it is a bare number.
    ValueError, astropy.units.UnitsError
        If it is no angle, in hours or out of range.

    Examples
    --------
    >>> read_declination("declination", "-0d 30m")
    <Quantity -0.5 deg>
    """
    return _angle(name, value, hours=False, example='"+30d 43m" or "30.7 deg"')
