"""One box of the form: from what a person types to what the plan file holds, and back."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from expocalc.base.field import Field
from expocalc.base.quantity import read_number
from workbook.parts.typed import is_none, written
from workbook.parts.units import METRIC, Units

__all__ = ["read_entry", "say_entry", "say_unit"]

_PRETTY = (
    (re.compile(r"\bdeg_C\b"), "°C"),
    (re.compile(r"\bmag/arcsec2\b"), "mag/arcsec²"),
    (re.compile(r"\bum\b"), "µm"),
    (re.compile(r"\belectrons?\b"), "e-"),
    (re.compile(r" ?\bdeg\b(?!_)"), "°"),
)
_SMALL_NUMBER = re.compile(r"[+−-]?[\d.,]+(?:[eE][+−-]?\d+)?\s*%?")
_NAMED = re.compile(rf"\s*(.+?)\s*[=: ]\s*({_SMALL_NUMBER.pattern})\s*(.*?)\s*")


def say_unit(unit: str) -> str:
    """A unit as people write it.

    Examples
    --------
    >>> say_unit("mag/arcsec2"), say_unit("deg_C")
    ('mag/arcsec²', '°C')
    """
    for pattern, pretty in _PRETTY:
        unit = pattern.sub(pretty, unit)
    return unit.strip()


def say_entry(value: Any, field: Field | None = None, units: Units = METRIC) -> str:
    """A value of a plan file as a box shows it; a box reads it back to the same.

    Examples
    --------
    >>> say_entry("-10 deg_C"), say_entry([[400, 0.7], [700, 0.6]]), say_entry({"N II": 0.3}), say_entry(None)
    ('-10 °C', '400 0.7, 700 0.6', 'N II 0.3', '')
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return say_unit(units.shown(value, field.unit if field else ""))
    if isinstance(value, int | float):
        return f"{value:.10g}"
    if isinstance(value, Mapping) and all(isinstance(one, int | float | str) for one in value.values()):
        return ", ".join(f"{name} {say_entry(one)}" for name, one in value.items())
    if isinstance(value, list) and all(isinstance(one, str) for one in value):
        return ", ".join(value)
    if isinstance(value, list) and all(isinstance(one, list) and len(one) == 2 for one in value):
        return ", ".join(" ".join(say_entry(number) for number in pair) for pair in value)
    return _toml(value)


def _toml(value: Any) -> str:
    """A value in the words of a plan file, on one line."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f'"{key}" = {_toml(one)}' for key, one in value.items()) + " }"
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    return f'"{value}"' if isinstance(value, str) else f"{value}"


def read_entry(field: Field, text: str, units: Units = METRIC, label: str = "") -> Any:
    """What the plan file holds for a typed text; None where it shall hold nothing.

    Raises
    ------
    TypeError, ValueError
        With one sentence that names the box and repeats what was typed.

    Examples
    --------
    >>> from expocalc.base.field import fields_of
    >>> from expocalc.gear.telescope import Telescope
    >>> read_entry(fields_of(Telescope)[0], "81"), read_entry(fields_of(Telescope)[0], "8,1 cm")
    ('81 mm', '8.1 cm')
    """
    text, label = text.strip(), label or field.label
    if not text:
        return None
    for word in field.choices if field.kind != "table" else ():
        if text.lower() == word.lower():
            return word
    if is_none(text) and _may_be_none(field):
        return 0 if field.required and field.kind in ("number", "whole") else None
    refused: Exception | None = None
    for value in _readings(field, label, text, units):
        try:
            field.read(label, value)
        except (TypeError, ValueError) as error:
            refused = refused or error
        else:
            return value
    assert refused is not None  # a text has one reading at least
    said = str(refused)
    raise ValueError(said if text in said else f"{said} (typed: {text[:60]})") from None


def _may_be_none(field: Field) -> bool:
    """Whether "none" means something: no value, or nothing of it."""
    if field.required:
        return False
    zero = isinstance(field.default, int | float) and field.default == 0
    return field.default is None or zero or str(field.default).startswith("0 ")


def _readings(field: Field, label: str, text: str, units: Units) -> Iterator[Any]:
    """What a text may mean, the likeliest first."""
    if field.kind == "quantity":
        yield _tidy(written(text, field.unit, units.box(field.unit)))
    if field.kind in ("number", "whole", "curve", "quantity") and _SMALL_NUMBER.fullmatch(text):
        number = read_number(label, text)
        yield int(number) if field.kind == "whole" and number == int(number) else float(f"{number:.10g}")
    if field.kind == "words" and not text.startswith("["):
        yield [word.strip() for word in _parts(text)]
    if field.kind == "table":
        named = _named(field, text)
        if named:
            yield named
    pairs = _pairs(text) if field.kind not in ("text", "choice") else None
    if pairs:
        yield pairs
    yield text
    if field.kind not in ("text", "choice"):
        try:
            yield tomllib.loads(f"value = {text}")["value"]
        except (tomllib.TOMLDecodeError, RecursionError, ValueError):
            return


def _tidy(text: str) -> str:
    """A decimal point, and the names of units as in the files that we ship."""
    text = re.sub(r"(?<=\d),(?=\d)", ".", text) if not re.match(r"[+-]?[1-9]\d{0,2},\d{3}(?!\d)", text) else text
    for pretty, plain in (("²", "2"), ("µ", "u"), ("−", "-")):
        text = text.replace(pretty, plain)
    text = re.sub(r"\be-(?!\d)", "electron", text).replace("  ", " ")
    text = re.sub(r"\s*°\s*C\b", " deg_C", text)
    return re.sub(r"\s*°", " deg", text)


def _parts(text: str) -> list[str]:
    """Parts between semicolons; where there are none, between commas that are no decimal ones."""
    return [part for part in (text.split(";") if ";" in text else re.split(r",(?!\d)", text)) if part.strip()]


def _pairs(text: str) -> list[list[float]] | None:
    """Pairs of numbers such as "400 0.7, 700 0.6"; None where it is none."""
    pairs = [re.split(r"\s*:\s*|\s+", part.strip()) for part in _parts(text)]
    try:
        found = [[read_number("pair", one) for one in pair] for pair in pairs]
    except (TypeError, ValueError):
        return None
    return found if found and all(len(pair) == 2 for pair in found) else None


def _named(field: Field, text: str) -> dict[str, Any] | None:
    """Names with a number each, such as "N II 0.3, S II 0.2"; None where it is none."""
    found: dict[str, Any] = {}
    known = {name.lower(): name for name in field.choices}
    for part in _parts(text):
        match = _NAMED.fullmatch(part)
        if match is None:
            return None
        name = known.get(match[1].lower(), match[1])
        if match[3]:
            found[name] = _tidy(f"{match[2].strip()} {match[3]}")
        elif field.choices:
            found[name] = float(f"{read_number(name, match[2]):.10g}")
        else:
            found[name] = _tidy(f"{match[2].strip()} electron/s")
    return found
