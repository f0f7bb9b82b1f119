"""Which sub length to take: one that a person would set, as good as the best, and good in whole subs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.clock import Pace, kept_share
from expocalc.budget.lengths import SHORTEST_S, USUAL_S, Asked, along, taken
from expocalc.budget.parts import MOST_SUBS
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
_MORE = 1.3
"""Times the subs of the advised length, at least, up to which whole numbers are looked at."""
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
    kept: Any,
    survive: Any,
    best: Best,
    *,
    pace: Pace,
    longest_s: Any,
    just: Callable[[Floats], Floats],
    bent: Callable[[Floats], Floats] | None = None,
) -> tuple[Any, Any]:
    """Where so few subs will do that rounding up to whole ones counts: a length at which a whole number just does.

    Parameters
    ----------
    sub_s, kept, survive : ndarray
        Length that is advised, the kept subs that it takes, parts of a sub counted, and the share of all that is kept.
    best : Best
    pace : Pace
    longest_s : ndarray
    just : callable
        Lengths at which whole numbers of kept subs just do, whatever the longest. [s]
    bent : callable, optional
        Whole kept subs by length, where they do not fall evenly with it, as those of a median.

    Returns
    -------
    sub_s : ndarray
        The same where that costs no more than 3 % over any other length; else the nearest length that does not, a usual
        one where there is one. [s]
    changed : ndarray of bool
    """
    kept = np.ceil(kept * _ALMOST)
    shot = np.ceil(kept / survive * _ALMOST)
    rounded = shot * (sub_s + pace.dead_s) / 3600 * best.most > _ROUNDED
    single = (kept <= 1) & (sub_s > SHORTEST_S)  # the length from which on one sub will do
    rounded = (rounded | single | (bent is not None)) & (kept < _MANY)
    if not np.count_nonzero(rounded):
        return sub_s, rounded
    shorter = np.maximum((sub_s + pace.dead_s) / (best.low_s + pace.dead_s), _MORE)
    counts, axes = np.arange(1.0, min((shot * shorter)[rounded].max() + 4, _MANY)), (1,) * sub_s.ndim
    usual_s = np.broadcast_to(USUAL_S.reshape(-1, *axes), (USUAL_S.size, *sub_s.shape))
    with np.errstate(over="ignore"):
        just_s = np.broadcast_to(just(counts), (counts.size, *sub_s.shape))
        exact_s = np.maximum(just_s, np.minimum(SHORTEST_S, longest_s))
        set_s = np.concatenate([sub_s * _AROUND.reshape(-1, *axes), exact_s, exact_s])
        step_s = 10 ** (np.floor(np.log10(set_s)) - 2)  # three digits
        step_s[-counts.size :] /= 10
        lengths = np.concatenate([sub_s[None], usual_s, np.ceil(set_s / step_s * _ALMOST) * step_s])
        lengths = np.minimum(lengths, longest_s)
        kept = along(lengths, just_s[::-1], counts[::-1]) if bent is None else bent(lengths)
        shot = np.ceil(np.ceil(kept) / kept_share(lengths, pace.lost_per_hour, pace.lost_at_dither) * _ALMOST)
        whole_s = np.where((kept < counts.size) & (shot < MOST_SUBS), shot * (lengths + pace.dead_s), np.inf)
    least = np.minimum.reduce(whole_s)
    away = np.abs(np.log(lengths / sub_s))
    away[1 + USUAL_S.size :] += _UNUSUAL
    nearest = np.where(whole_s <= _AS_GOOD * least, away, np.inf).argmin(axis=0)
    changed = rounded & (whole_s[0] > _ROUNDED * least)
    return np.where(changed, taken(nearest, lengths)[0], sub_s), changed
