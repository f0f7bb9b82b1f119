r"""What dithers and hours cost, learned from how many subs were spoiled.

A sub of length t, one of m between two dithers, survives with

.. math:: p = e^{-\lambda t}\,(1 - q / m)

as the plan's routine says it; q is the loss per dither, lambda the loss per hour. Of n subs taken, k are spoiled by a
binomial law, whatever n is: that likelihood is used as it is, on a grid. The interval of each loss holds the values at
which some value of the other leaves the likelihood within a factor of 0.61 of its highest, which needs no prior and
holds the truth two times in three also where few are spoiled (its square root is 0.994 standard deviations of a normal
law, [wilks]_). The middle, and the draws that sub lengths are judged by, take Jeffreys' prior [jeffreys]_: the square
root of the determinant of Fisher's information, which depends on what was counted and not on the outcome. Sessions at
one sub length and one cadence only tell the sum of both losses: one share, with its own Jeffreys' prior Beta(1/2, 1/2).

References
----------
.. [wilks] Wilks, S. S. 1938, Ann. Math. Stat. 9, 60: how far the likelihood falls, by a chi-squared law.
.. [jeffreys] Jeffreys, H. 1946, Proc. R. Soc. A 186, 453: an invariant form for the prior probability.
.. [brown] Brown, L. D., Cai, T. T. & DasGupta, A. 2001, Stat. Sci. 16, 101: intervals for a binomial proportion, where
   Jeffreys' does well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_number, say_share, say_span
from expocalc.budget.counts import Count

__all__ = ["Interval", "Losses", "learn_losses"]

_GRID = 120
_TAILS = (0.16, 0.5, 0.84)
_FALL = NormalDist().inv_cdf((1 + _TAILS[2] - _TAILS[0]) / 2) ** 2 / 2
"""How far the logarithm of the likelihood falls at the ends of an interval [wilks]_."""
_FAR = 1e-6
_MOST_PER_HOUR = 100.0
_SAME = 1e-6


@dataclass(frozen=True)
class Interval:
    """Where a number lies: two times in three from `low` to `high`, as often as not below `middle`."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, eq=False)
class Losses:
    """What the counts tell.

    Attributes
    ----------
    per_dither : Interval or None
        Share of the subs after a dither that it spoils; None where the counts only tell the sum of both. [-]
    per_hour : Interval or None
        Spoiling events per hour of open shutter. [h-1]
    spoiled : Interval
        Share of the subs spoiled, of all sessions together. [-]
    sentence : str
        What the counts tell, and which count would tell more.
    draws : ndarray
        Pairs of loss per dither and loss per hour that the counts allow, as often as they allow them, shape (n, 2);
        empty where they only tell the sum.
    """

    per_dither: Interval | None
    per_hour: Interval | None
    spoiled: Interval
    sentence: str
    draws: Floats


def learn_losses(counts: Sequence[Count]) -> Losses:
    """Losses from sessions.

    Parameters
    ----------
    counts : sequence of Count
        One or more.

    Raises
    ------
    ValueError
        If there is none.

    Examples
    --------
    >>> one = Count(sub_length="300 s", dither_every=2, taken=120, spoiled=7)
    >>> found = learn_losses([one])
    >>> found.per_dither is None, round(found.spoiled.middle, 3)
    (True, 0.06)
    >>> other = Count(sub_length="300 s", dither_every=6, taken=120, spoiled=3)
    >>> found = learn_losses([one, other])
    >>> found.per_dither.low < 0.08 < found.per_dither.high
    True
    """
    from scipy.special import betaincinv  # heavy, and most pages ask for no losses

    if not counts:
        msg = "counts must hold one session or more, got none"
        raise ValueError(msg)
    taken, spoiled = sum(c.taken for c in counts), sum(c.spoiled for c in counts)
    share = Interval(*(float(betaincinv(spoiled + 0.5, taken - spoiled + 0.5, tail)) for tail in _TAILS))
    hours = np.array([float(c.sub_length.value) / 3600 for c in counts])
    dithers = np.array([1 / c.dither_every if c.dither_every else 0.0 for c in counts])
    apart = hours[:, None] * dithers - dithers[:, None] * hours
    if np.abs(apart).max() <= _SAME * hours.max():
        return _sum_only(counts, share, hours, dithers)
    q, per_hour, likelihood, weight = _posterior(counts, hours, dithers)
    per_dither = _interval(q, likelihood.max(axis=1), weight.sum(axis=1))
    events = _interval(per_hour, likelihood.max(axis=0), weight.sum(axis=0))
    return Losses(
        per_dither=per_dither,
        per_hour=events,
        spoiled=share,
        sentence=(
            f"A dither spoils {_range(per_dither)} of the subs after it, and {_number_range(events)} "
            "subs are lost in an hour of open shutter, two times in three."
        ),
        draws=_draws(q, per_hour, weight),
    )


def _range(interval: Interval) -> str:
    return say_span(say_share(interval.low), say_share(interval.high))


def _number_range(interval: Interval) -> str:
    return say_span(say_number(interval.low), say_number(interval.high))


def _sum_only(counts: Sequence[Count], share: Interval, hours: Floats, dithers: Floats) -> Losses:
    """One kind of session: both losses in one number, or the only loss there is."""
    if not dithers.any():
        events = Interval(*(-math.log1p(-p) / float(hours[0]) for p in (share.low, share.middle, share.high)))
        said = f"{_number_range(events)} subs are lost in an hour of open shutter, two times in three."
        return Losses(None, events, share, said + " Without dithers the counts tell nothing of them.", np.empty((0, 2)))
    one = counts[0]
    other = 6 * (one.dither_every or 1)
    return Losses(
        per_dither=None,
        per_hour=None,
        spoiled=share,
        sentence=(
            f"{_range(share)} of such subs are spoiled, two times in three; these counts tell only the sum of what "
            f"dithers and what hours spoil. Counting subs of {say_duration(float(one.sub_length.value))} with a dither "
            f"every {other} subs would tell them apart."
        ),
        draws=np.empty((0, 2)),
    )


def _posterior(counts: Sequence[Count], hours: Floats, dithers: Floats) -> tuple[Floats, ...]:
    """Grid of losses per dither and per hour; logarithm of the likelihood and probability of each cell."""
    from scipy.special import betaincinv, xlogy

    taken = np.array([c.taken for c in counts], dtype=float)
    spoiled = np.array([c.spoiled for c in counts], dtype=float)
    worst = betaincinv(spoiled + 0.5, taken - spoiled + 0.5, 1 - _FAR)
    with np.errstate(divide="ignore"):
        q_most = min(1.0, float(np.min(np.where(dithers > 0, worst / dithers, np.inf))))
        hour_most = min(_MOST_PER_HOUR, float(np.min(-np.log1p(-worst) / hours)))
    # cells are narrow near zero, where few are spoiled
    edge = np.linspace(0, 1, _GRID + 1) ** 2
    q_edges, hour_edges = q_most * edge, hour_most * edge
    q, per_hour = (q_edges[1:] + q_edges[:-1]) / 2, (hour_edges[1:] + hour_edges[:-1]) / 2
    area = np.outer(np.diff(q_edges), np.diff(hour_edges))
    free = 1 - q[:, None, None] * dithers
    survive = np.exp(-per_hour[None, :, None] * hours) * free
    likelihood = xlogy(taken - spoiled, survive) + xlogy(spoiled, 1 - survive)
    by_q, by_hour = survive * (-dithers / free), survive * -hours
    information = taken / (survive * (1 - survive))
    a, b = (information * by_q**2).sum(axis=-1), (information * by_hour**2).sum(axis=-1)
    c = (information * by_q * by_hour).sum(axis=-1)
    log = likelihood.sum(axis=-1)
    weight = np.exp(log - log.max()) * np.sqrt(np.maximum(a * b - c**2, 0.0)) * area
    return q, per_hour, log, weight / weight.sum()


def _interval(values: Floats, highest: Floats, weight: Floats) -> Interval:
    """From the highest likelihood at each value, straight lines between them, and the probability of each value."""
    above = highest - highest.max() + _FALL
    inside = np.flatnonzero(above >= 0)
    first, last = int(inside[0]), int(inside[-1])
    low = 0.0 if first == 0 else float(np.interp(0.0, above[first - 1 : first + 1], values[first - 1 : first + 1]))
    high = float(values[-1])
    if last + 1 < values.size:
        high = float(np.interp(0.0, -above[last : last + 2], values[last : last + 2]))
    middle = float(np.interp(0.5, np.cumsum(weight) - weight / 2, values))
    return Interval(low, min(max(middle, low), high), high)


_DRAWN = 200


def _draws(q: Floats, per_hour: Floats, weight: Floats) -> Floats:
    """Cells at even steps of the probability, so that the same counts give the same draws."""
    sums = np.cumsum(weight.ravel())
    at = np.minimum(np.searchsorted(sums, (np.arange(_DRAWN) + 0.5) / _DRAWN), sums.size - 1)
    return np.column_stack([q[at // per_hour.size], per_hour[at % per_hour.size]])
