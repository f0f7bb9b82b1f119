r"""Which filter in which part of which night, so that the plan ends in the fewest nights.

A night is cut into slots; a way through a night gives each slot to one filter. With prices on the filters' hours the
dearest way through each night is found exactly, slot by slot, changes of filter at their cost (dynamic programming).
The prices come from a linear program over the ways found so far, solved by HiGHS: it maximises the least share of all
goals. New ways are added until none is worth more than its night (columns made on demand, [dantzig]_). A night in which
two ways are mixed splits its slots in time, which a night can do.

Whatever the prices, what all nights are worth at them bounds every schedule from above (weak duality); the first number
of nights whose bound reaches the goals is where the search begins.

References
----------
.. [dantzig] Dantzig, G. B. & Wolfe, P. 1960, Operations Research 8, 101: decomposition of linear programs.
.. [huangfu] Huangfu, Q. & Hall, J. A. J. 2018, Mathematical Programming Computation 10, 119: HiGHS.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.night.running import DONE, LEAST, Slots, Way, by_filter, greedy, run

__all__ = ["dearest", "schedule"]

_ROUNDS = 40
_FURTHEST_H = 1e9
"""A goal further than that is as far as it: the solver takes no number of any size. [h]"""
_CLOSE = 1e-4


def dearest(slots: Slots, price: Floats) -> tuple[npt.NDArray[np.intp], Floats]:
    """Way of most value through each night at these prices: filter of each slot, and the value of the night."""
    value, lost = slots.gain * price, slots.lost
    nights, count, filters = value.shape
    best, back = value[:, 0].copy(), np.zeros((nights, count, filters), dtype=np.intp)
    same = np.arange(filters)
    for s in range(1, count):
        changed = best.max(axis=1, keepdims=True) + value[:, s] * (1 - lost[:, s, None])
        stayed = best + value[:, s]
        change = changed > stayed
        back[:, s] = np.where(change, best.argmax(axis=1)[:, None], same)
        best = np.where(change, changed, stayed)
    path = np.empty((nights, count), dtype=np.intp)
    path[:, -1] = best.argmax(axis=1)
    rows = np.arange(nights)
    for s in range(count - 1, 0, -1):
        path[:, s - 1] = back[rows, s, path[:, s]]
    return path, best.max(axis=1)


def _gains(slots: Slots, path: npt.NDArray[np.intp]) -> Floats:
    """What a way with one filter a slot gains, shape (nights, filters). [h]"""
    taken = np.take_along_axis(slots.gain, path[:, :, None], axis=2)[:, :, 0]
    changed = np.zeros(path.shape, dtype=bool)
    changed[:, 1:] = path[:, 1:] != path[:, :-1]
    taken = taken * np.where(changed, 1 - slots.lost, 1.0)
    return np.stack([np.where(path == f, taken, 0.0).sum(axis=1) for f in range(slots.gain.shape[2])], axis=1)


def _least(cost: Floats, table: Floats, most: Floats) -> tuple[Floats, Floats]:
    """The x from 0 on of least cost with `table` x not above `most` [huangfu]_, and what 1 more in each row changes."""
    import highspy  # most pages ask for no night

    rows, columns = np.nonzero(table)
    program = highspy.HighsLp()
    program.num_row_, program.num_col_ = table.shape
    program.col_cost_, program.row_upper_ = cost, most
    program.col_lower_, program.col_upper_ = np.zeros(cost.size), np.full(cost.size, np.inf)
    program.row_lower_ = np.full(most.size, -np.inf)
    program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    program.a_matrix_.start_ = np.searchsorted(rows, np.arange(most.size + 1))
    program.a_matrix_.index_, program.a_matrix_.value_ = columns, table[rows, columns]
    solver = highspy.Highs.__new__(highspy.Highs)
    super(highspy.Highs, solver).__init__()  # without callbacks, whose start prints a banner among a command's answer
    solver.setOptionValue("output_flag", False)
    solver.passModel(program)
    solver.run()
    found = solver.getSolution()
    return np.array(found.col_value), np.array(found.row_dual)


def _mix(slots: Slots, need_h: Floats) -> tuple[Floats, Floats, float]:
    """Shares of the slots that maximise the least share of the goals; prices of the filters; that share's bound."""
    nights, _, filters = slots.gain.shape
    need_h = np.minimum(need_h, _FURTHEST_H)
    price = 1 / need_h / filters
    paths: list[npt.NDArray[np.intp]] = []
    gains: list[Floats] = []
    weights: Floats = np.zeros(0)
    worth = np.zeros(nights)
    bound = np.inf
    for _ in range(_ROUNDS):
        path, value = dearest(slots, price)
        bound = min(bound, float(value.sum() / (price @ need_h)))
        if len(paths) and np.all(value <= worth + _CLOSE * max(value.mean(), 1e-12)):
            break
        paths.append(path)
        gains.append(_gains(slots, path))
        # columns: each night's ways, then the least share
        columns = len(paths) * nights
        table = np.concatenate(gains).T
        goals = np.concatenate([-table, need_h[:, None]], axis=1)
        one_way = np.concatenate([np.tile(np.eye(nights), len(paths)), np.zeros((nights, 1))], axis=1)
        cost = np.zeros(columns + 1)
        cost[-1] = -1.0
        most = np.concatenate([np.zeros(filters), np.ones(nights)])
        solved, duals = _least(cost, np.concatenate([goals, one_way]), most)
        price, worth = np.maximum(-duals[:filters], 0.0), -duals[filters:]
        weights = solved[:-1].reshape(len(paths), nights)
        if not price.any():
            break
    share = np.zeros(slots.gain.shape)
    for weight, path in zip(list(weights), paths, strict=True):
        for f in range(filters):
            share[:, :, f] += np.outer(weight, np.ones(path.shape[1])) * (path == f)
    return share, price, bound


def _gathered(value: Floats, clock_h: Floats, share: Floats) -> Floats:
    """One night's shares with each filter in one piece wherever several share the slots, in the order of most value."""
    mixed = np.concatenate([[False], (share > LEAST).sum(axis=1) > 1, [False]])
    edges = np.flatnonzero(mixed[1:] != mixed[:-1])
    found = share.copy()
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        part, hours = share[begin:end], clock_h[begin:end]
        each = (part * hours[:, None]).sum(axis=0)
        ways = [_filled(each, hours, order) for order in permutations(int(f) for f in np.flatnonzero(each > LEAST))]
        found[begin:end] = max(ways, key=lambda way: float((way * value[begin:end]).sum()))
    return found


def _filled(each_h: Floats, hours: Floats, order: Sequence[int]) -> Floats:
    """Shares of slots filled one filter after the other."""
    ends = np.concatenate([[0.0], np.cumsum(hours)])
    way, at = np.zeros((hours.size, each_h.size)), 0.0
    for f in order:
        covered = np.minimum(ends[1:], at + each_h[f]) - np.maximum(ends[:-1], at)
        way[:, f] = np.maximum(covered, 0.0) / np.maximum(hours, 1e-12)
        at += each_h[f]
    return way


def _planned(slots: Slots, need: Floats, count: int, price: Floats) -> tuple[Way, Floats, float]:
    """Schedule within the first nights, the prices that it rests on, and the bound of the least share."""
    share, found, bound = _mix(slots.first(count), need)
    price = found if found.any() else price
    whole = np.zeros(slots.gain.shape)
    for n in range(count):
        whole[n] = _gathered(slots.gain[n] * price, slots.clock_h[n], share[n])
    return run(slots, whole, need, price), price, bound


def _sooner(slots: Slots, need: Floats, way: Way) -> Way:
    """The same with as few slots of the last night as will do."""
    last = int(np.ceil(way.nights)) - 1
    low, high = 0, slots.gain.shape[1]
    while high - low > 1:
        middle = (low + high) // 2
        gain = slots.gain.copy()
        gain[last, middle:] = 0.0
        shorter = Slots(gain, slots.clock_h, slots.change_h)
        tried, _, bound = _planned(shorter, need, last + 1, way.price)
        if bound >= DONE and np.isfinite(tried.nights):
            high = middle
            way = min(way, tried, key=lambda one: one.nights)
        else:
            low = middle
    return way


def schedule(slots: Slots, need_h: npt.ArrayLike) -> Way:
    """Schedule of the fewest nights.

    Parameters
    ----------
    slots : Slots
    need_h : array_like
        Equivalent dark hours that each filter needs, shape (filters,), above 0 and finite. [h]

    Returns
    -------
    Way
        Where the nights are too few for the goals, the one that brings the least share of a goal furthest.

    Notes
    -----
    It is never worse than :func:`greedy` and :func:`by_filter`, which are tried too.

    Examples
    --------
    Two slots, the first good for both filters and the second for one of them:

    >>> slots = Slots(gain=np.array([[[1.0, 1.0], [0.9, 0.1]]]), clock_h=np.ones((1, 2)))
    >>> schedule(slots, [0.9, 1.0]).share[0].tolist()
    [[0.0, 1.0], [1.0, 0.0]]
    """
    need = np.asarray(need_h, dtype=float)
    nights = slots.gain.shape[0]
    ways = [greedy(slots, need), by_filter(slots, need)]
    known = min(way.nights for way in ways)
    most = nights if np.isinf(known) else int(np.ceil(known))
    price = 1 / need
    count = 1
    while count <= most:
        value = np.cumsum(dearest(slots.first(most), price)[1]) / (price @ need)
        reached = np.flatnonzero(value >= DONE)
        count = max(count, int(reached[0]) + 1 if reached.size else most)
        way, price, _ = _planned(slots, need, count, price)
        ways.append(way)
        if np.isfinite(way.nights):
            ways.append(_sooner(slots, need, way))
            break
        count += 1
    return min(ways, key=lambda way: (way.nights, -float((way.gained_h.sum(axis=0) / need).min())))
