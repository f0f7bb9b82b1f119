"""Which sub length to take: one that a person would set, as good as the best, and good in whole subs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.clock import Pace, kept_share
from expocalc.budget.lengths import SHORTEST_S, USUAL_S, Asked, taken
from expocalc.budget.parts import whole
from expocalc.budget.routine import LONGEST_SUB_S
from expocalc.budget.sub_length import WITHIN, Best

__all__ = ["advised_sub", "in_whole_subs"]

_UNNOTICED = 0.995
"""Share of the hours that nobody would mind for fewer, longer subs."""
_ALMOST = 1 - 1e-9
_FEW_FILES_S = 60.0
"""Where longer subs cost nothing, shorter ones than a minute only fill the disk: common practice, no source. [s]"""
_ROUNDED, _AS_GOOD = 1.028, 1.015
"""Times the fewest hours from which rounding to whole subs is worth another length, and up to which that is taken."""
_MANY = 250
"""Kept subs from which on rounding to whole ones does not count."""
_SINGLE = 1.5
"""Fewer kept subs than that are one, whatever the rounding of their number."""
_SECANTS, _NEARLY = 4, 1 - 1e-6
_AROUND: Floats = np.geomspace(1 / 3, 3, 110)
_UNUSUAL = 100.0
"""Puts every length that nobody would set behind all that people set."""


def advised_sub(
    asked: Asked, best: Best, *, shortest_s: npt.ArrayLike = 0.0, longest_s: npt.ArrayLike = LONGEST_SUB_S
) -> Any:
    """Sub length to take: one that a person would set, as good as the best.

    Parameters
    ----------
    asked : Asked
    best : Best
        Of the same.
    shortest_s : array_like, optional
        Shortest sub that read noise allows by itself: honoured where that costs no more than 2 % of hours. [s]
    longest_s : array_like, optional
        As in :func:`expocalc.budget.sub_length.best_of`. [s]

    Returns
    -------
    sub_s : ndarray
        A usual length where there is one that is good enough, else the best itself. [s]

    Notes
    -----
    Of lengths that are equally good, fewer and longer subs take less of the disk and of the computer. Where longer subs
    lose something, the longest usual length is taken that costs no more than half a per cent of hours. Where they lose
    nothing any length is as good as a longer one: it is the shortest usual one from a minute on.
    """
    usual_s, usual = asked.usual
    longest_s = np.asarray(longest_s, dtype=float)
    allowed, wish_s = usual_s <= longest_s, np.where(shortest_s <= best.high_s, shortest_s, 0.0)
    exact = np.minimum(np.maximum(best.best_s, wish_s), longest_s)
    good = allowed & (usual >= _ALMOST * WITHIN * best.worth)
    unnoticed_s = _last(good & (usual >= _UNNOTICED * best.worth), best.best_s)
    leaning_s = np.where(unnoticed_s >= wish_s, unnoticed_s, _first(good & (usual_s >= wish_s), exact))
    if not np.count_nonzero(best.free):
        return leaning_s
    inside = allowed & (best.low_s <= usual_s) & (best.high_s >= usual_s)
    first_s = _first(inside & (usual_s >= np.maximum(wish_s, _FEW_FILES_S)), _last(inside, exact))
    return np.where(best.free, first_s, leaning_s)


def _first(allowed: Any, otherwise: Any) -> Any:
    """The shortest usual length that is allowed. [s]"""
    at = allowed.argmax(axis=0)
    return np.where(taken(at, allowed)[0], USUAL_S[at], otherwise)


def _last(allowed: Any, otherwise: Any) -> Any:
    """The longest usual length that is allowed. [s]"""
    at = len(allowed) - 1 - allowed[::-1].argmax(axis=0)
    return np.where(taken(at, allowed)[0], USUAL_S[at], otherwise)


def in_whole_subs(
    sub_s: Any,
    clock_h: Any,
    best: Best,
    *,
    pace: Pace,
    longest_s: Any,
    hours: Callable[[Floats], Floats],
    short: Callable[[Floats, Floats], Floats],
    bent: Any = False,
) -> tuple[Any, Any]:
    """Where so few subs will do that rounding up to whole ones counts: a length at which a whole number just does.

    Parameters
    ----------
    sub_s, clock_h : ndarray
        Length that is advised, and the hours on the clock with it in whole subs; NaN where there are none. [s, h]
    best : Best
    pace : Pace
    longest_s : ndarray
    hours : callable
        Hours on the clock of lengths along the first axis, parts of a sub counted, even of a single one. [h]
    short : callable
        How many times the squared SNR of so many kept subs of such lengths the goal's is.
    bent : array_like of bool, optional
        Whether the hours have bends that the best may have missed, as those of a median.

    Returns
    -------
    sub_s : ndarray
        The same where that costs no more than 3 % over any other length; else the nearest length that does not, a usual
        one where there is one. [s]
    changed : ndarray of bool
    """
    shot = clock_h * 3600 / (sub_s + pace.dead_s)
    kept = shot * kept_share(sub_s, pace.lost_per_hour, pace.lost_at_dither)
    bent = bent | ((kept < _SINGLE) & (sub_s > SHORTEST_S))  # the length from which on one sub will do
    rounded = (bent | (clock_h > _ROUNDED / best.most)) & (kept < _MANY)
    if not np.count_nonzero(rounded):
        return sub_s, rounded
    sub_s, longest_s = np.broadcast_arrays(sub_s, longest_s, rounded)[:2]
    axes = (1,) * sub_s.ndim

    def needs(lengths: Floats) -> tuple[Any, Any]:
        """Kept subs of lengths, parts of a sub counted, and the share that survives."""
        survive = kept_share(lengths, pace.lost_per_hour, pace.lost_at_dither)
        return 3600 * hours(lengths) * survive / (lengths + pace.dead_s), survive

    with np.errstate(over="ignore"):
        counts = np.arange(1.0, min(1.3 * shot[rounded].max() + 4, _MANY)).reshape(-1, *axes)
        just_s = _just(lambda lengths: short(lengths, counts), sub_s, longest_s)
        usual_s = np.broadcast_to(USUAL_S.reshape(-1, *axes), (USUAL_S.size, *sub_s.shape))
        around_s = sub_s * _AROUND.reshape(-1, *axes)
        tried = [sub_s[None], usual_s, _settable(around_s), _settable(just_s), _settable(just_s, 4)]
        lengths = np.minimum(np.concatenate(tried), longest_s)
        needed, survive = needs(lengths)
        whole_h = whole(whole(needed / _NEARLY) / survive) * (lengths + pace.dead_s)
    whole_h = np.where(np.isnan(whole_h), np.inf, whole_h)
    least = whole_h.min(axis=0)
    away = np.abs(np.log(lengths / sub_s))
    away[1 + USUAL_S.size :] += _UNUSUAL
    nearest = np.where(whole_h <= _AS_GOOD * least, away, np.inf).argmin(axis=0)
    changed = rounded & (whole_h[0] > _ROUNDED * least)
    return np.where(changed, np.take_along_axis(lengths, nearest[None], axis=0)[0], sub_s), changed


def _just(times: Callable[[Floats], Floats], sub_s: Floats, longest_s: Floats) -> Floats:
    """Lengths at which whole numbers of subs just do, from how many times too weak they are with a length. [s]

    Secants in logarithms: a squared SNR grows about with the length or its square.
    """
    x, low, high = np.log(sub_s), np.log(np.minimum(SHORTEST_S, longest_s)), np.log(longest_s)
    y = np.log(times(sub_s[None]))
    falls: Any = -1.5
    for _ in range(_SECANTS):
        next_x = np.minimum(np.maximum(x - y / falls, low), high)
        next_y = np.log(times(np.exp(next_x)))
        falls = np.clip(np.where(next_x == x, -1.5, (next_y - y) / (next_x - x)), -4.0, -0.7)
        x, y = next_x, next_y
    return np.asarray(np.exp(np.minimum(x - y / falls, high)))


def _settable(sub_s: Floats, digits: int = 3) -> Floats:
    """Lengths of so many digits, none shorter than it was. [s]"""
    step = 10.0 ** (np.floor(np.log10(sub_s)) + 1 - digits)
    return np.asarray(np.ceil(sub_s / step * _ALMOST) * step)
