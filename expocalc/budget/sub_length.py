r"""How long a sub should be: the hours on the clock that each length takes, the best, and what is as good.

The hours are those of the stack (:mod:`expocalc.budget.stack`), with dead time and losses. With perfect calibration
they are the goal's squared SNR over the efficiency

.. math:: \frac{e^{-\lambda t}\,(1 - q)}{t + \tau} \sum_c \frac{n_c\,s_c^2\,t^2}{(s_c + b_c + d_c)\,t + R^2}

(the CCD equation of Merline & Howell 1995, Experimental Astronomy 6, 163, for many pixels; squares of SNR add).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.clock import Pace, kept_share
from expocalc.budget.lengths import LONGEST_S, Asked, taken
from expocalc.budget.parts import MOST_SUBS
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.stack import still_of

__all__ = ["Best", "best_of", "clock_hours", "unbounded_hours", "worth_of"]

WITHIN = 0.98
"""A sub is as good as the best when the best needs this share of its hours."""
_SMOOTH = 0.003
"""What a smooth top may have above the best node, as a share: more is a bend in the hours."""
_STEPS = np.array([[1, -1], [0, 0], [-1, 1]])
_ZOOM: Floats = np.linspace(0, 1, 33)


class Best(NamedTuple):
    """Sub lengths within 2 % of the fewest hours, and the best itself; arrays of one shape. [s]"""

    low_s: Any
    best_s: Any
    high_s: Any
    low_worth: Any
    worth: Any
    high_worth: Any
    """One over the hours at each. [h-1]"""
    most: Any
    """One over the fewest hours of all lengths that are allowed. [h-1]"""
    free: Any
    """Whether longer subs lose nothing: the best is then the shortest that is within 2 % of the fewest hours."""
    peaks: Any
    """Whether the best lies inside the allowed range, not at its end."""


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
    return _of_patch(patch, habits, pace, snr, sub_s)


def unbounded_hours(patch: Patch, habits: Habits, pace: Pace, snr: npt.ArrayLike, sub_s: npt.ArrayLike) -> Any:
    """As :func:`clock_hours`, however many or few subs that is: less than one for a goal that stands for none. [h]"""
    return _of_patch(patch, habits, pace, snr, sub_s, fewest=0.0, most=np.inf)


def _of_patch(patch: Patch, habits: Habits, pace: Pace, snr: Any, sub_s: Any, **ends: float) -> Any:
    t = np.asarray(sub_s, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return 1 / worth_of(still_of(patch, habits).at(t).subs_for(np.square(snr)), pace, t, **ends)


def worth_of(kept: Any, pace: Pace, sub_s: Any, *, fewest: float = 1.0, most: float = MOST_SUBS) -> Any:
    """One over the hours on the clock of kept subs, `fewest` at least; 0 where there are more than `most`. [h-1]"""
    kept = np.maximum(kept, fewest)
    share = kept_share(sub_s, pace.lost_per_hour, pace.lost_at_dither)
    return np.where(kept <= most, 3600 * share / (sub_s + pace.dead_s) / kept, 0.0)


def best_of(
    asked: Asked,
    *,
    lossless: npt.ArrayLike,
    longest_s: npt.ArrayLike,
    closer: Callable[[Floats], Floats],
) -> Best:
    """Sub length that takes the fewest hours on the clock, from the hours of many.

    Parameters
    ----------
    asked : Asked
    lossless : array_like of bool
        Whether longer subs lose nothing. The hours then fall for ever, or nearly so: the best is the shortest sub
        within 2 % of the fewest.
    longest_s : array_like
        Upper bound; broadcasts with the worth without its first axis. [s]
    closer : callable
        Worth at other lengths along the first axis: asked where the best is at a bend of the hours, such as the length
        at which one sub will do.

    Returns
    -------
    Best
    """
    t, allowed = asked.sub_s, asked.worth
    top_s, top, inside, around = _top(asked)
    if around is not None:
        near = closer(around)
        near_s, highest = taken(near.argmax(axis=0), around, near)
        top_s, top = np.where(highest > top, near_s, top_s), np.maximum(highest, top)
    most = np.maximum(asked.most, top)
    free, level = np.asarray(lossless), WITHIN * top
    if np.count_nonzero(free):
        endless = np.maximum(asked.endless, most)
        free = free & (most >= WITHIN * endless)
        level = WITHIN * np.where(free, endless, top)
    reach = allowed >= np.minimum(level, asked.most)
    ends = np.array([reach.argmax(axis=0), len(t) - 1 - reach[::-1].argmax(axis=0)])
    (low_s, high_s), (low_worth, high_worth) = _crossings(t, allowed, level, ends)
    pointed = asked.most < level  # no node is as good as the top between them
    if np.count_nonzero(pointed):
        low_s, low_worth = np.where(pointed, top_s, low_s), np.where(pointed, top, low_worth)
        high_s, high_worth = np.where(pointed, top_s, high_s), np.where(pointed, top, high_worth)
    if np.count_nonzero(free):
        high_s = np.where(free & (high_s >= LONGEST_S), longest_s, high_s)
        top_s, top = np.where(free, low_s, top_s), np.where(free, low_worth, top)
    return Best(
        low_s=np.minimum(low_s, top_s),
        best_s=top_s,
        high_s=np.maximum(high_s, top_s),
        low_worth=low_worth,
        worth=top,
        high_worth=high_worth,
        most=most,
        free=free,
        peaks=~free & inside,
    )


def _top(asked: Asked) -> tuple[Any, Any, Any, Any]:
    """Length and worth of the top, whether it lies inside, and the lengths around it where it is no smooth one.

    A smooth top lies on a parabola in logarithms through the best node and its neighbours; where the best is the first
    or the last, through the three at that end.
    """
    at = asked.worth.argmax(axis=0)
    here, best = taken(at, asked.sub_s, asked.worth)
    ends = here >= asked.sub_s[-1]
    inside = (at > 0) & ~ends
    if len(asked.worth) < 3 or (not np.count_nonzero(inside) and _rises(asked)):
        return here, best, inside, None
    at = np.maximum(at - ends, 1)
    places = np.array([at - 1, at, np.minimum(at + 1, len(asked.worth) - 1)])
    (u0, u1, u2), (y0, y1, y2) = map(np.log, taken(places, asked.sub_s, asked.worth))
    rise, fall = (y1 - y0) / (u1 - u0), (y2 - y1) / (u2 - u1)
    bend = (fall - rise) / (u2 - u0)
    top = np.minimum(np.maximum((u0 + u1) / 2 - rise / (2 * bend), u0), u2)
    more = y0 + rise * (top - u0) + bend * (top - u0) * (top - u1) - np.log(best)
    smooth = (top > u0) & (top < u2) & (bend < 0) & (more < _SMOOTH)
    kinked, around = inside & ~smooth, None
    if np.count_nonzero(kinked):
        around = np.where(kinked, np.exp(u0 + (u2 - u0) * _ZOOM.reshape(-1, *(1,) * np.ndim(at))), here)
    return np.where(smooth, np.exp(top), here), np.where(smooth, best * np.exp(more), best), inside | smooth, around


def _rises(asked: Asked) -> bool:
    """Whether the worth still rises at the longest for all, by the last three nodes; of many it may not be known."""
    before, last = (asked.worth[-2:] - asked.worth[-3:-1]) / (asked.sub_s[-2:] - asked.sub_s[-3:-1])
    return bool(np.count_nonzero(2 * last > before) == last.size)


def _crossings(t: Floats, worth: Floats, level: Any, ends: Any) -> tuple[Any, Any]:
    """Where the worth falls to `level` beyond two nodes, and the worth there.

    By a step of Newton from a straight line to the parabola in log length, where that falls from node to node.
    """
    places = np.minimum(np.maximum(ends + _STEPS.reshape(3, 2, *(1,) * (ends.ndim - 1)), 0), len(t) - 1)
    lengths, (before, inner, outer) = taken(places, t, worth)
    u0, u1, u2 = np.log(lengths)
    wide, drop = u2 - u1, inner - outer
    bend = wide / (u2 - u0) * (wide / (u1 - u0) * (inner - before) + drop)
    bend = np.where(2 * np.abs(bend) < drop, bend, 0.0)
    share = (inner - level) / drop
    share = share + bend * share * (1 - share) / (drop - bend * (1 - 2 * share))
    falls = (drop > 0) & (outer > 0)
    return lengths[1] * np.exp(wide * np.where(falls, share, 0.0)), np.where(falls, level, inner)
