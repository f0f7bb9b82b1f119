"""What the form shows: of each box its text, state and meaning; of each group a line; above all the answer."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from expocalc.base.field import Field, fields_of
from expocalc.base.words import in_colour, say_count, say_duration, say_number
from expocalc.budget.assumed import assumed_sentence
from expocalc.budget.case import Case
from expocalc.budget.row import Answer, FilterAnswer
from expocalc.budget.whose import of_filter
from expocalc.gear.filter import Filter, is_narrow
from expocalc.gear.telescope import Telescope
from expocalc.plan import Plan, Where
from workbook.parts.reading import as_user
from workbook.parts.table import Table
from workbook.parts.units import METRIC, Units
from workbook.plan.entry import say_entry, say_unit
from workbook.plan.gaps import Gap, gaps, say_gaps
from workbook.plan.hints import hint
from workbook.plan.rules import INSTEAD, LABELS, Group, pattern
from workbook.plan.usual import is_usual
from workbook.plan.values import at, entries

__all__ = ["Box", "Words", "box", "hours_table", "say_table", "summary", "words"]

_PRICE = ("At that length", "Read noise is all")
"""How sentences begin that say what a sub length costs; the one after them says why no hours will do."""
_LENGTHS: Mapping[str, Field] = {field.name: field for field in fields_of(Telescope) if field.unit == METRIC.length}
"""Fields whose unit a user may choose, wherever their table stands in a line."""
_KEY = re.compile(r"\b[a-z]+(?:_[a-z]+)+\b")


@dataclass(frozen=True, kw_only=True)
class Box:
    """One box of the form.

    Attributes
    ----------
    text : str
        What stands in it.
    empty : str
        What stands there faintly while it is empty: an example, or what follows from the others.
    state : str
        "given", "usual" where what stands there is what is usual, "needed", "assumed …" or "may stay empty".
    meaning : str
        What it is, what follows from it, and where a value comes from.
    """

    text: str
    empty: str
    state: str
    meaning: str


def box(field: Field, table: Where, values: Mapping[str, Any], units: Units = METRIC) -> Box:
    """What the box of a field shows.

    Parameters
    ----------
    field : Field
    table : tuple
        Place of the table that holds it.
    values : mapping
        All values of the plan.
    units : Units, optional
    """
    value = at(values, (*table, field.name))
    said = hint(field.name, table, values, units)
    unit = say_unit(units.box(field.unit))
    words = said.meaning or _KEY.sub(lambda key: _label(table, key[0]), field.meaning)
    kind = f"In {unit}. " if unit else ""
    meaning = f"{words} {kind}{said.words} From: {field.origin}."
    return Box(
        text=said.text if said.text is not None else say_entry(value, field, units),
        empty=said.empty or _example(field, units),
        state=_state(field, table, values, value),
        meaning=" ".join(meaning.split()),
    )


def _example(field: Field, units: Units) -> str:
    if not field.example:
        return ""
    first = field.example.split('" or ')[0]
    try:
        value = tomllib.loads(f"value = {first}")["value"]
    except tomllib.TOMLDecodeError:  # one of several, without its last quote
        value = first.strip('"')
    return f"like {say_entry(value, field, units)}"


def _label(table: Where, key: str) -> str:
    """A key that a meaning names, as its box is called."""
    label = LABELS.get(pattern((*table, key)), key.replace("_", " "))
    return f"“{label}”" if label[:1].isupper() else label


def _state(field: Field, table: Where, values: Mapping[str, Any], value: Any) -> str:
    if value is not None:
        return "usual" if is_usual((*table, field.name), value) else "given"
    sets = INSTEAD.get(pattern(table), ())
    mine = next((one for one in sets if field.name in one), None)
    if mine is not None:
        given = at(values, table, {})
        if any(name in given for one in sets if one is not mine for name in one):
            return "not used"
        return "one is needed" if not any(name in given for name in mine) else "needed"
    if field.required:
        return "needed" if _wanted(table, values) else "may stay empty"
    shown = say_entry(field.default, field) if isinstance(field.default, int | float | str) else ""
    return f"assumed: {shown}" if shown else "may stay empty"


def _wanted(table: Where, values: Mapping[str, Any]) -> bool:
    """Whether the table must be there: it is needed, or was begun."""
    section = next(field for field in fields_of(Case) if field.name == table[0]) if table else None
    return section is None or section.required or at(values, table[:1]) is not None


def say_table(table: Mapping[str, Any], units: Units = METRIC) -> str:
    """Main values of a table in a line; empty where it holds none."""
    given = [
        f"{key.replace('_', ' ').replace('snr', 'SNR').replace('adu', 'ADU')} "
        f"{say_entry(value, _LENGTHS.get(key), units)}"
        for key, value in table.items()
        if isinstance(value, str | int | float)
    ]
    return ", ".join(given[:4])


def summary(group: Group, values: Mapping[str, Any], found: tuple[Gap, ...], units: Units = METRIC) -> str:
    """A group in one line: what it lacks, else its main values."""
    lacks = [gap.words for gap in found if gap.group == group.name]
    if lacks:
        begun = any(section in values for section in group.sections)
        more = f" and {len(lacks) - 3} more" if len(lacks) > 3 else ""
        return f"{'still ' if begun else ''}needs {', '.join(lacks[:3])}{more}"
    first = group.sections[0]
    if first in ("filters", "target"):
        if first == "filters":
            return ", ".join(map(_filter_shown, entries(values, ("filters",))))
        return ", ".join(str(one.get("name", "")) for one in _lights(values))
    return say_table(at(values, (first,), {}), units) or "nothing given; all is assumed"


def _filter_shown(entry: Mapping[str, Any]) -> str:
    """Name of a filter as other pages show it; its own while it is not complete, or its curve comes from a file."""
    try:
        return Filter(**entry).shown_name
    except (TypeError, ValueError, OSError):
        return str(entry.get("name", ""))


def _lights(values: Mapping[str, Any]) -> list[dict[str, str]]:
    found = []
    for light in entries(values, ("target", "light")):
        name = light.get("line") or ("star" if "star" in light else "continuum")
        value = light.get("brightness") or light.get("continuum") or light.get("star")
        found.append({"name": f"{name} {say_entry(value)}"})
    return found


@dataclass(frozen=True, kw_only=True)
class Words:
    """What stands on top: the answer, or what is missing for one.

    Attributes
    ----------
    headline : str
    rest : tuple of str
    answer : Answer or None
    """

    headline: str
    rest: tuple[str, ...]
    answer: Answer | None


def words(values: Mapping[str, Any], plan: Plan | None, snag: str = "") -> Words:
    """The answer of a complete plan; else all that it lacks.

    Parameters
    ----------
    values : mapping
    plan : Plan or None
        None while the values make no plan.
    snag : str, optional
        Why what is there does not go together.
    """
    if plan is None:
        return _incomplete(gaps(values), snag)
    try:
        found = plan.solve()
    except ValueError as error:
        headline = "No answer yet: the parts of the plan don't fit together."
        return Words(headline=headline, rest=(str(error),), answer=None)
    rest = (
        *(f"{_about(one)}{_unwanted(plan.case, one)}" for one in found.filters),
        assumed_sentence(plan.case.routine),
    )
    return Words(headline=_headline(plan, found), rest=tuple(filter(None, rest)), answer=found)


def _incomplete(lacks: tuple[Gap, ...], snag: str) -> Words:
    count = len(lacks)
    if not count:
        return Words(headline="Not complete yet: two things don't go together.", rest=(f"{snag}.",), answer=None)
    things = "1 thing is missing" if count == 1 else f"{count} things are missing"
    also = (f"And what is there does not go together: {snag}.",) if snag else ()
    lines = (*(f"{line}." for line in say_gaps(lacks)), *also)
    return Words(headline=f"For an answer {things}.", rest=lines, answer=None)


def _headline(plan: Plan, found: Answer) -> str:
    """Hours of each filter, and of all."""
    goal = f"SNR {say_number(plan.case.goal.snr)}"
    said = [f"{of_filter(one)} {_hours(one)}" for one in found.filters]
    clock = [one.clock_h for one in found.filters]
    if len(said) == 1:
        best = "no number of hours" if clock[0] is None else f"at best {_hours(found.filters[0])}"
        return f"{goal} takes {best} on the clock through {of_filter(found.filters[0])}."
    known = [hours for hours in clock if hours is not None]
    if len(known) == len(clock):
        return f"{goal} takes at best {say_duration(sum(known) * 3600)} on the clock: {', '.join(said)}."
    return f"{goal} on the clock at best: {', '.join(said)}."


def _hours(one: FilterAnswer) -> str:
    return "no number of hours" if one.clock_h is None else say_duration(one.clock_h * 3600)


def _about(one: FilterAnswer) -> str:
    if one.clock_h is None or one.shot is None or one.kept_h is None:
        why = (said for said in one.sentences[1:] if not said.startswith(_PRICE))
        return as_user(next(why, one.verdict))
    return (
        f"{of_filter(one)}: {say_count(round(one.shot), 'sub')} of {say_duration(one.sub_s)}, of which "
        f"{say_duration(one.kept_h * 3600)} are good at best."
    )


def _unwanted(case: Case, one: FilterAnswer) -> str:
    """A word where the hours of a narrow filter are set by light that a broad one would be for."""
    filter_ = next(each for each in case.filters if each.name == one.filter_name)
    light = one.neediest.light
    if filter_.wanted is not None or light != "continuum" or len(one.rates.lights) < 2 or not is_narrow(filter_):
        return ""
    return f" It counts for {light} too: if it is not for that, say in its box “Wanted” what it is for."


def hours_table(found: Answer) -> Table:
    """Subs and hours of each filter."""
    rows = []
    for one in found.filters:
        never = one.shot is None or one.kept_h is None or one.clock_h is None
        numbers = (
            ("", "never", "never")
            if never
            else (f"{one.shot:.0f}", say_duration(one.kept_h * 3600), say_duration(one.clock_h * 3600))
        )
        light = f"{one.neediest.light or 'none'}{in_colour(one.neediest.colour)}"
        rows.append((one.filter_shown, light, say_duration(one.sub_s), *numbers))
    head = ("Filter", "Light that decides", "Sub", "Subs to shoot", "Good hours", "On the clock")
    return Table(caption="What each filter needs for the goal, at best", head=head, rows=tuple(rows))
