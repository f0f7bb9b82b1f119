"""All that a plan may hold: its tables and their keys, as the nouns declare them."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from expocalc.base.field import Field, fields_of
from expocalc.budget.case import Case

__all__ = ["Table", "keys_markdown", "keys_text", "plan_tables"]

_WIDTH = 100
_INDENT = " " * 20
_INTRODUCTION = (
    "A plan is a TOML file: tables in brackets, keys with their values below. A quantity is a text with its unit, such "
    'as "102 mm"; units of the same kind convert. What has a default, or may be left out, you need not write.'
)
_KINDS = MappingProxyType({"quantity": "quantity", "number": "number", "whole": "whole number", "text": "text"})


@dataclass(frozen=True, kw_only=True)
class Table:
    """One kind of table in a plan.

    Parameters
    ----------
    path : tuple of str
        Where it stands: ("camera", "gains", "*"), where "*" is a name or a position of one's own; () is the plan.
    noun : type
        What is built from it.
    meaning : str
    required : bool
        Whether there is no plan without it.
    kind : str
        Of a list whose entries are of several kinds, the key that tells this one: "line"; else empty.
    named : bool
        Whether it stands below a name of one's own.

    Examples
    --------
    >>> [table.header for table in plan_tables() if table.path[:1] == ("camera",)]
    ['[camera]', '[camera.dark_current]', '[camera.pattern]', '[camera.gains.NAME]']
    """

    path: tuple[str, ...]
    noun: type
    meaning: str
    required: bool
    kind: str = ""
    named: bool = False

    @property
    def fields(self) -> tuple[Field, ...]:
        """The keys; those of the kinds "table", "tables" and "list" with nouns are tables of their own."""
        return fields_of(self.noun)

    @property
    def header(self) -> str:
        """What stands above it in a file; empty for the plan."""
        if not self.path:
            return ""
        if self.path[-1] != "*":
            return f"[{'.'.join(step for step in self.path if step != '*')}]"
        inner = ".".join(step for step in self.path[:-1] if step != "*")
        return f"[{inner}.NAME]" if self.named else f"[[{inner}]]"


@cache
def plan_tables() -> tuple[Table, ...]:
    """Every kind of table that a plan may hold, the plan's own keys first.

    Examples
    --------
    >>> [table.header for table in plan_tables()][:3]
    ['', '[sky]', '[sky.gradient]']
    """
    plan = Table(path=(), noun=Case, meaning="The plan's own keys, above all tables.", required=True)
    return (plan, *_inside(Case, ()))


def _inside(noun: type, path: tuple[str, ...]) -> Iterator[Table]:
    for field in fields_of(noun):
        for inner in field.nouns:
            where = (*path, field.name) if field.kind == "table" else (*path, field.name, "*")
            several = len(field.nouns) > 1
            yield Table(
                path=where,
                noun=inner,
                meaning=(inner.__doc__ or "").split("\n")[0] if several else field.meaning,
                required=field.required,
                kind=fields_of(inner)[0].name if several else "",
                named=field.kind == "tables",
            )
            yield from _inside(inner, where)


def _title(table: Table) -> str:
    return f"{table.header} with {table.kind}" if table.kind else table.header or "Above all tables"


def _said(field: Field) -> str:
    """Kind, range and words of a key, and whether it may be left out."""
    may = f"default {field.default_shown}" if field.default_shown else "may be left out"
    parts = (_KINDS.get(field.kind, ""), field.allowed, "needed" if field.required else may)
    return "; ".join(part for part in parts if part)


def _keys(table: Table) -> Iterator[Field]:
    return (field for field in table.fields if not field.nouns)


def keys_text() -> str:
    """All keys of a plan as a page of text, as ``python -m expocalc --keys`` prints it.

    Examples
    --------
    >>> "focal_length" in keys_text()
    True
    """
    lines = [textwrap.fill(_INTRODUCTION, _WIDTH)]
    for table in plan_tables():
        meaning = table.meaning if table.required else f"{table.meaning} May be left out."
        lines += ["", _title(table), *_wrapped(meaning, "", "")]
        for field in _keys(table):
            like = f"; like {field.example}" if field.example else ""
            lines += _wrapped(_said(field) + like, f"  {field.name} ".ljust(len(_INDENT)), _INDENT)
            lines += _wrapped(f"{field.meaning} From: {field.origin}.", _INDENT, _INDENT)
    return "\n".join(lines)


def _wrapped(text: str, first: str, following: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, initial_indent=first, subsequent_indent=following, break_on_hyphens=False)


def keys_markdown() -> str:
    """All keys of a plan as Markdown: a table of keys below each heading.

    Examples
    --------
    >>> "| `focal_length` |" in keys_markdown()
    True
    """
    lines = [_INTRODUCTION]
    for table in plan_tables():
        lines += ["", f"## `{_title(table)}`" if table.path else f"## {_title(table)}", "", table.meaning, ""]
        lines += ["| key | what it is | what may stand there | like | from |", "| :-- | :-- | :-- | :-- | :-- |"]
        for field in _keys(table):
            like = f"`{field.example}`" if field.example else ""
            lines.append(f"| `{field.name}` | {field.meaning} | {_said(field)} | {like} | {field.origin} |")
    return "\n".join(lines)
