"""What the view of the morning after shows: the night's course, what stands out, and the way to the goal."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from expocalc.base.words import say_duration, say_number, say_share
from expocalc.frames.measure.folder import SubLine
from expocalc.frames.tell.conditions import begin_of
from expocalc.frames.tell.ledger import Entry, read_ledger
from expocalc.frames.tell.night import MorningAfter, read_folder, tell_night
from expocalc.frames.tell.progress import gathered
from expocalc.plan import Plan, Where
from workbook.parts.table import Table

__all__ = ["NightPicture", "Read", "Strip", "Way", "counts_taken", "look_at_night", "numbers", "read_night"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Read:
    """What was measured, before a person kept or dropped anything."""

    lines: Sequence[SubLine]
    problems: Sequence[str]


@dataclass(frozen=True, eq=False, kw_only=True)
class Strip:
    """One row of the night's course: values over time, NaN where there is none, and what the model said for each."""

    title: str
    value: list[float]
    planned: list[float]


@dataclass(frozen=True, kw_only=True)
class Way:
    """One filter's way to its goal: nights as parts of a bar, as shares of the goal."""

    name: str
    nights: tuple[tuple[str, float], ...]
    words: str


@dataclass(frozen=True, eq=False, kw_only=True)
class NightPicture:
    """A night, drawn and said.

    Attributes
    ----------
    found : MorningAfter
    filters : mapping of str to str
        Name of each filter of the plan, as it is shown.
    time : list of datetime
        Begin of each sub, UTC.
    kept : list of bool
    files, reasons : list of str
    strips : tuple of Strip
        Sky, transparency, width of the stars.
    ways : tuple of Way
    headline : str
    others : tuple of str
    """

    found: MorningAfter
    filters: Mapping[str, str]
    time: list[datetime]
    kept: list[bool]
    files: list[str]
    reasons: list[str]
    strips: tuple[Strip, ...]
    ways: tuple[Way, ...]
    headline: str
    others: tuple[str, ...]

    @property
    def odd(self) -> tuple[Entry, ...]:
        """Subs that stand out, or that a person left out."""
        return tuple(one for one in self.found.entries if one.reason or not one.kept)


def read_night(plan: Plan, folder: Path, asked: str, report: Callable[[float], None]) -> Read:
    """Measure the subs of a folder, on all cores.

    Raises
    ------
    FrameError
        With one sentence.
    """
    lines, problems = read_folder(
        folder / asked.strip(), plan.case, progress=lambda done, of: report(done / max(of, 1))
    )
    return Read(lines=lines, problems=problems)


def _moment(date: str, at: int) -> datetime:
    begin = begin_of(date)
    return datetime(2000, 1, 1, 0, at // 60 % 60, at % 60) if begin is None else begin.replace(tzinfo=None)


def look_at_night(plan: Plan, read: Read, ledger: Path | None, choices: Mapping[str, bool]) -> NightPicture:
    """What a night that was read means, with a person's choices and the nights before.

    Raises
    ------
    FrameError
        With one sentence.
    """
    before = read_ledger(ledger) if ledger else None
    found = tell_night(read.lines, plan.case, read.problems, before, choices)
    entries = found.entries
    time = [_moment(one.date, at) for at, one in enumerate(entries)]
    course = found.course
    keys = {(one.night, one.filter, one.file) for one in entries}
    old = [one for one in (before.entries if before else ()) if (one.night, one.filter, one.file) not in keys]
    ways = []
    for name, one in found.filters.items():
        nights = gathered([*old, *entries], name)
        goal = one.goal_h
        parts = tuple((night, hours / goal) for night, hours in nights.items()) if goal else ()
        left = "out of reach" if goal is None else say_share(one.share_of_goal or 0.0)
        ways.append(Way(name=one.name, nights=parts, words=f"{left} of {say_duration(3600 * goal)}" if goal else left))
    return NightPicture(
        found=found,
        filters={one.name: one.shown_name for one in plan.case.filters},
        time=time,
        kept=[one.kept for one in entries],
        files=[one.file for one in entries],
        reasons=[one.reason or "nothing stands out" for one in entries],
        strips=(
            Strip(
                title=f"sky, electron/s (dashed: {course.source})",
                value=[one.sky_electron_s for one in entries],
                planned=course.sky_e_s.tolist(),
            ),
            Strip(
                title="the stars' light, over a clear moment's",
                value=[one.transparency for one in entries],
                planned=course.light.tolist(),
            ),
            Strip(title="width of a star, pixels", value=[one.star_fwhm_px for one in entries], planned=[]),
        ),
        ways=tuple(ways),
        headline=found.headline,
        others=(*found.sentences[1:], *(f"{part}." for part in (*_counted(found), *_own(found), *found.warnings))),
    )


def _counted(found: MorningAfter) -> tuple[str, ...]:
    return tuple(
        f"Taken {one['taken']} subs of {one['sub_length']}, spoiled {one['spoiled']}: counts for the plan's losses"
        for one in found.counts
    )


def _own(found: MorningAfter) -> tuple[str, ...]:
    return () if found.own is None else (found.own.words,)


def counts_taken(plan: Plan, found: MorningAfter) -> Mapping[Where, Any]:
    """The night's counts beside those that the plan has, as a change of its values."""
    before = list(plan.values.get("routine", {}).get("counts", ()))
    new = [dict(one) for one in found.counts if dict(one) not in before]
    return {("routine", "counts"): [*before, *new]}


def _degrees(value: float) -> str:
    return f"{value:.1f}" if math.isfinite(value) else "unknown"


def numbers(shown: NightPicture) -> Table:
    """One row a sub."""
    named = shown.filters

    def say(value: float) -> str:
        return "unknown" if not math.isfinite(value) else say_number(value, 3)

    return Table(
        caption="The night, sub by sub",
        head=(
            "Sub", "UTC", "Filter", "Length", "°C", "Sky, e-/s", "Noise, e-", "Star, px", "Long/wide", "Stars", "Light",
            "Kept", "Reason",
        ),
        rows=tuple(
            (
                one.file, one.date[11:19], named[one.filter], say_duration(one.exposure_s),
                _degrees(one.temperature_deg_c), say(one.sky_electron_s), say(one.noise_electron),
                say(one.star_fwhm_px), say(one.star_elongation), str(one.stars), say(one.transparency),
                "yes" if one.kept else "no", one.reason,
            )
            for one in shown.found.entries
        ),
    )  # fmt: skip
