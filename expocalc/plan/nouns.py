"""From the values of a plan to its nouns, and the mistakes that are found on the way."""

from __future__ import annotations

import contextlib
import copy
import os
from collections.abc import Iterator, Mapping, Sequence, Set
from pathlib import Path
from types import MappingProxyType
from typing import Any

from expocalc.base.field import fields_of, place_of
from expocalc.base.noun import Noun, suggest, with_known_keys
from expocalc.budget.case import Case
from expocalc.gear.filter import Filter
from expocalc.gear.passband import Passband
from expocalc.plan.error import PlanError, Where

__all__ = ["read_case", "relative_tables", "tables_moved"]

_FIELDS = fields_of(Case)
_SECTIONS: Mapping[str, type[Noun]] = MappingProxyType({f.name: f.nouns[0] for f in _FIELDS if f.kind == "table"})
_KNOWN = tuple(sorted((f.name for f in _FIELDS), key=lambda name: (name != "title", name == "filters")))
_REQUIRED = tuple(f.name for f in _FIELDS if f.required)
_MOST_ENTRIES = 100


def _build(cls: type[Noun], values: Any, where: str, place: Where) -> Any:
    """Noun of `cls` from a table of the file; unknown and missing keys are named."""
    try:
        values = with_known_keys(cls, where, values)
    except (TypeError, ValueError) as error:
        raise PlanError(str(error), (*place, *place_of(error))) from None
    try:
        return cls(**values)
    except (TypeError, ValueError) as error:
        msg = f"{where} {error}"
        raise PlanError(msg, (*place, *place_of(error))) from None


def _read_filters(values: Any, folder: Path) -> tuple[Filter, ...]:
    if not isinstance(values, Sequence) or isinstance(values, str) or not values:
        msg = "[[filters]] must be one table or more, each with a name and passbands"
        raise PlanError(msg, ("filters",))
    _check_count("filters", values, ("filters",))
    return tuple(_read_filter(entry, at, folder) for at, entry in enumerate(values))


def _read_filter(entry: Any, at: int, folder: Path) -> Filter:
    where, place = f"[[filters]] number {at + 1}", ("filters", at)
    if not isinstance(entry, Mapping):
        msg = f"{where} must be a table with a name and passbands, got {entry!r}"
        raise PlanError(msg, place)
    bands = entry.get("passbands", ())
    if not isinstance(bands, Sequence) or isinstance(bands, str) or not bands:
        msg = f'{where} needs "passbands", for example [{{ centre = "656.3 nm", width = "5 nm" }}]'
        raise PlanError(msg, (*place, "passbands"))
    _check_count(f"passbands of {where}", bands, (*place, "passbands"))
    passbands = tuple(
        _build(Passband, _resolve(band, folder), f"{where} passband", (*place, "passbands", number))
        for number, band in enumerate(bands)
    )
    made: Filter = _build(Filter, {**entry, "passbands": passbands}, where, place)
    return made


def _check_count(name: str, values: Sequence[Any], place: Where) -> None:
    if len(values) > _MOST_ENTRIES:
        msg = f"a plan holds at most {_MOST_ENTRIES} {name}, got {len(values)}"
        raise PlanError(msg, place)


def _resolve(band: Any, folder: Path) -> Any:
    """The passband's table as a full path, since the file names it relative to itself."""
    if isinstance(band, Mapping) and isinstance(band.get("table"), str):
        return {**band, "table": folder / band["table"]}
    return band


def _bands_with_tables(values: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Passbands of a plan, complete or not, that name a table relative to its folder."""
    entries = values.get("filters")
    for entry in entries if isinstance(entries, list) else ():
        bands = entry.get("passbands") if isinstance(entry, Mapping) else None
        for band in bands if isinstance(bands, list) else ():
            table = band.get("table") if isinstance(band, dict) else None
            if isinstance(table, str) and not Path(table).is_absolute():
                yield band


def relative_tables(values: Mapping[str, Any]) -> tuple[str, ...]:
    """Paths of tables in the values of a plan that start at its folder."""
    return tuple(dict.fromkeys(band["table"] for band in _bands_with_tables(values)))


def tables_moved(values: Mapping[str, Any], start: Path, to: Path) -> Mapping[str, Any]:
    """Values of a plan that moves to another folder: its relative paths lead to the same tables as before.

    The plan may lack what an answer needs.

    Examples
    --------
    >>> values = {"filters": [{"name": "V", "passbands": [{"table": "bands/v.ecsv"}]}]}
    >>> tables_moved(values, Path("/mine"), Path("/mine/plans"))["filters"][0]["passbands"]
    [{'table': '../bands/v.ecsv'}]
    """
    start, to = Path(os.path.realpath(start)), Path(os.path.realpath(to))
    if start == to or not relative_tables(values):
        return values
    moved = {**values, "filters": copy.deepcopy(values["filters"])}
    for band in _bands_with_tables(moved):
        path = start / band["table"]
        with contextlib.suppress(ValueError):  # on another drive there is no way but the whole one
            path = Path(os.path.relpath(path, to))
        band["table"] = path.as_posix()
    return moved


def read_case(
    values: Mapping[str, Any],
    folder: Path,
    before: tuple[Case, Mapping[str, Any]] | None = None,
    changed: Set[str] = frozenset(),
) -> Case:
    """Case from the values of a plan; what did not change since a case and its values `before` is taken from there.

    Raises
    ------
    PlanError
        With the place of what is wrong.
    """
    for key in values:
        if key not in _KNOWN:
            msg = f"a plan has no section [{key}]{suggest(key, _KNOWN) or '; it knows ' + ', '.join(_KNOWN)}"
            raise PlanError(msg, (key,))
    for key in _REQUIRED:
        if key not in values:
            brackets = "[[filters]]" if key == "filters" else f"[{key}]"
            msg = f"the plan needs a section {brackets}"
            raise PlanError(msg)
    old, past = before or (None, {})
    parts: dict[str, Any] = {}
    for name, cls in _SECTIONS.items():
        if old is not None and name not in changed:
            parts[name] = getattr(old, name)
        elif name in values:
            if name == "target" and isinstance(values[name], Mapping):
                lights = values[name].get("light")
                _check_count("lights", lights if isinstance(lights, list) else (), ("target", "light"))
            given = values[name] if old is None else _known(values[name], past.get(name), getattr(old, name))
            parts[name] = _build(cls, given, f"[{name}]", (name,))
    if old is not None and changed & _TELLING and old.sky.told is not None and "sky" not in changed:
        parts["sky"] = old.sky.as_read
    if old is not None and "filters" not in changed:
        parts["filters"] = old.filters
    else:
        parts["filters"] = _read_filters(values["filters"], folder)
    if "title" in values:
        parts["title"] = values["title"]
    case: Case = _build(Case, parts, "the plan:", ())
    _check_measured(case)
    return case


def _known(values: Any, past: Any, noun: Noun | None) -> Any:
    """Values of a section, its tables and lists that are the very ones of the past as the noun made of them holds them.

    Nothing of a plan is changed in place, and a noun takes back what it holds.
    """
    if not isinstance(values, Mapping) or not isinstance(past, Mapping):
        return values
    return {
        key: getattr(noun, key) if isinstance(value, dict | list) and value is past.get(key) else value
        for key, value in values.items()
    }


_TELLING = frozenset({"telescope", "camera", "filters", "measured_under", "site", "target", "doubt"})
"""Sections that what the measured rates tell of the lamps depends on, beside the sky's own."""


def _check_measured(case: Case) -> None:
    names = [f.name for f in case.filters]
    for name in case.sky.measured or ():
        if name not in names:
            msg = f'[sky.measured] has no filter "{name}"{suggest(name, names) or "; the plan has " + ", ".join(names)}'
            raise PlanError(msg, ("sky", "measured", name))
