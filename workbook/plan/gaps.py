"""What a plan still lacks for an answer: all of it, in the order of the form."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from expocalc.base.field import Field, fields_of
from expocalc.budget.case import Case
from expocalc.plan import Where
from workbook.plan.rules import GROUPS, INSTEAD, TOGETHER, label_of, pattern, say_or, spelled_out
from workbook.plan.values import at, entries

__all__ = ["Gap", "gaps", "kind_of", "say_gaps"]


@dataclass(frozen=True, kw_only=True)
class Gap:
    """Something that is missing.

    Attributes
    ----------
    where : tuple
        Its place in the plan.
    group : str
        Group of the form in which it is asked for.
    words : str
        What is missing, in lower case.
    """

    where: Where
    group: str
    words: str


_FIELDS: Mapping[str, Field] = {field.name: field for field in fields_of(Case)}
_ONE = {
    "filters": "a filter",
    "light": "a light of the target",
    "gains": "a gain setting (read noise, electrons per ADU, full well)",
    "passbands": "what passes",
}


def gaps(values: Mapping[str, Any]) -> tuple[Gap, ...]:
    """Everything that is missing, in the order of the form.

    Examples
    --------
    >>> [gap.words for gap in gaps({"sky": {"bortle": 7}, "telescope": {"aperture": "81 mm"}})][:3]
    ['focal length', 'pixel', 'columns']
    """
    values = spelled_out(values)
    return tuple(
        Gap(where=where, group=group.name, words=words)
        for group in GROUPS
        for section in group.sections
        for where, words in _of_field(_FIELDS[section], values, (section,))
    )


def kind_of(field: Field, entry: Any) -> type:
    """Noun of an entry of a list whose entries are of several kinds."""
    for noun in field.nouns:
        if fields_of(noun)[0].name in entry:
            return noun
    return field.nouns[0]


def _of_field(field: Field, values: Any, where: Where) -> Iterator[tuple[Where, str]]:
    """Gaps of one field at its place in all values."""
    given = at(values, where)
    if not field.nouns:
        if field.required and given in (None, ""):
            yield where, _said(where, field)
    elif field.kind == "table":
        if field.required or given is not None:
            yield from _of_noun(field.nouns[0], values, where)
    elif field.kind == "tables":
        named = given or {}
        if not named and field.required:
            yield where, _ONE.get(field.name, field.label.lower())
        for name in named:
            yield from _named(str(name), _of_noun(field.nouns[0], values, (*where, name)))
    else:
        listed = entries(values, where)
        if not listed and field.required:
            yield where, _ONE.get(field.name, field.label.lower())
        for number, entry in enumerate(listed):
            name = entry.get("name") or f"{field.label.lower().removesuffix('s')} {number + 1}"
            yield from _named(str(name), _of_noun(kind_of(field, entry), values, (*where, number)))


_SAID: Mapping[tuple[str, ...], str] = {
    ("sky", "bortle"): "Bortle class",
    ("camera", "dark_current", "at"): "the sensor's temperature for it",
    ("camera", "dark_current", "doubles_every"): "what warming doubles it",
    ("camera", "dark_current", "activation"): "its activation energy",
}
"""What is missing in other words than those at the box, which say too little without the boxes around."""


def _said(where: Where, field: Field) -> str:
    label = label_of(where, field)
    return _SAID.get(pattern(where)) or (label if label[1:2].isupper() else label[:1].lower() + label[1:])


def _named(name: str, found: Iterator[tuple[Where, str]]) -> Iterator[tuple[Where, str]]:
    return ((where, words if " of " in words else f"{words} of {name}") for where, words in found)


def _of_noun(noun: type, values: Any, where: Where) -> Iterator[tuple[Where, str]]:
    sets = INSTEAD.get(pattern(where), ())
    table = at(values, where, {})
    told, pairs = False, TOGETHER.get(pattern(where), ())
    for field in fields_of(noun):
        within = next((one for one in sets if field.name in one), None)
        if within is None:
            yield from _of_field(field, values, (*where, field.name))
        elif not told:
            told = True
            yield from _of_sets(sets, noun, table, where)
        if any(name in table for name in pairs) and field.name in pairs and field.name not in table:
            yield (*where, field.name), _said((*where, field.name), field)
    if where == ("camera",):
        named, used = table.get("gains", {}), table.get("gain")
        if named and used not in named and (used is not None or len(named) > 1):
            yield (*where, "gain"), "which gain is used"


def _of_sets(sets: tuple[tuple[str, ...], ...], noun: type, table: Any, where: Where) -> Iterator[tuple[Where, str]]:
    names = {field.name: _said((*where, field.name), field) for field in fields_of(noun)}
    begun = next((one for one in sets if any(name in table for name in one)), None)
    if begun is None:
        said = say_or(tuple(" and ".join(names[name] for name in one) for one in sets))
        yield (*where, sets[0][0]), said
        return
    for name in begun:
        if name not in table:
            yield (*where, name), names[name]


def say_gaps(found: tuple[Gap, ...]) -> list[str]:
    """One line for each group, in the order of the form.

    Examples
    --------
    >>> say_gaps(gaps({"sky": {"bortle": 7}, "telescope": {"aperture": "81 mm"}}))[0]
    'Telescope: focal length'
    """
    groups: dict[str, list[str]] = {}
    for gap in found:
        groups.setdefault(gap.group, []).append(gap.words)
    return [f"{name}: {', '.join(words)}" for name, words in groups.items()]
