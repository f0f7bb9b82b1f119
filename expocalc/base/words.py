"""Numbers as a person would say them: 45 s, 4 min, 7.5 h."""

from __future__ import annotations

import math

__all__ = ["colour_word", "in_colour", "say_duration", "say_number", "say_share"]


def say_number(value: float, digits: int = 2) -> str:
    """A number rounded to `digits` figures, without an exponent where a person would write none.

    Examples
    --------
    >>> say_number(0.012345), say_number(1234.5)
    ('0.012', '1200')
    """
    if not math.isfinite(value):
        return "without limit" if value > 0 else "unknown"
    if value == 0:
        return "0"
    exponent = math.floor(math.log10(abs(value)))
    rounded = round(value, digits - 1 - exponent)
    if not 1e-4 <= abs(rounded) < 1e7:
        return f"{rounded:.{digits - 1}e}"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(rounded))))
    return f"{rounded:.{decimals}f}"


def say_share(share: float) -> str:
    """A share in per cent.

    Examples
    --------
    >>> say_share(0.0512), say_share(0.0004)
    ('5 %', '0.04 %')
    """
    return f"{say_number(100 * share, 2 if abs(share) >= 0.095 else 1)} %"


def say_duration(seconds: float) -> str:
    """A length of time in the unit that a person would choose.

    Examples
    --------
    >>> say_duration(45.2), say_duration(250), say_duration(27000), say_duration(0.31), say_duration(300)
    ('45 s', '4.2 min', '7.5 h', '0.31 s', '5 min')
    """
    if not math.isfinite(seconds):
        return "without limit"
    if seconds < 119.5:
        number, unit = say_number(seconds), "s"
    elif seconds < 5400:
        number, unit = say_number(seconds / 60), "min"
    else:
        number, unit = say_number(seconds / 3600, 2 if seconds < 36e4 else 3), "h"
    return f"{number.removesuffix('.0')} {unit}"


_COLOURS = {"R": "red", "G": "green", "B": "blue"}


def colour_word(colour: str) -> str:
    """Name of a colour of a mosaic's pixels; what is none stays as it is.

    Examples
    --------
    >>> colour_word("G"), colour_word("mono")
    ('green', 'mono')
    """
    return _COLOURS.get(colour, colour)


def in_colour(colour: str | None) -> str:
    """Whose pixels a number is of, to stand behind it; empty where all pixels are alike.

    Examples
    --------
    >>> in_colour("R"), in_colour(None), in_colour("mono")
    (' in red', '', '')
    """
    return "" if colour in (None, "mono") else f" in {colour_word(str(colour))}"
