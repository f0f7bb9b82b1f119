"""What a field of a noun is: declared once, read by the checks, the help, the page of keys and the forms."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

__all__ = ["KINDS", "MISSING", "Field", "check_range", "documented", "fields_of", "hint", "place_of", "within"]

MISSING = dataclasses.MISSING

KINDS: Mapping[str, str] = MappingProxyType(
    {
        "quantity": "Quantity or str",
        "number": "float",
        "whole": "int",
        "choice": "str",
        "text": "str",
        "curve": "str, float or sequence of pairs",
        "table": "mapping",
        "tables": "mapping of str to mapping",
        "list": "sequence of mapping",
        "words": "sequence of str",
    }
)
"""Kinds of field and the Python types that they take: "tables" are tables by a name of one's own, "list" is tables one
after the other, "words" are texts, "curve" is a name, a number or pairs over wavelength.
"""
_BEFORE_CHOICES = MappingProxyType({"choice": "one of ", "table": "for each of "})
_SECTION = r"(?m)^ *(?:Raises|Notes|Examples)\n *-+$"
_LINE = r"\S.{0,99}(?=\s|$)"
"""As many words as a line of help holds."""


class Field(NamedTuple):
    """One field of a noun.

    Parameters
    ----------
    kind : str
        One of :data:`KINDS`.
    meaning : str
        What it is, in a sentence for a newcomer.
    origin : str
        Where a typical value, or the default, comes from.
    read : callable
        ``read(name, value)`` gives the value as the noun keeps it, or raises TypeError or ValueError with one sentence.
    name : str
    unit : str
        Empty where there is none.
    minimum, maximum, above, below : float or None
        Range, in the unit; the first two included, the last two excluded.
    default : object
        MISSING where a value is needed; None where nothing stands for "not there".
    choices : tuple of str
        Words that it may hold; of a table without nouns, the keys.
    example : str
        As a plan file would hold it; two of them have " or " between.
    other : str
        What else may stand there.
    advanced : bool
        Whether a newcomer may leave it alone.
    nouns : tuple of type
        What is inside a table, tables or a list; several are kinds of which each entry is one.

    Examples
    --------
    >>> from expocalc.gear.telescope import Telescope
    >>> aperture = fields_of(Telescope)[0]
    >>> aperture.label, aperture.unit, aperture.allowed, aperture.required
    ('Aperture', 'mm', 'above 0 and at most 100000 mm', True)
    """

    kind: str
    meaning: str
    origin: str
    read: Callable[[str, Any], Any]
    name: str = ""
    unit: str = ""
    minimum: float | None = None
    maximum: float | None = None
    above: float | None = None
    below: float | None = None
    default: Any = MISSING
    choices: tuple[str, ...] = ()
    example: str = ""
    other: str = ""
    advanced: bool = False
    nouns: tuple[type, ...] = ()

    @property
    def required(self) -> bool:
        """Whether there is no noun without it."""
        return self.default is MISSING

    @property
    def label(self) -> str:
        """Name as a form shows it: "Focal length"."""
        words = self.name.replace("_", " ").replace("adu", "ADU").replace("snr", "SNR")
        return words[:1].upper() + words[1:]

    @property
    def allowed(self) -> str:
        """What may stand there, in words; empty where anything of its kind may."""
        limits = (("at least", self.minimum), ("above", self.above), ("at most", self.maximum), ("below", self.below))
        said = " and ".join(f"{words} {_plain(limit)}" for words, limit in limits if limit is not None)
        said = f"{said} {self.unit}" if said and self.unit else said or self.unit
        before = _BEFORE_CHOICES.get(self.kind, "or " if said else "")
        words = f"{before}{', '.join(self.choices)}" if self.choices else ""
        return "; ".join(part for part in (said, words, self.other) if part)

    @property
    def default_shown(self) -> str:
        """Default as a plan file would hold it; empty where there is none or it is a whole table."""
        if isinstance(self.default, str):
            return f'"{self.default}"'
        return _plain(self.default) if isinstance(self.default, int | float) else ""


def _plain(number: float) -> str:
    return str(int(number)) if number == int(number) and abs(number) < 1e7 else f"{number:g}"


def hint(example: str) -> str:
    """End of an error's sentence that shows how the value should look; empty without an example."""
    return f"; write it like {example}" if example else ""


def check_range(
    name: str,
    number: float,
    unit: str,
    *,
    minimum: float | None,
    maximum: float | None,
    above: float | None,
    below: float | None,
    example: str,
) -> None:
    """Refuse a number beyond its ends with one sentence; the first two are included, the last two excluded.

    Raises
    ------
    ValueError
        If it is not finite or out of range.
    """
    tail = f" {unit}" if unit else ""
    if not math.isfinite(number):
        rule = "a finite number"
    elif minimum is not None and number < minimum:
        rule = f"at least {minimum:g}{tail}"
    elif above is not None and number <= above:
        rule = f"above {above:g}{tail}"
    elif maximum is not None and number > maximum:
        rule = f"at most {maximum:g}{tail}"
    elif below is not None and number >= below:
        rule = f"below {below:g}{tail}"
    else:
        return
    msg = f"{name} must be {rule}, got {number:g}{tail}{hint(example)}"
    raise ValueError(msg)


def fields_of(noun: type) -> tuple[Field, ...]:
    """Fields of a noun's class, in the order of their declaration.

    Examples
    --------
    >>> from expocalc.budget.goal import Goal
    >>> [field.name for field in fields_of(Goal)]
    ['snr', 'noise_growth', 'unsaturated_star', 'sky_share_of_well']
    """
    return tuple(field.metadata["declared"]._replace(name=field.name) for field in dataclasses.fields(noun))


def documented(doc: str, fields: Iterable[Field]) -> str:
    """Docstring of a class with the section Parameters that its declarations make."""
    lines = ["    Parameters", "    ----------"]
    for field in fields:
        type_ = "{" + ", ".join(f'"{word}"' for word in field.choices) + "}" if field.kind == "choice" else ""
        default = f", default {field.default_shown}" if field.default_shown else ", optional"
        lines.append(f"    {field.name} : {type_ or KINDS[field.kind]}{'' if field.required else default}")
        allowed = field.other if type_ else field.allowed
        text = f"{field.meaning} [{field.unit or '-'}]" if field.kind in ("quantity", "number") else field.meaning
        text += f" Allowed: {allowed}." if allowed else ""
        text += f" From: {field.origin}."
        lines += [f"        {line}" for line in re.findall(_LINE, text)]
    made = "\n".join(lines)
    following = re.search(_SECTION, doc)
    if following is None:
        return f"{doc.rstrip()}\n\n{made}\n    "
    return f"{doc[: following.start()]}{made}\n\n{doc[following.start() :]}"


def within(error: Exception, *steps: str | int) -> Exception:
    """The error, which happened at these steps further down: fields, names and positions."""
    error.place = (*steps, *place_of(error))  # type: ignore[attr-defined]
    return error


def place_of(error: Exception) -> tuple[str | int, ...]:
    """Where in a noun an error happened, as far as it is known.

    Examples
    --------
    >>> place_of(within(within(ValueError("peak must be at most 1"), "peak"), "passbands", 0))
    ('passbands', 0, 'peak')
    """
    return tuple(getattr(error, "place", ()))
