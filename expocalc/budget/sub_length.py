r"""How long a sub should be: the hours on the clock that each length takes, the best, and what is as good.

The hours are those of the stack (:mod:`expocalc.budget.stack`), with dead time and losses. With perfect calibration
they are the goal's squared SNR over the efficiency

.. math:: \frac{e^{-\lambda t}\,(1 - q)}{t + \tau} \sum_c \frac{n_c\,s_c^2\,t^2}{(s_c + b_c + d_c)\,t + R^2}

(the CCD equation of Merline & Howell 1995, Experimental Astronomy 6, 163, for many pixels; squares of SNR add).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.reach import MOST_SUBS
from expocalc.budget.routine import LONGEST_SUB_S, kept_share
from expocalc.budget.stack import Habits, Patch, parts_of

__all__ = [
    "Best",
    "Pace",
    "advised_sub",
    "asked_lengths",
    "best_of",
    "best_sub",
    "clock_hours",
    "unbounded_hours",
    "worth_of",
]

SHORTEST_S = 1.0
"""Shorter subs are not looked at: a plan of thousands of subs an hour is no plan. [s]"""
LONGEST_S = 1e7
"""Where the search for an unbounded sub ends. [s]"""
WITHIN = 0.98
"""A sub is as good as the best when the best needs this share of its hours."""
_UNNOTICED = 0.995
"""Share of the hours that nobody would mind for fewer, longer subs."""
_ALMOST = 1 - 1e-9
_SMOOTH = 0.003
"""What a smooth top may have above the best node, as a share: more is a bend in the hours."""
_ZOOM: Floats = np.linspace(0, 1, 33)
_FEW_FILES_S = 60.0
"""Where longer subs cost nothing, shorter ones than a minute only fill the disk: common practice, no source. [s]"""
_CLOSE = 1e-7
"""Share that the hours of a sub length may be off by."""
_LEAST_WORTH = 1e-300

_MIN, _HOUR = 60, 3600
_USUAL_S: Floats = np.array(
    [*range(1, 6), 6, 8, 10, 15, *range(20, 121, 10), *range(150, 301, 30)]
    + [_MIN * m for m in (6, 7, 8, 9, 10, 12, 15, 20, 25, 30, 40, 50, 60, 75, 90)]
    + [_HOUR * h for h in (2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 18, 24)],
    dtype=float,
)
"""Lengths that a person would set: whole tens of seconds, half minutes, minutes, hours. [s]"""
_NODES: Floats = np.unique(np.concatenate([np.geomspace(SHORTEST_S, LONGEST_S, 160), _USUAL_S]))
_USUAL_AT = np.searchsorted(_NODES, _USUAL_S)


class Pace(Protocol):
    """What the clock makes of subs: numbers, or arrays that broadcast; a :class:`Routine` is one."""

    @property
    def dead_s(self) -> Any:
        """Dead time per sub. [s]"""

    @property
    def lost_per_hour(self) -> Any:
        """Spoiling events per hour. [h-1]"""

    @property
    def lost_at_dither(self) -> Any:
        """Share of all subs that dithers spoil. [-]"""


@dataclass(frozen=True, eq=False)
class Best:
    """Sub lengths within 2 % of the fewest hours, and the best itself; arrays of one shape. [s]"""

    low_s: Any
    best_s: Any
    high_s: Any
    low_worth: Any
    worth: Any
    high_worth: Any
    """One over the hours at each. [h-1]"""
    free: Any
    """Whether longer subs lose nothing: the best is then the shortest that is within 2 % of the fewest hours."""
    peaks: Any
    """Whether the best lies inside the allowed range, not at its end."""

    @property
    def hopeless(self) -> Any:
        """Whether no length reaches the goal."""
        return np.equal(self.worth, 0)


def clock_hours(patch: Patch, habits: Habits, pace: Pace, snr: npt.ArrayLike, sub_s: npt.ArrayLike) -> Any:
    """Hours on the clock until the patch has its SNR, by the length of the subs.

    Parameters
    ----------
    patch : Patch
        Its own `sub_s` is not looked at.
    habits : Habits
    pace : Pace or Routine
        Dead time and losses.
    snr : array_like
        The goal. [-]
    sub_s : array_like
        Broadcasts with the patch's arrays without their colour axis. [s]

    Returns
    -------
    hours : float or ndarray
        One sub at least, beyond that not rounded to whole ones; infinite where no hours will do. [h]

    Examples
    --------
    One pixel of 1 electron/s: SNR 60 takes 3600 electrons, an hour, and 10 s of pause after each 50 s:

    >>> from expocalc.budget.routine import Routine
    >>> light = Patch(side_px=1.0, sub_s=1.0, signal_e_s=np.ones(1), light_e_s=np.zeros(1))
    >>> round(float(clock_hours(light, Habits(), Routine(dead_time="10 s"), 60.0, 50.0)), 9)
    1.2
    """
    t = np.asarray(sub_s, dtype=float)
    kept = parts_of(replace(patch, sub_s=t), habits).subs_for(np.square(np.asarray(snr, dtype=float)), _CLOSE)
    return _on_clock(np.where(kept <= MOST_SUBS, np.maximum(kept, 1.0), np.inf), pace, t)


def unbounded_hours(patch: Patch, habits: Habits, pace: Pace, snr: npt.ArrayLike, sub_s: npt.ArrayLike) -> Any:
    """As :func:`clock_hours`, however many or few subs that is: less than one for a goal that stands for none. [h]"""
    t = np.asarray(sub_s, dtype=float)
    return _on_clock(parts_of(replace(patch, sub_s=t), habits).subs_for(np.square(snr), _CLOSE), pace, t)


def _on_clock(kept: Any, pace: Pace, t: Any) -> Any:
    share = kept_share(t, pace.lost_per_hour, pace.lost_at_dither)
    with np.errstate(divide="ignore", over="ignore"):
        return kept * (t + pace.dead_s) / 3600 / share


def asked_lengths(longest_s: npt.ArrayLike, *, beyond: bool = True) -> Floats:
    """Sub lengths at which :func:`best_of` wants the hours, along a last axis; the last of them is the longest. [s]

    Those `beyond` the longest tell whether longer subs would still gain, where they lose nothing.
    """
    end = np.minimum(np.asarray(longest_s, dtype=float), LONGEST_S)[..., None]
    nodes = _NODES if beyond else _NODES[: _NODES.searchsorted(end.max()) + 1]
    return np.concatenate([np.broadcast_to(nodes, (*end.shape[:-1], nodes.size)), end], axis=-1)


def worth_of(hours: npt.ArrayLike) -> Any:
    """One over the hours, 0 where they are infinite. [h-1]"""
    return 1 / np.maximum(hours, _LEAST_WORTH)


def _within(worth: Floats, longest_s: Any) -> tuple[Floats, Floats]:
    """Lengths up to the longest, and their worth; beyond it both stay at its own."""
    end = np.minimum(np.asarray(longest_s, dtype=float), LONGEST_S)[..., None]
    nodes = _NODES[: worth.shape[-1] - 1]
    return np.minimum(nodes, end), np.where(end <= nodes, worth[..., -1:], worth[..., :-1])


def best_of(
    worth: Floats,
    *,
    lossless: npt.ArrayLike,
    longest_s: npt.ArrayLike,
    closer: Callable[[Floats], Floats] | None = None,
) -> Best:
    """Sub length that takes the fewest hours on the clock, from the hours of many.

    Parameters
    ----------
    worth : ndarray
        One over the hours, at :func:`asked_lengths` along the last axis. [h-1]
    lossless : array_like of bool
        Whether longer subs lose nothing. The hours then fall for ever, or nearly so: the best is the shortest sub
        within 2 % of the fewest.
    longest_s : array_like
        Upper bound; broadcasts with `worth` without its last axis. [s]
    closer : callable, optional
        Worth at other lengths along the last axis: asked where the best is at a bend of the hours, such as the length
        at which one sub will do.

    Returns
    -------
    Best
    """
    t, allowed = _within(worth, longest_s)
    highest = allowed.max(axis=-1)
    top_s, top, inside, around = _top(t, allowed)
    if around is not None and closer is not None:
        near = closer(around)
        there = near.argmax(axis=-1)
        better = _pick(near, there) > top
        top_s, top = np.where(better, _pick(around, there), top_s), np.where(better, _pick(near, there), top)
    most = np.maximum(highest, top)
    endless = np.maximum(worth.max(axis=-1), most)
    free = np.logical_and(lossless, most >= WITHIN * endless)
    level = WITHIN * np.where(free, endless, top)
    reach = allowed >= np.minimum(level, highest)[..., None]
    low_s, low_worth = _crossing(t, allowed, level, reach.argmax(axis=-1), -1)
    last = t.shape[-1] - 1 - reach[..., ::-1].argmax(axis=-1)
    high_s, high_worth = _crossing(t, allowed, level, last, 1)
    high_s = np.where(free & (high_s >= LONGEST_S), longest_s, high_s)
    pointed = highest < level  # no node is as good as the top between them
    if pointed.any():
        low_s, low_worth = np.where(pointed, top_s, low_s), np.where(pointed, top, low_worth)
        high_s, high_worth = np.where(pointed, top_s, high_s), np.where(pointed, top, high_worth)
    best_s = np.where(free, low_s, top_s)
    return Best(
        low_s=np.minimum(low_s, best_s),
        best_s=best_s,
        high_s=np.maximum(high_s, best_s),
        low_worth=low_worth,
        worth=np.where(free, low_worth, top),
        high_worth=high_worth,
        free=free,
        peaks=~free & inside,
    )


def _pick(values: Floats, at: Any) -> Any:
    """Entry `at` along the last axis."""
    if values.shape[:-1] != at.shape:
        return np.take_along_axis(values, at[..., None], axis=-1)[..., 0]
    return values.take(at + np.arange(0, values.size, values.shape[-1]).reshape(at.shape))  # several times faster


def _top(t: Floats, worth: Floats) -> tuple[Any, Any, Any, Any]:
    """Length and worth of the top, whether it lies inside, and the lengths around it where it is no smooth one.

    A smooth top lies on a parabola in logarithms through the best node and its neighbours.
    """
    at = worth.argmax(axis=-1)
    here, best = _pick(t, at), _pick(worth, at)
    inside = (at > 0) & (here < t[..., -1])
    if not inside.any():
        return here, best, inside, None
    before, after = np.maximum(at - 1, 0), np.minimum(at + 1, t.shape[-1] - 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        u0, u1, u2 = np.log([_pick(t, before), here, _pick(t, after)])
        y0, y1, y2 = np.log([_pick(worth, before), best, _pick(worth, after)])
        rise, fall = (y1 - y0) / (u1 - u0), (y2 - y1) / (u2 - u1)
        bend = (fall - rise) / (u2 - u0)
        top = np.minimum(np.maximum((u0 + u1) / 2 - rise / (2 * bend), u0), u2)
        more = y0 + rise * (top - u0) + bend * (top - u0) * (top - u1) - y1
        smooth = inside & (bend < 0) & (more < _SMOOTH)
        kinked = inside & ~smooth
        top_s, top_worth = np.where(smooth, np.exp(top), here), np.where(smooth, best * np.exp(more), best)
        if not kinked.any():
            return top_s, top_worth, inside, None
        around = np.where(kinked[..., None], np.exp(u0[..., None] + (u2 - u0)[..., None] * _ZOOM), here[..., None])
    return top_s, top_worth, inside, around


def _crossing(t: Floats, worth: Floats, level: Any, at: Any, step: int) -> tuple[Any, Any]:
    """Where the worth falls to `level` beyond node `at`, by a straight line in log length, and the worth there."""
    beyond = np.minimum(np.maximum(at + step, 0), t.shape[-1] - 1)
    a, b, inner, outer = _pick(worth, at), _pick(worth, beyond), _pick(t, at), _pick(t, beyond)
    share = np.minimum(np.maximum((a - level) / np.where((a > b) & (b > 0), a - b, np.inf), 0.0), 1.0)
    return inner * (outer / inner) ** share, a - share * (a - b)


def advised_sub(
    worth: Floats, best: Best, *, shortest_s: npt.ArrayLike = 0.0, longest_s: npt.ArrayLike = LONGEST_SUB_S
) -> Any:
    """Sub length to take: one that a person would set, as good as the best.

    Parameters
    ----------
    worth : ndarray
        As in :func:`best_of`.
    best : Best
        Of that worth.
    shortest_s : array_like, optional
        Shortest sub that read noise allows by itself: honoured where that costs no more than 2 % of hours. [s]
    longest_s : array_like, optional
        As in :func:`best_of`. [s]

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
    _, allowed = _within(worth, longest_s)
    count = _USUAL_AT.searchsorted(allowed.shape[-1])
    usual_s, usual, longest_s = _USUAL_S[:count], allowed[..., _USUAL_AT[:count]], np.asarray(longest_s, dtype=float)
    fits = usual_s <= longest_s[..., None]
    inside = (best.low_s[..., None] <= usual_s) & (best.high_s[..., None] >= usual_s)
    good = fits & np.where(best.free[..., None], inside, usual >= (_ALMOST * WITHIN * best.worth)[..., None])
    wish_s = np.where(shortest_s <= best.high_s, shortest_s, 0.0)
    exact = np.minimum(np.maximum(best.best_s, wish_s), longest_s)
    first = good & (usual_s >= np.where(best.free, np.maximum(wish_s, _FEW_FILES_S), wish_s)[..., None])
    first_s = np.where(first.any(axis=-1), _USUAL_S[first.argmax(axis=-1)], np.nan)
    unnoticed_s = _last(good & (usual >= (_UNNOTICED * best.worth)[..., None]), best.best_s)
    leaning_s = np.where(unnoticed_s >= wish_s, unnoticed_s, np.where(np.isnan(first_s), exact, first_s))
    return np.where(best.free, np.where(np.isnan(first_s), _last(good, exact), first_s), leaning_s)


def _last(allowed: Any, otherwise: Any) -> Any:
    """The longest usual length that is allowed. [s]"""
    at = allowed.shape[-1] - 1 - allowed[..., ::-1].argmax(axis=-1)
    return np.where(allowed.any(axis=-1), _USUAL_S[at], otherwise)


def best_sub(hours: Callable[[Floats], Floats], *, lossless: bool, longest_s: float = np.inf) -> Best:
    """Sub length that takes the fewest hours on the clock.

    Parameters
    ----------
    hours : callable
        Hours by sub length [s], for arrays.
    lossless, longest_s : bool, float
        As in :func:`best_of`.

    Returns
    -------
    Best
    """

    def worth(sub_s: Floats) -> Floats:
        return np.asarray(worth_of(hours(sub_s)))

    return best_of(worth(asked_lengths(longest_s)), lossless=lossless, longest_s=longest_s, closer=worth)
