"""Counts of a session: how many subs were taken and how many of them were spoiled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from expocalc.base.noun import Noun, field_of, measure, suggest, whole

__all__ = ["Count", "read_counts"]

_MOST = 100


def _read_every(name: str, value: Any) -> int | None:
    if value in (None, "never"):
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 10_000:
        msg = f'{name} must be a whole number from 1 to 10000 or "never", got {value!r}; write it like 2'
        raise ValueError(msg)
    return value


@dataclass(frozen=True, eq=False, kw_only=True)
class Count(Noun):
    """Subs of one session at one length and one dither cadence.

    Parameters
    ----------
    sub_length : Quantity or str
        [s]
    dither_every : int or str, optional
        Subs between two dithers; "never" or left out where there was no dither.
    taken : int
        Subs taken.
    spoiled : int
        How many of them were thrown away.

    Raises
    ------
    TypeError, ValueError
        If a field is out of range, or more are spoiled than taken.

    Examples
    --------
    >>> Count(sub_length="300 s", dither_every=2, taken=120, spoiled=7).spoiled
    7
    """

    sub_length: Any = measure("s", above=0, maximum=86400, example='"300 s"')
    dither_every: int | None = field_of(_read_every, None)
    taken: int = whole(minimum=1, maximum=1_000_000, example="120")
    spoiled: int = whole(minimum=0, maximum=1_000_000, example="7")

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.spoiled > self.taken:
            msg = f"spoiled must be at most the {self.taken} subs taken, got {self.spoiled}"
            raise ValueError(msg)


def read_counts(name: str, value: Any) -> tuple[Count, ...]:
    """Sessions from the tables of a plan. TypeError or ValueError in one sentence that says which session."""
    if not isinstance(value, Sequence) or isinstance(value, str) or len(value) > _MOST:
        msg = f"{name} must be at most {_MOST} tables of sub_length, dither_every, taken and spoiled, got {value!r:.60}"
        raise TypeError(msg)
    known = [f.name for f in fields(Count)]
    found = []
    for place, entry in enumerate(value, start=1):
        if isinstance(entry, Count):
            found.append(entry)
            continue
        where = f"{name} number {place}"
        if not isinstance(entry, Mapping):
            msg = f"{where} must be a table, got {entry!r:.60}"
            raise TypeError(msg)
        for key in entry:
            if key not in known:
                msg = f'{where} has no key "{key}"{suggest(key, known) or "; it knows " + ", ".join(known)}'
                raise ValueError(msg)
        for key in ("sub_length", "taken", "spoiled"):
            if key not in entry:
                msg = f'{where} needs the key "{key}"'
                raise ValueError(msg)
        try:
            found.append(Count(**entry))
        except (TypeError, ValueError) as error:
            msg = f"{where}: {error}"
            raise ValueError(msg) from None
    return tuple(found)
