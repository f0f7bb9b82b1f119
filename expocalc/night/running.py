"""Ways through the slots of many nights: what each filter gains, changes of filter paid for, and when goals are met."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats

__all__ = ["DONE", "LEAST", "Slots", "Way", "by_filter", "greedy", "ordered", "run"]

DONE = 1 - 1e-6
"""Share of a goal that counts as all of it."""
LEAST = 1e-9
"""Smaller shares of a slot are none."""
_FIRST = 1e6  # times as dear as the filter after it


@dataclass(frozen=True, eq=False)
class Slots:
    """Time slots of nights.

    Attributes
    ----------
    gain : ndarray
        Equivalent dark hours that a filter gains in a slot, shape (nights, slots, filters); 0 where a night has fewer
        slots than others. [h]
    clock_h : ndarray
        Length of the slots, shape (nights, slots). [h]
    change_h : float
        What a change of filter takes off the slot that it begins. [h]
    """

    gain: Floats
    clock_h: Floats
    change_h: float = 0.0

    @property
    def lost(self) -> Floats:
        """Share of a slot that a change at its beginning takes, shape (nights, slots). [-]"""
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(self.clock_h > 0, self.change_h / self.clock_h, 0.0)
        return np.minimum(share, 1.0)

    def thinned(self, share: float) -> Slots:
        """The same when only a share of the nights is clear, on average."""
        return Slots(self.gain * share, self.clock_h, self.change_h)

    def first(self, count: int) -> Slots:
        """The first nights of them."""
        return Slots(self.gain[:count], self.clock_h[:count], self.change_h)


@dataclass(frozen=True, eq=False)
class Way:
    """A schedule.

    Attributes
    ----------
    share : ndarray
        Share of each slot's time that a filter has, shape (nights, slots, filters). [-]
    gained_h : ndarray
        What it gains, changes paid for, shape (nights, filters). [h]
    nights : float
        Nights until all goals are met, the last one counted by the share of its time; infinite where they aren't.
    price : ndarray
        What an equivalent dark hour of each filter is worth to the plan, shape (filters,). [h-1]
    """

    share: Floats
    gained_h: Floats
    nights: float
    price: Floats


def ordered(share: Floats) -> Iterator[tuple[int, list[tuple[int, float]]]]:
    """Slots of one night with their filters in the order of fewest changes; shares sum to at most 1."""
    used = [[int(f) for f in np.flatnonzero(row > LEAST)] for row in share]
    now = -1
    for s, filters in enumerate(used):
        following = next((set(later) for later in used[s + 1 :] if later), set())
        order = sorted(filters, key=lambda f: (f != now, f in following and len(filters) > 1))
        if order:
            now = order[-1]
        yield s, [(f, float(share[s, f])) for f in order]


def _open(wanted: int, left: Floats, value: Floats) -> int | None:
    """The filter that was wanted, or once its goal is met the one of most value; None where none gains anything."""
    if left[wanted] > 0 and value[wanted] > 0:
        return wanted
    worth = np.where(left > 0, value, 0.0)
    return int(worth.argmax()) if worth.max() > 0 else None


def run(slots: Slots, share: Floats, need_h: Floats, price: Floats | None = None) -> Way:
    """Go through the nights slot by slot, paying for changes, and stop each filter when its goal is met."""
    left = need_h.astype(float).copy()
    done = np.zeros(share.shape)
    gained = np.zeros((share.shape[0], share.shape[2]))
    price = 1 / need_h if price is None else price
    for n in range(share.shape[0]):
        clock = float(slots.clock_h[n].sum())
        if not clock:
            continue
        passed, now = 0.0, -1
        for s, parts in ordered(share[n]):
            hours = float(slots.clock_h[n, s])
            for wanted, part in parts:
                length = part * hours
                while length > LEAST * hours:
                    f = _open(wanted, left, slots.gain[n, s] * price)
                    if f is None:
                        break
                    rate = float(slots.gain[n, s, f]) / hours
                    paid = min(slots.change_h if now not in (-1, f) else 0.0, length)
                    takes = min(length, paid + left[f] / rate)
                    now = f
                    gained[n, f] += rate * (takes - paid)
                    left[f] -= rate * (takes - paid)
                    done[n, s, f] += takes / hours
                    if left[f] <= need_h[f] * (1 - DONE):
                        left[f] = 0.0
                    passed += takes
                    length -= takes
                    if not left.any():
                        return Way(done, gained, n + passed / clock, price)
    return Way(done, gained, np.inf, price)


def greedy(slots: Slots, need_h: Floats) -> Way:
    """Each slot to the filter that gets the largest share of its goal in it."""
    left, share = need_h.astype(float).copy(), np.zeros(slots.gain.shape)
    for n in range(slots.gain.shape[0]):
        now = -1
        for s in range(slots.gain.shape[1]):
            lost = np.where(np.arange(left.size) == now, 0.0, slots.lost[n, s] if now >= 0 else 0.0)
            gain = slots.gain[n, s] * (1 - lost)
            worth = np.where(left > 0, gain / need_h, -1.0)
            if worth.max() <= 0:
                continue
            now = int(worth.argmax())
            share[n, s, now] = 1.0
            left[now] -= gain[now]
    return run(slots, share, need_h)


def by_filter(slots: Slots, need_h: Floats) -> Way:
    """One filter until its goal is met, then the next, in the plan's order."""
    share = np.zeros(slots.gain.shape)
    share[:, :, 0] = 1.0
    first = _FIRST ** -np.arange(float(need_h.size))
    return run(slots, share, need_h, first)
