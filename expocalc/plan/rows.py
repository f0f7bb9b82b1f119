"""The answer as plain data: from the names in the code to the keys that others script against."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from expocalc.budget.planned import planned_sentence
from expocalc.budget.row import ROW_KEYS, Answer, FilterAnswer, Row

if TYPE_CHECKING:
    from expocalc.budget.ranges import Range
    from expocalc.budget.spread import Spread

__all__ = ["as_json"]

_ROW_KEYS = MappingProxyType({key: name for key, (name, _) in ROW_KEYS.items()})
_FILTER_KEYS = MappingProxyType(
    {
        "filter": "filter_name",
        "light": "light",
        "colour": "colour",
        "sub_s": "sub_s",
        "subs_to_shoot": "shot",
        "kept_h": "kept_h",
        "exposed_h": "exposed_h",
        "clock_h": "clock_h",
        "storage_gb": "storage_gb",
        "hours_p10": "p10_h",
        "hours_p50": "p50_h",
        "hours_p90": "p90_h",
        "verdict": "verdict",
    }
)


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(entry) for key, entry in value.items()}
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _keyed(thing: Row | FilterAnswer, keys: Mapping[str, str], hours: Range | None = None) -> dict[str, Any]:
    return {key: _plain(getattr(thing, name, getattr(hours, name, None))) for key, name in keys.items()}


def _of_filter(one: FilterAnswer, span: Range | None) -> dict[str, Any]:
    """A filter's keys, with the sentence that the command prints behind the verdict."""
    planned = None if span is None else planned_sentence(one.kept_h, span)
    return {**_keyed(one, _FILTER_KEYS, span), "planned": planned}


def as_json(found: Answer, hours: Spread | None = None) -> dict[str, Any]:
    """An answer as plain data: `title`, `filters` and `rows`, with infinite and missing numbers as None.

    Parameters
    ----------
    found : Answer
    hours : Spread, optional
        Of the same plan; without it the p10, p50 and p90 of the hours are None.

    Returns
    -------
    dict
        Ready for ``json.dumps(..., allow_nan=False)``; units stand in the keys.
    """
    ranges = {(row.filter_name, row.light): row.range for row in hours.rows} if hours else {}
    return {
        "title": found.title,
        "filters": [_of_filter(one, hours.filters.get(one.filter_name) if hours else None) for one in found.filters],
        "rows": [_keyed(row, _ROW_KEYS, ranges.get((row.filter_name, row.light or ""))) for row in found.rows],
    }
