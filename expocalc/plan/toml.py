"""The text of a plan: its values, and values brought back into it so that the comments stay."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from expocalc.plan.error import PlanError, Where
from expocalc.plan.lines import line_of, line_of_deep_key, line_of_long_number

__all__ = ["check_signs", "dump", "load"]

_DEEPEST = 32
_END = r"\(at end of document\)"


def load(text: str) -> dict[str, Any]:
    """Values of a plan's text; PlanError with the line where it is no TOML."""
    import tomllib  # the model is often wanted without a file

    check_signs(text)
    # a key of thousands of parts would keep the TOML reader busy for hours
    deep = line_of_deep_key(text, _DEEPEST) if "." in text else None
    if deep is not None:
        raise _too_deep(deep)
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        end = f"(at the end, line {text.rstrip().count(chr(10)) + 1}; is a bracket or a quote not closed?)"
        msg = f"the plan is not valid TOML: {re.sub(_END, end, str(error))}"
        raise PlanError(msg) from None
    except RecursionError:
        raise _too_deep(None) from None
    except ValueError:  # Python reads no number of thousands of digits
        raise _too_large(line_of_long_number(text)) from None
    try:
        for place, leaf in _leaves(values, ()):
            if isinstance(leaf, int) and not -(2**63) <= leaf < 2**63:
                raise _too_large(line_of(text, place))
    except RecursionError:
        raise _too_deep(None) from None
    return values


def _said(line: int | None) -> str:
    return f" (line {line})" if line else ""


def _too_deep(line: int | None) -> PlanError:
    return PlanError(f"the plan is not valid: its tables are nested more than {_DEEPEST} deep{_said(line)}")


def _too_large(line: int | None) -> PlanError:
    return PlanError(f"the plan is not valid TOML: whole numbers have at most 64 bits{_said(line)}")


def _leaves(value: Any, place: Where) -> Iterator[tuple[Where, Any]]:
    """Every value in tables and arrays within each other, with its place; RecursionError too deep down."""
    if not isinstance(value, dict | list):
        yield place, value
        return
    if len(place) >= _DEEPEST:
        raise RecursionError
    for key, entry in value.items() if isinstance(value, dict) else enumerate(value):
        yield from _leaves(entry, (*place, key))


def check_signs(value: Any) -> None:
    """PlanError where a text holds half a sign, which no file can hold; in tables and lists as well."""
    if isinstance(value, str):
        try:
            value.encode()
        except UnicodeEncodeError as error:
            line = _said(value.count("\n", 0, error.start) + 1 if "\n" in value else None)
            msg = f"the plan holds half a sign, {value[error.start]!a}, which no file can hold{line}; type it anew"
            raise PlanError(msg) from None
    elif isinstance(value, Mapping):
        for key, entry in value.items():
            check_signs(key)
            check_signs(entry)
    elif isinstance(value, list | tuple):
        for entry in value:
            check_signs(entry)


def dump(text: str, values: Mapping[str, Any]) -> str:
    """The text with its comments, brought to `values`."""
    import tomlkit  # half of the time of a command that saves nothing

    document = tomlkit.parse(text)
    _bring(document, values)
    return tomlkit.dumps(document)


def _bring(document: Any, values: Mapping[str, Any]) -> None:
    """Bring a table of a TOML document to `values`, touching only what differs, so that comments stay."""
    for key in [key for key in document if key not in values]:
        del document[key]
    for key, value in values.items():
        if key not in document:
            document[key] = value
        elif isinstance(value, Mapping) and isinstance(document[key], Mapping):
            _bring(document[key], value)
        elif _are_tables(value) and _are_tables(document[key]):
            _bring_list(document[key], value)
        elif document[key] != value:
            document[key] = value


def _are_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(entry, Mapping) for entry in value)


def _bring_list(document: Any, values: Sequence[Mapping[str, Any]]) -> None:
    for at, value in enumerate(values):
        while len(document) > len(values) and document[at] != value:  # taken out
            del document[at]
        if at < len(document):
            _bring(document[at], value)
        else:
            document.append(value)
    del document[len(values) :]
