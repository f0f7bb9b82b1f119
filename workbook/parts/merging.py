"""Two versions of a plan that come from the same one, brought together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from expocalc.plan import Plan, PlanError, Where

__all__ = ["Differs", "Merged", "merge", "merge_values", "say_place"]

GONE = None
"""What stands for a value that a version does not hold; TOML has no such value."""


@dataclass(frozen=True, kw_only=True)
class Differs:
    """A place where both versions changed, each to something else."""

    where: Where
    mine: Any
    theirs: Any

    def say(self, where: str = "in the file") -> str:
        """Both values, theirs found `where`."""
        return f"{say_place(self.where)} is {_say(self.mine)} here and {_say(self.theirs)} {where}"


@dataclass(kw_only=True)
class Merged:
    """Both versions in one.

    Attributes
    ----------
    plan : Plan or None
        Theirs with mine on top; where both changed the same place it says mine. None where the two don't go together.
    taken : list of tuple
        Places that only they changed.
    differs : list of Differs
        Places that both changed.
    """

    plan: Plan | None = None
    taken: list[Where] = field(default_factory=list)
    differs: list[Differs] = field(default_factory=list)


def merge(base: Plan, mine: Plan, theirs: Plan) -> Merged:
    """Bring together what was changed in two versions since `base`.

    Parameters
    ----------
    base, mine, theirs : Plan

    Returns
    -------
    Merged
        Its plan has the text of `theirs`, so that their comments stay.
    """
    values, found = merge_values(base.values, mine.values, theirs.values)
    changes = {
        (section,): values.get(section)
        for section in {*values, *theirs.values}
        if values.get(section) != theirs.values.get(section)
    }
    try:
        found.plan = theirs.with_values(changes) if changes else theirs
    except PlanError:  # each change is right alone, but not with the other
        return found
    return found


def merge_values(
    base: Mapping[str, Any], mine: Mapping[str, Any], theirs: Mapping[str, Any]
) -> tuple[dict[str, Any], Merged]:
    """As :func:`merge`, of values that may make no plan: the values in one, and what was taken or differs.

    Examples
    --------
    >>> values, found = merge_values({"a": 1, "b": 1}, {"a": 2, "b": 1}, {"a": 1, "b": 3})
    >>> values, found.taken
    ({'a': 2, 'b': 3}, [('b',)])
    """
    found = Merged()
    return _merged(base, mine, theirs, (), found), found


def _merged(base: Any, mine: Any, theirs: Any, where: Where, found: Merged) -> Any:
    if mine == theirs or theirs == base:
        return mine
    versions = (base, mine, theirs)
    if all(one is GONE or isinstance(one, Mapping) for one in versions):
        base, mine, theirs = tables = [one or {} for one in versions]
        together = {}
        for key in dict.fromkeys((*theirs, *mine, *base)):
            value = _merged(*(one.get(key, GONE) for one in tables), (*where, key), found)
            if value is not GONE:
                together[key] = value
        return together or (GONE if GONE in versions[1:] else together)
    if all(_tables(one) for one in versions) and len({len(one) for one in versions}) == 1:
        entries = zip(*versions, strict=True)
        return [_merged(*three, (*where, at), found) for at, three in enumerate(entries)]
    if mine == base:
        found.taken.append(where)
        return theirs
    found.differs.append(Differs(where=where, mine=mine, theirs=theirs))
    return mine


def _tables(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(entry, Mapping) for entry in value)


def say_place(where: Where) -> str:
    """A place as a person finds it in the file.

    Examples
    --------
    >>> say_place(("filters", 0, "passbands", 1, "width"))
    'filters 1, passbands 2, width'
    """
    words: list[str] = []
    for step in where:
        if isinstance(step, int) and words:
            words[-1] += f" {step + 1}"
        else:
            words.append(str(step).replace("_", " "))
    return ", ".join(words)


def _say(value: Any) -> str:
    if value is GONE:
        return "not given"
    text = str(value)
    return text if len(text) <= 40 else f"{text[:40]}…"
