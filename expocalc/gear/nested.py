"""Nouns inside nouns: a filter's passbands, a camera's gain settings, given as mappings of their fields."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any, TypeVar

import astropy.units as u

from expocalc.base.noun import MISSING, Noun, suggest

__all__ = ["build"]

N = TypeVar("N", bound=Noun)


def build(noun: type[N], where: str, value: object) -> N:
    """Noun of a class from a mapping of its fields; a ready noun passes.

    Parameters
    ----------
    noun : type
        A subclass of :class:`expocalc.base.noun.Noun`.
    where : str
        Where it stands, for the error messages.
    value : mapping or Noun

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
    ValueError: pattern has no field 'fixd'; did you mean "fixed"?
    """
    if isinstance(value, noun):
        return value
    fields = dataclasses.fields(noun)  # type: ignore[arg-type]  # every noun is a dataclass
    names = [field.name for field in fields]
    if not isinstance(value, Mapping):
        msg = f"{where} must be a group of fields ({', '.join(names)}), got {str(value)[:60]!r}"
        raise TypeError(msg)
    for key in value:
        if key not in names:
            msg = f"{where} has no field {str(key)[:60]!r}{suggest(key, names)}"
            raise ValueError(msg)
    for field in fields:
        if field.default is MISSING and field.name not in value:
            msg = f"{where} must have {field.name}, which is missing"
            raise ValueError(msg)
    made: dict[str, Any] = dict(value)
    try:
        return noun(**made)
    except (TypeError, ValueError, u.UnitsError) as error:
        msg = f"{where}: {error}"
        raise type(error)(msg) from None
