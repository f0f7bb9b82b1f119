"""Fields of the things that people own: declared once, checked once, at construction.

A noun is a frozen, keyword-only dataclass that inherits from :class:`Noun`. Each field says with one of the
functions below what it may hold; construction turns texts into astropy Quantities in one unit and refuses the rest.
"""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Callable, Iterable
from typing import Any

import astropy.units as u

from expocalc.base.quantity import read_number, read_quantity

__all__ = ["MISSING", "Noun", "choice", "field_of", "measure", "number", "suggest", "text", "whole"]

MISSING = dataclasses.MISSING
_LONGEST_TITLE = 200


class Noun:
    """Base of all nouns: every declared field is checked and brought to its one unit."""

    def __post_init__(self) -> None:
        for field in dataclasses.fields(self):  # type: ignore[arg-type]  # every subclass is a dataclass
            read = field.metadata.get("read")
            value = getattr(self, field.name)
            if read is not None and not (value is None and field.default is None):
                object.__setattr__(self, field.name, read(field.name, value))


def field_of(read: Callable[[str, Any], Any], default: Any = MISSING) -> Any:
    """Dataclass field that `read(name, value)` checks and canonicalises; None is allowed where it is the default."""
    return dataclasses.field(default=default, metadata={"read": read})


def measure(unit: str, default: Any = MISSING, **limits: Any) -> Any:
    """Quantity field in `unit`; `limits` as in :func:`expocalc.base.quantity.read_quantity`."""
    wanted = u.Unit(unit)

    def read(name: str, value: Any) -> Any:
        return u.Quantity(read_quantity(name, value, unit, **limits), wanted)

    return field_of(read, default)


def number(default: Any = MISSING, **limits: Any) -> Any:
    """Plain number field; `limits` as in :func:`expocalc.base.quantity.read_number`."""
    return field_of(lambda name, value: read_number(name, value, **limits), default)


def whole(default: Any = MISSING, **limits: Any) -> Any:
    """Whole-number field; `limits` as in :func:`expocalc.base.quantity.read_number`."""

    def read(name: str, value: Any) -> int:
        found = read_number(name, value, **limits)
        if found != int(found):
            msg = f"{name} must be a whole number, got {found:g}"
            raise ValueError(msg)
        return int(found)

    return field_of(read, default)


def choice(allowed: Iterable[str], default: Any = MISSING) -> Any:
    """Text field that holds one of `allowed`."""
    names = tuple(allowed)

    def read(name: str, value: Any) -> str:
        if value not in names:
            msg = f"{name} must be one of {', '.join(names)}, got {value!r}{suggest(value, names)}"
            raise ValueError(msg)
        return str(value)

    return field_of(read, default)


def text(default: Any = MISSING) -> Any:
    """One-line text field."""

    def read(name: str, value: Any) -> str:
        if not isinstance(value, str):
            msg = f"{name} must be a text in quotes, got {value!r}"
            raise TypeError(msg)
        if not value.strip() or len(value) > _LONGEST_TITLE or not value.isprintable():
            msg = f"{name} must be one line of 1 to {_LONGEST_TITLE} printable characters, got {value[:40]!r}"
            raise ValueError(msg)
        return value

    return field_of(read, default)


def suggest(given: object, allowed: Iterable[str]) -> str:
    """Words that offer the nearest allowed name, or nothing where none is near.

    Examples
    --------
    >>> suggest("aperure", ["aperture", "blur"])
    '; did you mean "aperture"?'
    """
    near = difflib.get_close_matches(str(given), list(allowed), n=1, cutoff=0.6)
    return f'; did you mean "{near[0]}"?' if near else ""
