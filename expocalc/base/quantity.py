"""Reading quantities: from "102 mm" or an astropy Quantity to a checked number in one unit.

Every number that a person gives passes through here once. A bare number where a unit belongs is an error, never
a guess; a number that is not finite or out of range is refused with one sentence that names the field, the rule,
what arrived and an example.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import Any

import astropy.units as u

from expocalc.base.field import check_range, hint

__all__ = ["parse_quantity", "read_number", "read_quantity", "unit_of"]

# Patterns are texts, which `re` compiles when it first meets them: most imports never read a number.
_NUMBER = r"(?is)\s*([+−-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+−-]?\d+)?|[+−-]?(?:nan|inf(?:inity)?))(.*)"
_THOUSANDS = r"[+-]?[1-9]\d{0,2},\d{3}(?!\d)"
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_MINUS = "−"  # the typographic one, as it comes out of a page that was copied
# How people write units, and how astropy spells them.
_SPELLINGS = (
    (r"\be-(?!\d)|\be⁻", "electron"),
    (r"(?i)°\s*C|\bdeg(?:rees?)?\s*C\b|\bdegC\b|\bcelsius\b", "deg_C"),
    (r"°|\bdegrees?\b", "deg"),
    (r"″|\"", "arcsec"),
    (r"′|'", "arcmin"),
    (r"(?i)\brayleighs?\b", "R"),
    (r"\b(?:secs?|seconds?)\b", "s"),
    (r"\b(?:mins|minutes?)\b", "min"),
    (r"\bhours?\b", "h"),
    (r"\b(?:px|pixels)\b", "pixel"),
    (r"\belectrons\b", "electron"),
)
_LONGEST_TEXT = 80


def _spell(text: str) -> str:
    """One slash at the most, and astropy's own names: "erg/s/cm2" becomes "erg/(s cm2)"."""
    for pattern, name in _SPELLINGS:
        text = re.sub(pattern, name, text)
    text = text.translate(_SUPERSCRIPTS).strip()
    first, *rest = (part.strip() for part in text.split("/"))
    if len(rest) > 1 and "(" not in text:
        text = f"{first or 1}/({' '.join(rest)})"
    return text


@lru_cache(maxsize=256)
def unit_of(text: str) -> Any:
    """Astropy unit by its name, one object per name; ValueError where it is no plain unit.

    Examples
    --------
    >>> unit_of("e-/sec")
    Unit("electron / s")
    """
    unit = u.Unit(_spell(text), parse_strict="raise")
    # "10 000 mm" and "10² mm" would be 10 units of 0 mm and of 2 mm; "3 dex(mm)" is a logarithm
    if not isinstance(unit, u.UnitBase) or unit.scale != 1:
        msg = f"{text} is no plain unit"
        raise ValueError(msg)
    return unit


def _shorten(value: object) -> str:
    text = repr(value)
    return text if len(text) <= _LONGEST_TEXT else text[: _LONGEST_TEXT - 1] + "…"


def _number(name: str, text: str, example: str) -> float:
    text = text.replace(_MINUS, "-")
    if re.match(_THOUSANDS, text):
        msg = f"{name} got {text!r}, where the comma could mark thousands or decimals{hint(example)}"
        raise ValueError(msg)
    return float(text.replace(",", "."))


def parse_quantity(
    name: str, text: str, *, example: str = "", what: str = "a number with its unit"
) -> tuple[float, Any]:
    """Split a text such as "1,4 e-" into its number and its astropy unit (None where no unit stands).

    Parameters
    ----------
    name : str
        The field's name, for the error message.
    text : str
        Number and unit; a decimal comma is understood.
    example : str, optional
        How it should look, for the error message.
    what : str, optional
        What it should be, for the error message.

    Returns
    -------
    number, unit : float, astropy unit or None

    Raises
    ------
    ValueError
        If there is no number, the number could be read in two ways, or the unit is not known.

    Examples
    --------
    >>> parse_quantity("read_noise", "1,4 e-")
    (1.4, Unit("electron"))
    """
    match = re.fullmatch(_NUMBER, text) if len(text) <= _LONGEST_TEXT else None
    if match is None:
        msg = f"{name} must be {what}, got {_shorten(text)}{hint(example)}"
        raise ValueError(msg)
    number = _number(name, match[1], example)
    rest = match[2].strip()
    if not rest:
        return number, None
    try:
        return number, unit_of(rest)
    except (ValueError, TypeError):
        msg = f"{name} has the unit {_shorten(rest)}, which is not known{hint(example)}"
        raise ValueError(msg) from None


def _float(value: float) -> float:
    try:
        return float(value)
    except OverflowError:  # a whole number may have any size
        return math.inf if value > 0 else -math.inf


def read_quantity(
    name: str,
    value: object,
    unit: str,
    *,
    minimum: float | None = None,
    maximum: float | None = None,
    above: float | None = None,
    below: float | None = None,
    example: str = "",
) -> float:
    """Number of `value` in `unit`, checked.

    Parameters
    ----------
    name : str
        The field's name, for the error message.
    value : str or astropy.units.Quantity
        A scalar with its unit. Temperatures convert as temperatures, differences of temperature ("6 K",
        also written "6 deg_C") where `unit` is K.
    unit : str
        The astropy unit that is wanted.
    minimum, maximum, above, below : float, optional
        Allowed range in `unit`: the first two included, the last two excluded.
    example : str, optional
        How it should look, for the error message.

    Returns
    -------
    float

    Raises
    ------
    TypeError
        If no unit is given.
    astropy.units.UnitConversionError
        A ValueError, if the unit is of another kind.
    ValueError
        If it is not a number, not finite or out of range.

    Examples
    --------
    >>> read_quantity("sub_length", "2 min", "s")
    120.0
    >>> read_quantity("aperture", 102, "mm", example='"102 mm"')
    Traceback (most recent call last):
    ...
    TypeError: aperture needs a unit convertible to mm, got the bare number 102; write it like "102 mm"
    """
    wanted = unit_of(unit)
    if isinstance(value, str):
        number, given = parse_quantity(name, value, example=example)
    elif isinstance(value, u.Quantity):
        if value.shape:
            msg = f"{name} must be a single number, got shape {value.shape}"
            raise ValueError(msg)
        number, given = float(value.value), value.unit
    elif isinstance(value, int | float) and not isinstance(value, bool):
        number, given = _float(value), None
    else:
        msg = f"{name} must be a number with its unit, got {_shorten(value)}{hint(example)}"
        raise TypeError(msg)
    bare = given is not wanted and given == u.dimensionless_unscaled  # to compare units takes long
    if given is None or (bare and wanted != u.dimensionless_unscaled):
        msg = f"{name} needs a unit convertible to {unit}, got the bare number {number:g}{hint(example)}"
        raise TypeError(msg)
    if given is not wanted:
        number = _convert(name, number, given, wanted, unit, example)
    check_range(name, number, unit, minimum=minimum, maximum=maximum, above=above, below=below, example=example)
    return number


def _convert(name: str, number: float, given: Any, wanted: Any, unit: str, example: str) -> float:
    if given == wanted or (wanted == u.K and given == u.deg_C):  # the second is a step of temperature
        return number
    try:
        if wanted == u.deg_C:
            found = given.to(wanted, number, equivalencies=u.temperature())
        else:
            found = given.to(wanted, number)
    except u.UnitsError:
        kind = given.physical_type
        shown = f"{number:g} {given} ({kind})" if kind != "unknown" else f"{number:g} {given}"
        msg = f"{name} must be convertible to {unit}, got {shown}{hint(example)}"
        raise u.UnitConversionError(msg) from None  # the one that is a ValueError in every astropy
    return float(f"{found:.15g}")  # 1 mm is 1000 um, not a rounding error more than is allowed


def read_number(
    name: str,
    value: object,
    *,
    minimum: float | None = None,
    maximum: float | None = None,
    above: float | None = None,
    below: float | None = None,
    example: str = "",
) -> float:
    """Checked number without a unit; a text may hold a decimal comma or a percent sign.

    Parameters
    ----------
    name : str
        The field's name, for the error message.
    value : int, float, str or astropy.units.Quantity
        A scalar.
    minimum, maximum, above, below : float, optional
        Allowed range: the first two included, the last two excluded.
    example : str, optional
        How it should look, for the error message.

    Returns
    -------
    float

    Raises
    ------
    TypeError
        If it is no number.
    ValueError
        If it has a unit, is not finite or out of range.

    Examples
    --------
    >>> read_number("throughput", "92 %")
    0.92
    """
    if isinstance(value, str | u.Quantity):
        number, given = (
            parse_quantity(name, value, example=example, what="a number")
            if isinstance(value, str)
            else (value.value, value.unit)
        )
        if given is not None:
            try:
                number = float(given.to(u.dimensionless_unscaled, number))
            except u.UnitsError:
                msg = f"{name} must be a number without a unit, got {_shorten(str(value))}{hint(example)}"
                raise ValueError(msg) from None
    elif isinstance(value, int | float) and not isinstance(value, bool):
        number = _float(value)
    else:
        msg = f"{name} must be a number, got {_shorten(value)}{hint(example)}"
        raise TypeError(msg)
    check_range(name, number, "", minimum=minimum, maximum=maximum, above=above, below=below, example=example)
    return number
