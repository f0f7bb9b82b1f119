"""Values of a plan as nested tables and lists, complete or not; a change makes new ones and leaves the old alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from expocalc.plan import Where

__all__ = ["at", "changed", "entries", "put"]


def at(values: Any, where: Where, default: Any = None) -> Any:
    """What stands at a place; `default` where nothing does.

    Examples
    --------
    >>> at({"filters": [{"name": "L"}]}, ("filters", 0, "name"))
    'L'
    """
    for step in where:
        if isinstance(values, Mapping):
            if step not in values:
                return default
        elif not isinstance(values, Sequence) or isinstance(values, str) or not 0 <= int(step) < len(values):
            return default
        values = values[step]
    return values


def entries(values: Any, where: Where) -> list[Any]:
    """Entries of a list of tables; one table that stands for a list of one counts as such."""
    found = at(values, where, [])
    return [found] if isinstance(found, Mapping) else list(found)


def put(values: Any, where: Where, value: Any) -> Any:
    """Values with another one at a place; None takes it out, and with it tables that are empty then.

    Examples
    --------
    >>> put({"moon": {"altitude": "30 deg"}}, ("moon", "altitude"), None)
    {}
    >>> put({}, ("filters", 0, "name"), "L")
    {'filters': [{'name': 'L'}]}
    """
    step, rest = where[0], where[1:]
    if isinstance(step, int):
        listed = entries(values, ()) if values else []
        listed += [{}] * (step + 1 - len(listed))
        if not rest and value is None:
            return listed[:step] + listed[step + 1 :]
        listed[step] = put(listed[step], rest, value) if rest else value
        return listed
    table = dict(values or {})
    new = put(table.get(step) or ([] if isinstance(rest[0], int) else {}), rest, value) if rest else value
    if new is None or (rest and new in ({}, [])):
        table.pop(step, None)
    else:
        table[step] = new
    return table


def changed(values: Any, changes: Mapping[Where, Any]) -> Any:
    """Values with several changes, one after the other."""
    for where, value in changes.items():
        values = put(values, where, value)
    return values
