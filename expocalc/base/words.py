"""Numbers as a person would say them: 45 s, 4 min, 7.5 h."""

from __future__ import annotations

import math

__all__ = [
    "colour_word",
    "in_colour",
    "say_count",
    "say_duration",
    "say_given",
    "say_number",
    "say_share",
    "say_span",
]


def say_number(value: float, digits: int = 2) -> str:
    """A number rounded to `digits` figures, without an exponent where a person would write none.

    Examples
    --------
    >>> say_number(0.012345), say_number(1234.5), say_number(3.14e-9)
    ('0.012', '1200', '3.1 × 10^-9')
    """
    if not math.isfinite(value):
        return "without limit" if value > 0 else "unknown"
    if value == 0:
        return "0"
    exponent = math.floor(math.log10(abs(value)))
    rounded = round(value, digits - 1 - exponent)
    if not 1e-6 <= abs(rounded) < 1e9:
        mantissa, _, power = f"{rounded:.{digits - 1}e}".partition("e")
        return f"{mantissa} × 10^{int(power)}"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(rounded))))
    return f"{rounded:.{decimals}f}"


def say_given(value: float) -> str:
    """A number that a person gave, in three figures and without zeros at its end.

    Examples
    --------
    >>> say_given(10.0), say_given(7.25), say_given(74900.0)
    ('10', '7.25', '74900')
    """
    text = say_number(value, 3)
    return text.rstrip("0").rstrip(".") if "." in text else text


def say_share(share: float) -> str:
    """A share in per cent.

    Examples
    --------
    >>> say_share(0.0512), say_share(0.0004), say_share(3e-7)
    ('5 %', '0.04 %', 'under 0.01 %')
    """
    if 0 < share < 5e-5:
        return "under 0.01 %"
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


def say_span(low: str, high: str) -> str:
    """From one finished number to another: the unit once where both have it, and one number where they say the same.

    Examples
    --------
    >>> say_span("2 h", "9 h"), say_span("45 s", "2 min"), say_span("5 min", "5 min"), say_span("9 h", "never")
    ('2 to 9 h', '45 s to 2 min', '5 min', '9 h to never')
    """
    if low == high:
        return low
    number, _, unit = low.rpartition(" ")
    return f"{number if number and high.endswith(f' {unit}') else low} to {high}"


def say_count(count: int, noun: str) -> str:
    """So many of something that takes an s where it is not one.

    Examples
    --------
    >>> say_count(1, "sub"), say_count(0, "dark"), say_count(71, "sub")
    ('1 sub', '0 darks', '71 subs')
    """
    return f"{count} {noun}{'' if count == 1 else 's'}"
