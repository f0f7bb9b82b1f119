"""Counts of a session: how many subs were taken and how many of them were spoiled."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from expocalc.base.noun import Noun, build, measure, whole
from expocalc.budget.or_word import or_word

__all__ = ["Count", "read_counts"]

_MOST = 100


class Count(Noun):
    """Subs of one session at one length and one dither cadence.

    Raises
    ------
    TypeError, ValueError
        If a field is out of range, or more are spoiled than taken.

    Examples
    --------
    >>> Count(sub_length="300 s", dither_every=2, taken=120, spoiled=7).spoiled
    7
    """

    sub_length: Any = measure(
        "s", above=0, maximum=86400, example='"300 s"', meaning="Length of the subs.", origin="your own subs"
    )
    dither_every: int | None = or_word(
        whole,
        None,
        words={"never": None},
        said='2 or "never"',
        minimum=1,
        maximum=10_000,
        example="2",
        choices=("never",),
        meaning="Subs between two dithers; left out where there was no dither.",
        origin="your own subs",
    )
    taken: int = whole(
        minimum=1,
        maximum=1_000_000,
        example="120",
        meaning="How many subs were taken.",
        origin="a count of your own subs",
    )
    spoiled: int = whole(
        minimum=0,
        maximum=1_000_000,
        example="7",
        meaning="How many of them were thrown away.",
        origin="a count of your own subs",
    )

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
    return tuple(build(Count, f"{name} number {at + 1}", entry, at) for at, entry in enumerate(value))
