"""From a schedule to what one does: blocks of one filter each, with their subs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.night.nights import Nights
from expocalc.night.running import Slots, Way, ordered

__all__ = ["Block", "Times", "blocks_of", "slots_of"]

SLOT_S = 1800.0
"""Longest slot of the schedule. [s]"""
_TOUCH_S = 1.0


@dataclass(frozen=True, eq=False)
class Times:
    """Where the slots of the nights lie, and the hours in them; arrays of shape (nights, slots).

    Attributes
    ----------
    begin_s, end_s : ndarray
        [s since 1970, UTC]
    slots : Slots
    """

    begin_s: Floats
    end_s: Floats
    slots: Slots


@dataclass(frozen=True)
class Block:
    """One filter from a moment to another.

    Attributes
    ----------
    filter_name, filter_shown, filter_for : str
        Its name, and as people see it.
    begin_s, end_s : float
        [s since 1970, UTC]
    sub_s : float
        [s]
    subs : int
        Whole subs that fit, changes of filter and focus runs counted.
    dither_every : int or None
    equivalent_dark_h : float
        What it brings. [h]
    """

    filter_name: str
    filter_shown: str
    filter_for: str
    begin_s: float
    end_s: float
    sub_s: float
    subs: int
    dither_every: int | None
    equivalent_dark_h: float

    @property
    def clock_h(self) -> float:
        """[h]"""
        return (self.end_s - self.begin_s) / 3600

    @property
    def exposed_h(self) -> float:
        """Open shutter. [h]"""
        return self.subs * self.sub_s / 3600


def slots_of(case: Case, nights: Nights, use: Sequence[int], count: int | None = None, at_most: int = 10**6) -> Times:
    """Slots of the first nights.

    Parameters
    ----------
    case : Case
    nights : Nights
    use : sequence of int
        Places of the filters that are scheduled.
    count : int, optional
        How many nights; all of them by default.
    at_most : int
        Slots a night, about.
    """
    rows = []
    for n, windows in enumerate(nights.windows[:count]):
        total = sum(window.end_s - window.begin_s for window in windows)
        length = max(SLOT_S, total / at_most)
        edges = [
            np.linspace(window.begin_s, window.end_s, math.ceil((window.end_s - window.begin_s) / length) + 1)
            for window in windows
        ]
        begin = np.concatenate([e[:-1] for e in edges]) if edges else np.zeros(0)
        end = np.concatenate([e[1:] for e in edges]) if edges else np.zeros(0)
        rows.append((begin, end, nights.gained_h(n, begin, end)[list(use)]))
    most = max(1, *(begin.size for begin, _, _ in rows))
    begin_s, end_s = np.zeros((len(rows), most)), np.zeros((len(rows), most))
    gain = np.zeros((len(rows), most, len(use)))
    for n, (begin, end, gained) in enumerate(rows):
        begin_s[n, : begin.size], end_s[n, : end.size] = begin, end
        gain[n, : begin.size] = gained.T
    change_h = float(case.night.filter_change_time.value) / 3600
    slots = Slots(gain * case.night.focus_share, (end_s - begin_s) / 3600, change_h)
    return Times(begin_s, end_s, slots)


def blocks_of(case: Case, nights: Nights, times: Times, use: Sequence[int], way: Way, night: int) -> tuple[Block, ...]:
    """Blocks of one night of a schedule, in order."""
    runs: list[tuple[int, float, float, float]] = []
    change_s = float(case.night.filter_change_time.value)
    for s, parts in ordered(way.share[night]):
        at = float(times.begin_s[night, s])
        length = float(times.end_s[night, s]) - at
        for f, part in parts:
            end = at + part * length
            if runs and runs[-1][0] == f and at - runs[-1][2] < _TOUCH_S:
                runs[-1] = (f, runs[-1][1], end, runs[-1][3])
            else:
                runs.append((f, at, end, change_s if runs and runs[-1][0] != f else 0.0))
            at = end
    found = []
    for f, begin, end, change in runs:
        reference = nights.references[use[f]]
        start = min(begin + change, end)
        subs = math.floor((end - start) * case.night.focus_share / (reference.sub_s + case.routine.dead_s) + 1e-6)
        if not subs:  # too short for a single one
            continue
        found.append(
            Block(
                filter_name=reference.name,
                filter_shown=reference.filter_.shown_name,
                filter_for=reference.shown,
                begin_s=begin,
                end_s=end,
                sub_s=reference.sub_s,
                subs=subs,
                dither_every=case.routine.dither_every,
                equivalent_dark_h=float(nights.gained_h(night, start, end)[use[f]]) * case.night.focus_share,
            )
        )
    return tuple(found)
