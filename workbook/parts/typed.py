"""What people type into a box, as the library reads it: a bare number means the unit that the box shows."""

from __future__ import annotations

import re

import astropy.units as u

from expocalc.base.quantity import unit_of

__all__ = ["MM_PER_INCH", "is_none", "written"]

_NUMBER = r"\s*([+−-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+−-]?\d+)?)\s*"
_BARE = re.compile(_NUMBER)
_INCH = re.compile(_NUMBER + "(?:in|inch|inches|\"|″|''|”)", re.I)
_FAHRENHEIT = re.compile(_NUMBER + r"(?:°\s*F|deg_?\s*F|degrees?\s*F|F|fahrenheit)", re.I)
_NONE = frozenset({"", "none", "no", "no limit", "without", "without limit", "not given", "nothing", "-", "–", "—"})
MM_PER_INCH = 25.4


def is_none(text: str) -> bool:
    """Whether a typed text says that there is no value.

    Examples
    --------
    >>> is_none(" No limit "), is_none("0")
    (True, False)
    """
    return text.strip().lower() in _NONE


def _float(number: str) -> float:
    return float(number.replace("−", "-").replace(",", "."))


def written(text: str, unit: str, shown: str = "") -> str:
    """A typed quantity as the library's reader takes it.

    Inches and degrees Fahrenheit, which the reader does not know, are turned into millimetres and degrees Celsius.
    What is no number at all stays as it is: the reader says what is wrong with it.

    Parameters
    ----------
    text : str
    unit : str
        The quantity's, as astropy reads it.
    shown : str, optional
        Unit that the box shows, where that is another one.

    Examples
    --------
    >>> written("81", "mm"), written("3,2 in", "mm"), written("14 °F", "deg_C"), written("4", "mm", shown="inch")
    ('81 mm', '81.28 mm', '-10 deg_C', '101.6 mm')
    """
    shown = shown or unit
    bare = _BARE.fullmatch(text)
    if bare and shown:
        text = f"{bare[1]} {shown}"
    inch = _INCH.fullmatch(text)
    if inch and _is_a(unit, "mm"):
        return f"{_float(inch[1]) * MM_PER_INCH:.8g} mm"
    fahrenheit = _FAHRENHEIT.fullmatch(text)
    if fahrenheit and unit == "deg_C":
        return f"{(_float(fahrenheit[1]) - 32) / 1.8:.6g} deg_C"
    return text.strip()


def _is_a(unit: str, other: str) -> bool:
    return bool(unit) and u.Unit(unit_of(unit)).is_equivalent(other)
