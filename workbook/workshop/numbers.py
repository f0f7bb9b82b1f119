"""Numbers as newcomers type them: a decimal comma, a fraction, a word such as half, a range, a unit or none."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from expocalc.base.quantity import read_quantity

__all__ = ["read_number_kindly", "read_range_kindly"]

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
_ABOUT = re.compile(r"(?:about|around|roughly|maybe|perhaps|circa|ca\.?|almost|nearly|some|~|≈)\s*", re.I)
_FRACTION = re.compile(r"([+-]?\d+)\s*[/⁄]\s*(\d+)")
_RANGE = re.compile(r"(.*?\d.*?)\s*(?:-|–|—|\bto\b|\.\.)\s*(\d.*)", re.S | re.I)
_WORDS: Mapping[str, float] = MappingProxyType(
    {
        "none": 0.0, "nothing": 0.0, "zero": 0.0, "a tenth": 0.1, "tenth": 0.1, "¼": 0.25, "a quarter": 0.25,
        "quarter": 0.25, "⅓": 1 / 3, "a third": 1 / 3, "third": 1 / 3, "½": 0.5, "half": 0.5, "a half": 0.5,
        "half as much": 0.5, "half as many": 0.5, "⅔": 2 / 3, "two thirds": 2 / 3, "¾": 0.75, "three quarters": 0.75,
        "the same": 1.0, "same": 1.0, "as much": 1.0, "as many": 1.0, "one": 1.0, "once": 1.0, "two": 2.0,
        "twice": 2.0, "double": 2.0, "twice as much": 2.0, "twice as many": 2.0, "three": 3.0, "thrice": 3.0,
        "triple": 3.0, "four": 4.0, "five": 5.0, "six": 6.0, "seven": 7.0, "eight": 8.0, "nine": 9.0, "ten": 10.0,
        "a hundred": 100.0, "hundred": 100.0,
    }
)  # fmt: skip
"""What people write in words; a share where the answer counts times or has no unit."""
_SHARES = frozenset(word for word, number in _WORDS.items() if 0 < number < 1)


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
    >>> read_number_kindly("about 1/2", "times"), read_number_kindly("half", "%"), read_number_kindly("50 %", "times")
    (0.5, 50.0, 0.5)
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
    text = _ABOUT.sub("", text, count=1) if _ABOUT.match(text) and len(text) <= LONGEST else text
    in_words = _in_words(text, unit)
    if in_words is not None:
        return in_words
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
    if unit in ("", "times") and rest in ("%", *_SAME["%"]):
        return float(digits.replace(",", ".")) / 100
    try:
        return read_quantity("Number", f"{digits} {rest}", unit)
    except (TypeError, ValueError):
        asked = f"in {unit}" if unit else "without a unit"
        msg = f"I can't use “{rest}” here; write the number alone, {asked}."
        raise ValueError(msg) from None


def _in_words(text: str, unit: str) -> float | None:
    """A fraction, or a number in words; None where it is neither."""
    bare = text.casefold().strip()
    for tail in sorted((unit, *_SAME.get(unit, ())), key=len, reverse=True):
        if tail:
            bare = bare.removesuffix(tail.casefold()).rstrip()
    fraction = _FRACTION.fullmatch(bare)
    if fraction and int(fraction[2]):
        share = int(fraction[1]) / int(fraction[2])
    elif bare in _WORDS:
        share = _WORDS[bare]
        if bare not in _SHARES:
            return share
    else:
        return None
    return 100 * share if unit == "%" else share


def read_range_kindly(text: str, unit: str = "") -> tuple[float, float]:
    """Ends of a guess: "10-20" and "10 to 20" are a range, anything else a number, twice.

    Parameters
    ----------
    text, unit : str
        As in :func:`read_number_kindly`, whose errors it raises.

    Returns
    -------
    tuple of float
        The lower end first. [unit]

    Examples
    --------
    >>> read_range_kindly("10-20 %", "%"), read_range_kindly("about 3", "times")
    ((10.0, 20.0), (3.0, 3.0))
    """
    match = _RANGE.fullmatch(text.strip()) if len(text) <= LONGEST else None
    if match is None:
        number = read_number_kindly(text, unit)
        return number, number
    ends = read_number_kindly(match[1], unit), read_number_kindly(match[2], unit)
    return min(ends), max(ends)
