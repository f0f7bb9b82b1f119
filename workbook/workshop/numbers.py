"""Numbers as newcomers type them: with a decimal comma, with or without the unit, sometimes a word."""

from __future__ import annotations

import re

from expocalc.base.quantity import read_quantity

__all__ = ["read_number_kindly"]

LONGEST = 80
"""Longer texts are no numbers."""
_NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))(.*)", re.S)
_TWO_WAYS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}$")
_THIN_SPACES = re.compile(r"(?<=\d)[\s\u00a0\u202f](?=\d{3}(?!\d))")
_SAME = {
    "times": ("x", "×", "time"),
    "%": ("percent", "per cent"),
    "hours": ("h", "hour"),
    "seconds": ("s", "sec"),
}


def read_number_kindly(text: str, unit: str = "") -> float:
    """Number of a typed text; the unit may stand behind it.

    Parameters
    ----------
    text : str
        What was typed.
    unit : str, optional
        What the number counts, as the label shows it: "s", "times". Another unit of the same kind is converted.

    Returns
    -------
    float
        In `unit`.

    Raises
    ------
    ValueError
        With one kind sentence, if it is blank, a word, or could be read in two ways.

    Examples
    --------
    >>> read_number_kindly("2,5"), read_number_kindly("4 times", "times"), read_number_kindly("2 min", "s")
    (2.5, 4.0, 120.0)
    >>> read_number_kindly("a lot")
    Traceback (most recent call last):
    ...
    ValueError: “a lot” is not a number yet; write one like 4 or 2,5.
    """
    text = text.replace("−", "-").strip()
    if not text:
        msg = "The box is still empty; write a number like 4 or 2,5. Any guess is a good guess."
        raise ValueError(msg)
    shown = text if len(text) <= LONGEST else f"{text[:LONGEST]}…"
    match = _NUMBER.fullmatch(_THIN_SPACES.sub("", text)) if len(text) <= LONGEST else None
    if match is None:
        msg = f"“{shown}” is not a number yet; write one like 4 or 2,5."
        raise ValueError(msg)
    digits, rest = match[1], match[2].strip()
    if _TWO_WAYS.fullmatch(digits):
        thousands, decimals = digits.replace(",", ""), float(digits.replace(",", "."))
        msg = f"“{digits}” could mean two numbers; write {thousands} or {decimals:g}."
        raise ValueError(msg)
    if not rest or rest.casefold() in (unit.casefold(), *_SAME.get(unit, ())):
        return float(digits.replace(",", "."))
    try:
        return read_quantity("Number", f"{digits} {rest}", unit)
    except (TypeError, ValueError):
        asked = f"in {unit}" if unit else "without a unit"
        msg = f"I can't use “{rest}” here; write the number alone, {asked}."
        raise ValueError(msg) from None
