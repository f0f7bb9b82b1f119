"""From a typed box to changes of the plan: what goes with it, and what it takes the place of."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from expocalc.base.field import Field, fields_of
from expocalc.light.sky import Sky
from expocalc.plan import Where
from workbook.parts.reading import LUMINANCE
from workbook.parts.typed import is_none
from workbook.parts.units import METRIC, Units
from workbook.plan.bortle import range_of, read_range
from workbook.plan.entry import read_entry
from workbook.plan.rules import label_of, rivals
from workbook.plan.telescope import focal_changes
from workbook.plan.usual import usual_beside
from workbook.plan.values import at

__all__ = ["edits"]

_RATIO = re.compile(r"\s*[fF]\s*/\s*[\d.,]+\s*")


def edits(field: Field, table: Where, text: str, values: Mapping[str, Any], units: Units = METRIC) -> dict[Where, Any]:
    """Changes that a text typed into the box of a field asks for.

    Parameters
    ----------
    field : Field
    table : tuple
        Place of the table that holds the field.
    text : str
    values : mapping
        Of the plan, as they are.
    units : Units, optional

    Raises
    ------
    TypeError, ValueError
        With one sentence that names the box and repeats what was typed.

    Examples
    --------
    >>> field = next(f for f in fields_of(Sky) if f.name == "bortle")
    >>> edits(field, ("sky",), "7", {"sky": {"zenith_brightness": "18 mag/arcsec2"}})[("sky", "bortle")]
    7
    """
    if table == ("sky",):
        span = read_range(text) if field.name == "bortle" else None
        if span is not None:
            gone = dict.fromkeys(("bortle", "luminance", "naked_eye_limit", "reading_band"))
            return {("sky", name): value for name, value in {**span, **gone}.items()}
        if field.name == "zenith_brightness" and LUMINANCE.search(text):
            field = next(other for other in fields_of(Sky) if other.name == "luminance")
    label = label_of((*table, field.name), field)
    if table == ("telescope",) and field.name in ("focal_length", "reducer"):
        value: Any = text.strip()
        if field.name == "reducer":
            value = None if is_none(text) else read_entry(field, text, units, label)
            value = None if value == 1 else value
        elif not _RATIO.fullmatch(text):
            value = read_entry(field, text, units, label)
        new = focal_changes(at(values, table, {}), field.name, value)
        return {(*table, name): one for name, one in new.items()}
    value = read_entry(field, text, units, label)
    changes: dict[Where, Any] = {(*table, field.name): value}
    if value is not None:
        changes |= {(*table, other): None for other in rivals(table, field.name)}
        changes |= usual_beside((*table, field.name), values)
    if table == ("sky",) and field.name in ("bortle", "zenith_brightness") and range_of(at(values, table, {})):
        changes = {("sky", "zenith_brightness"): None, ("sky", "brightness_error"): None} | changes
    changes |= _renamed(field, table, value, values)
    return changes


def _renamed(field: Field, table: Where, value: Any, values: Mapping[str, Any]) -> dict[Where, Any]:
    """What the sky measured in a filter goes by the filter's name."""
    if table[:1] != ("filters",) or len(table) != 2 or field.name != "name" or value is None:
        return {}
    old = at(values, (*table, "name"))
    measured = dict(at(values, ("sky", "measured"), {}))
    if old is None or old not in measured:
        return {}
    return {("sky", "measured"): {value if name == old else name: one for name, one in measured.items()}}
