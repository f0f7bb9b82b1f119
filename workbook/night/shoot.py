"""What to shoot: the ranked list in words and bars."""

from __future__ import annotations

import datetime as dt
from collections.abc import Generator, Sequence
from dataclasses import dataclass
from pathlib import Path

from expocalc.base.words import say_count, say_duration
from expocalc.budget.case import Case
from expocalc.light.library import TARGETS
from expocalc.night.own_list import read_own_list
from expocalc.night.ranking import Candidate, Ranked, candidates_of, in_order, rank
from workbook.parts.file_names import checked_stem
from workbook.parts.table import Table

__all__ = [
    "RankBar",
    "names",
    "own_list",
    "rank_bars",
    "rank_steps",
    "rank_table",
    "rank_title",
    "say_ranked",
    "sentence",
]

SHOWN = 16


@dataclass(frozen=True)
class RankBar:
    """One region: its name, nights until the goal, and the words at the bar."""

    name: str
    nights: int
    words: str


def rank_steps(case: Case, own: Sequence[Candidate], first: dt.date) -> Generator[float, None, tuple[Ranked, ...]]:
    """Rank the library and the user's own targets, region by region."""
    everything = [*own, *candidates_of(TARGETS.values())]
    found = []
    for at, one in enumerate(rank(case, everything, first)):
        found.append(one)
        yield (at + 1) / len(everything)
    return in_order(found)


def own_list(folder: Path, name: str) -> tuple[Candidate, ...]:
    """Targets of a file in the notebook's folder; ValueError in one sentence."""
    suffix = ".csv" if name.strip().endswith(".csv") else ".ecsv"
    return read_own_list(folder / f"{checked_stem(folder, name, suffix, 'List of targets')}{suffix}")


def names(found: Sequence[Ranked]) -> tuple[str, ...]:
    """Those that can be reached, best first."""
    return tuple(one.candidate.name for one in found if one.reached)


def sentence(found: Sequence[Ranked], first: dt.date) -> str:
    """What the list says."""
    month = sum(one.month is not None for one in found)
    season = sum(one.season is not None for one in found)
    year = sum(one.reached for one in found)
    return (
        f"From {first} on, {month} of {len(found)} regions reach the plan's goal within a month, {season} within three "
        f"months, {year} within a year, at best and on average weather; {len(found) - year} are out of reach in any "
        "season."
    )


def say_ranked(one: Ranked) -> str:
    """One region in one sentence."""
    name = one.candidate.name
    if not one.reached:
        return f"{name}: {one.why}."
    nights = say_count(one.year, "night")
    hours = say_duration(3600 * one.need_h) if one.need_h > 1 / 60 else "less than a minute"
    return (
        f"{name}: at best {nights} on the calendar in {one.carried_by}, {hours} of moonless hours at the zenith; best "
        f"month {one.best_month}. Its light: {one.candidate.note}."
    )


def rank_bars(found: Sequence[Ranked]) -> tuple[RankBar, ...]:
    """The ones to choose from: where there are too many of one night, the hardest of those."""
    reached = [one for one in found if one.year is not None]
    easy = sum(one.year == 1 for one in reached)
    from_here = max(0, min(easy - 1, len(reached) - SHOWN))
    return tuple(
        RankBar(
            name=one.candidate.name,
            nights=one.year,
            words=f"{one.year} {'night' if one.year == 1 else 'nights'}, {one.carried_by}, best {one.best_month}",
        )
        for one in reached[from_here : from_here + SHOWN]
        if one.year is not None
    )


def rank_title(found: Sequence[Ranked]) -> str:
    """What the bars show, and how many are left out above them."""
    easy = sum(one.year == 1 for one in found)
    return f"Nights until the goal at best, with your rig and sky; {easy} regions take one"


def rank_table(found: Sequence[Ranked]) -> Table:
    """All regions, those that no season reaches with the reason."""
    rows = tuple(
        (
            one.candidate.name,
            one.carried_by or "none",
            "–" if one.month is None else str(one.month),
            "–" if one.season is None else str(one.season),
            one.why if one.year is None else str(one.year),
            one.best_month or "none",
            one.candidate.note,
        )
        for one in found
    )
    return Table(
        caption="Nights on the calendar until the goal at best, the fewest first",
        head=("Region", "Filter and light", "This month", "Three months", "A year", "Best month", "Its brightness"),
        rows=rows,
    )
