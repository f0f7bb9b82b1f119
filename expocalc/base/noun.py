"""Fields of the things that people own: declared once, checked once, at construction.

A noun is a frozen dataclass of keywords that inherits from :class:`Noun`. Each field says with one of the
functions below what it may hold, what it means and where a typical value comes from; construction turns texts into
astropy Quantities in one unit and refuses the rest.
"""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from typing import Any, ClassVar, TypeVar

import astropy.units as u

from expocalc.base.field import MISSING, Field, documented, fields_of, place_of, within
from expocalc.base.frozen import Frozen
from expocalc.base.quantity import read_number, read_quantity, unit_of

__all__ = [
    "Noun",
    "build",
    "choice",
    "factor",
    "field_of",
    "measure",
    "nested",
    "number",
    "read_text_line",
    "suggest",
    "text",
    "whole",
    "with_known_keys",
]

_LONGEST_TITLE = 200


class _Documented:
    """Docstring of a noun, with its fields, made when somebody asks."""

    def __init__(self, doc: str) -> None:
        self.doc = doc

    def __get__(self, one: Noun | None, noun: type[Noun]) -> str:
        return documented(self.doc, noun.declared)


class Noun(Frozen):
    """Base of all nouns: every declared field is checked and brought to its one unit.

    A noun takes back what it holds: built again from its own fields it is the same.
    """

    declared: ClassVar[tuple[Field, ...]]
    _needed: ClassVar[tuple[str, ...]]
    _read_defaults: ClassVar[dict[str, Any]]

    def __init_subclass__(cls) -> None:
        said = cls.__doc__
        super().__init_subclass__()
        cls.declared = fields_of(cls)
        cls._needed = tuple(field.name for field in cls.declared if field.required)
        cls._read_defaults = {}
        if said:  # python -OO has none
            cls.__doc__ = _Documented(said)  # type: ignore[assignment]

    def __post_init__(self) -> None:
        values, defaults = vars(self), self._read_defaults
        for field in self.declared:
            name = field.name
            value = values[name]
            if value is field.default:
                if value is None:
                    continue
                if name in defaults:  # nothing of a noun changes, so that many may hold it
                    values[name] = defaults[name]
                    continue
            try:
                values[name] = field.read(name, value)
            except (TypeError, ValueError) as error:
                within(error, name)
                raise
            if value is field.default:
                defaults[name] = values[name]


def field_of(read: Callable[[str, Any], Any], default: Any = MISSING, **declared: Any) -> Any:
    """Dataclass field that `read(name, value)` checks and canonicalises; None is allowed where it is the default.

    `declared` are the further fields of :class:`expocalc.base.field.Field`: kind, meaning, origin and so on.
    """
    field = Field(read=read, default=default, **declared)
    return dataclasses.field(default=default, metadata={"declared": field})


def _ends(declared: Mapping[str, Any]) -> dict[str, Any]:
    """The part of a declaration that the readers of numbers check and show."""
    return {key: declared[key] for key in ("minimum", "maximum", "above", "below", "example") if key in declared}


def measure(unit: str, default: Any = MISSING, **declared: Any) -> Any:
    """Quantity field in `unit`, with limits as in :func:`expocalc.base.quantity.read_quantity`."""
    ends = _ends(declared)

    @lru_cache(maxsize=64)  # when one value of a section changes, all others are read again
    def read_text(name: str, value: str) -> Any:
        return made(name, value)

    def made(name: str, value: Any) -> Any:
        found = u.Quantity(read_quantity(name, value, unit, **ends), unit_of(unit))
        found.flags.writeable = False  # several nouns may hold it
        return found

    def read(name: str, value: Any) -> Any:
        return read_text(name, value) if isinstance(value, str) else made(name, value)

    return field_of(read, default, kind="quantity", unit=unit, **declared)


def number(default: Any = MISSING, **declared: Any) -> Any:
    """Plain number field, with limits as in :func:`expocalc.base.quantity.read_number`."""
    ends = _ends(declared)
    return field_of(lambda name, value: read_number(name, value, **ends), default, kind="number", **declared)


def factor(default: Any, **declared: Any) -> Any:
    """Field of the factor of one standard deviation; a text with a percent sign says how far above 1.

    Examples
    --------
    >>> class Trust(Noun):
    ...     target: float = factor(1.1, meaning="On the target.", origin="assumed")
    >>> read = Trust.declared[0].read
    >>> read("target", "25 %"), read("target", 2)
    (1.25, 2.0)
    """
    ends: dict[str, Any] = {"minimum": 1, "maximum": 1000, "example": '"10 %" or the factor 1.1'}

    def read(name: str, value: Any) -> float:
        if isinstance(value, str) and value.rstrip().endswith("%"):
            return 1 + read_number(name, value, minimum=0, maximum=1000)
        return read_number(name, value, **ends)

    return field_of(read, default, kind="number", **ends, **declared)


def whole(default: Any = MISSING, **declared: Any) -> Any:
    """Whole-number field, with limits as in :func:`expocalc.base.quantity.read_number`."""
    ends = _ends(declared)

    def read(name: str, value: Any) -> int:
        found = read_number(name, value, **ends)
        if found != int(found):
            msg = f"{name} must be a whole number, got {found:g}"
            raise ValueError(msg)
        return int(found)

    return field_of(read, default, kind="whole", **declared)


def choice(allowed: Iterable[str], default: Any = MISSING, **declared: Any) -> Any:
    """Text field that holds one of `allowed`."""
    names = tuple(allowed)

    def read(name: str, value: Any) -> str:
        if value not in names:
            msg = f"{name} must be one of {', '.join(names)}, got {value!r}{suggest(value, names)}"
            raise ValueError(msg)
        return str(value)

    return field_of(read, default, kind="choice", choices=names, **declared)


def read_text_line(name: str, value: Any) -> str:
    """One line of printable text; TypeError or ValueError with one sentence for anything else."""
    if not isinstance(value, str):
        msg = f"{name} must be a text in quotes, got {value!r}"
        raise TypeError(msg)
    if not value.strip() or len(value) > _LONGEST_TITLE or not value.isprintable():
        msg = f"{name} must be one line of 1 to {_LONGEST_TITLE} printable characters, got {value[:40]!r}"
        raise ValueError(msg)
    return value


def text(default: Any = MISSING, **declared: Any) -> Any:
    """One-line text field."""
    return field_of(read_text_line, default, kind="text", **declared)


N = TypeVar("N", bound=Noun)


def build(noun: type[N], where: str, value: object, *steps: str | int) -> N:
    """Noun of a class from a mapping of its fields; a ready noun passes.

    Parameters
    ----------
    noun : type
        A subclass of :class:`Noun`.
    where : str
        Where it stands, for the error messages.
    value : mapping or Noun
    *steps : str or int
        Where it stands in the field that holds it, so that the line of a plan can be named.

    Returns
    -------
    Noun

    Raises
    ------
    TypeError
        If it is no mapping.
    ValueError
        If a field is not known, missing or refused by the noun.

    Examples
    --------
    >>> from expocalc.gear.camera import Pattern
    >>> build(Pattern, "pattern", {"fixd": "0.5 electron"})
    Traceback (most recent call last):
    ...
    ValueError: pattern has no key "fixd"; did you mean "fixed"?
    """
    if isinstance(value, noun):
        return value
    try:
        values = with_known_keys(noun, where, value)
    except (TypeError, ValueError) as error:
        raise within(error, *steps) from None
    try:
        return noun(**values)
    except (TypeError, ValueError) as error:  # a wrong unit is one or the other
        told = within(type(error)(f"{where}: {error}"), *steps, *place_of(error))
        raise told from None


def with_known_keys(noun: type[Noun], where: str, value: object) -> Mapping[str, Any]:
    """The value, if it is a table that holds what a noun needs and nothing else; TypeError or ValueError if not."""
    names = noun._names
    if not isinstance(value, Mapping):
        msg = f"{where} must be a table of keys and values ({', '.join(names)}), got {str(value)[:60]!r}"
        raise TypeError(msg)
    for key in value:
        if key not in names:
            msg = f'{where} has no key "{str(key)[:60]}"{suggest(key, names) or "; it knows " + ", ".join(names)}'
            raise within(ValueError(msg), str(key))
    for name in noun._needed:
        if name not in value:
            msg = f'{where} needs the key "{name}"'
            raise ValueError(msg)
    return value


def nested(noun: type[Noun], default: Any = MISSING, **declared: Any) -> Any:
    """Field that holds a noun, given as such or as a mapping of its fields; a class as default is one left as it is."""

    def read(name: str, value: Any) -> Noun:
        return noun() if value is noun else build(noun, name, value)

    return field_of(read, default, kind="table", nouns=(noun,), **declared)


def suggest(given: object, allowed: Iterable[str]) -> str:
    """Words that offer the nearest allowed name, or nothing where none is near.

    Examples
    --------
    >>> suggest("aperure", ["aperture", "blur"])
    '; did you mean "aperture"?'
    """
    near = difflib.get_close_matches(str(given), list(allowed), n=1, cutoff=0.6)
    return f'; did you mean "{near[0]}"?' if near else ""
