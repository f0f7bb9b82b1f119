"""The season's pictures: hours of each kind against the date, a calendar, and the schedule night by night."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_number
from expocalc.night.night import SCHEDULED, Campaign
from expocalc.night.ranking import SEASON
from workbook.night.tonight import Bar
from workbook.parts.table import Table

__all__ = ["Cell", "ScheduledNight", "Season", "calendar", "schedule_rows", "schedule_table", "season", "season_table"]

WEEK = 7
SHOWN_NIGHTS = 10
"""Nights of the schedule that are drawn."""


@dataclass(frozen=True, eq=False)
class Season:
    """Hours of each kind of many nights. [h]

    Attributes
    ----------
    dates : tuple of datetime.date
    dark_h, moonlit_h : ndarray
        On the clock.
    names : tuple of str
        The filters, each with the light that decides where it passes several.
    equivalent_h : tuple of ndarray
        One per filter.
    best : int
        First night of the week with the most equivalent dark hours, summed over the filters.
    sentence : str
        About that week.
    soon : str
        About the best week of the coming season; empty where it is that one, or has none.
    """

    dates: tuple[dt.date, ...]
    dark_h: Floats
    moonlit_h: Floats
    names: tuple[str, ...]
    equivalent_h: tuple[Floats, ...]
    best: int
    sentence: str
    soon: str


def season(campaign: Campaign) -> Season:
    """What is drawn of a year of nights."""
    nights = campaign.year
    hours = [nights.hours(n) for n in range(len(nights.evenings))]
    dark, lit = (np.array([getattr(row[0], name) for row in hours], dtype=float) for name in ("dark_h", "moonlit_h"))
    equivalent = np.array([[one.equivalent_dark_h for one in row] for row in hours]).T
    dates = tuple(evening.date for evening in nights.evenings)
    weeks = np.convolve(equivalent.sum(axis=0), np.ones(WEEK), mode="valid")
    names = [reference.shown for reference in nights.references]

    def brings(first: int) -> str:
        each = " and ".join(
            f"{say_number(float(row[first : first + WEEK].sum()))} h in {name}"
            for row, name in zip(equivalent, names, strict=True)
            if row.any()
        )
        return f"begins on {dates[first]}: it brings {each}, if all its nights are clear"

    best, soon = int(weeks.argmax()), int(weeks[:SEASON].argmax())
    if weeks[best] > 0:
        said = f"The best week of the year {brings(best)}."
    elif (dark + lit).any():
        said = "No week is better than another: no hours reach the goal in any filter."
    else:
        said = f"No night from {dates[0]} to {dates[-1]} has time to image this target."
    near = ""
    if soon != best:
        near = (
            f"Of the next three months the best week {brings(soon)}."
            if weeks[soon] > 0
            else ("The next three months have no time to image it.")
        )
    return Season(dates, dark, lit, tuple(names), tuple(equivalent), best, said, near)


@dataclass(frozen=True)
class Cell:
    """One night of the calendar: its month and day, its hours as a share of the most, and the words in it."""

    month: str
    day: str
    share: float
    words: str
    best: bool


def calendar(found: Season) -> tuple[Cell, ...]:
    """The nights as a calendar: mean equivalent dark hours of the filters that reach their goal, in whole hours."""
    mean = np.mean([row for row in found.equivalent_h if row.any()] or found.equivalent_h, axis=0)
    most = float(mean.max()) or 1.0
    return tuple(
        Cell(
            month=date.strftime("%Y-%m"),
            day=str(date.day),
            share=float(hours) / most,
            words=f"{hours:.0f}" if hours >= 0.5 else "–",
            best=bool(mean.any()) and found.best <= n < found.best + WEEK,
        )
        for n, (date, hours) in enumerate(zip(found.dates, mean, strict=True))
    )


def season_table(found: Season) -> Table:
    """Night by night: hours with the Moon down and up, and what they are worth in each filter."""
    rows = tuple(
        (
            str(date),
            say_duration(3600 * float(found.dark_h[n])),
            say_duration(3600 * float(found.moonlit_h[n])),
            *(say_duration(3600 * float(row[n])) for row in found.equivalent_h),
        )
        for n, date in enumerate(found.dates)
    )
    head = ("Night", "Moon down", "Moon up", *(f"{name}, equivalent dark" for name in found.names))
    return Table(caption="Hours of each night", head=head, rows=rows)


@dataclass(frozen=True)
class ScheduledNight:
    """One night of the schedule: its date, its blocks, what it adds and what is then left, in words."""

    date: dt.date
    bars: tuple[Bar, ...]
    adds: str
    left: str


def schedule_rows(campaign: Campaign, most: int = SHOWN_NIGHTS) -> tuple[ScheduledNight, ...]:
    """Nights of the schedule, at most so many; what is left is counted on average weather."""
    if campaign.way is None:
        return ()
    nights = campaign.nights
    numbers = {r.name: n for n, r in enumerate(nights.references)}
    names = [nights.references[place].shown for place in campaign.use]
    left = campaign.need_h.copy()
    found = []
    used = np.flatnonzero(campaign.way.gained_h.any(axis=1))
    last = int(used[-1]) + 1 if used.size else 1
    for n in range(min(most, last)):
        evening, blocks = nights.evenings[n], campaign.blocks(n)
        left = left - campaign.way.gained_h[n]
        total: dict[str, float] = {}
        for block in blocks:
            total[block.filter_for] = total.get(block.filter_for, 0.0) + block.equivalent_dark_h
        adds = ", ".join(f"{say_duration(3600 * h)} {name}" for name, h in total.items()) or "nothing"
        open_ = [(name, h) for name, h in zip(names, left, strict=True) if h > _DONE_H]
        rest = [f"{say_duration(3600 * h)} {name}" for name, h in open_]
        if len(open_) > _NAMED:
            rest = [f"{say_duration(3600 * sum(h for _, h in open_))} in {len(open_)} filters"]
        bars = tuple(
            Bar(
                number=numbers[block.filter_name],
                begin=(block.begin_s - evening.begin_s) / 3600,
                end=(block.end_s - evening.begin_s) / 3600,
                words=f"{evening.clock(block.begin_s)} to {evening.clock(block.end_s)} {block.filter_shown}",
            )
            for block in blocks
        )
        found.append(ScheduledNight(evening.date, bars, adds, ", ".join(rest) or "nothing"))
    return tuple(found)


_DONE_H = 0.01
_NAMED = 2
"""Filters that have room to be named beside a night."""


def schedule_table(campaign: Campaign) -> Table:
    """The schedule: what to do in each night, what it adds if it is clear, and what is left on average weather."""
    rows = tuple(
        (str(row.date), "; ".join(bar.words for bar in row.bars) or "nothing", row.adds, row.left)
        for row in schedule_rows(campaign, SCHEDULED)
    )
    return Table(
        caption="Schedule; equivalent dark hours at best",
        head=("Night", "What to do", "Adds, if clear", "Left"),
        rows=rows,
    )
