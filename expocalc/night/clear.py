"""How many nights it takes when clouds decide which of them count."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats

__all__ = ["Count", "nights_until"]

_DRAWS = 4000
_SEED = 20_261


@dataclass(frozen=True)
class Count:
    """Nights on the calendar until a goal is met: one time in ten, as often as not, nine times in ten; None beyond."""

    p10: int | None
    p50: int | None
    p90: int | None


def nights_until(worth: Floats, need: float, clear_share: float | None) -> Count:
    """Nights on the calendar, the clear ones of them drawn at random.

    Parameters
    ----------
    worth : ndarray
        What each night brings if it is clear, shape (nights,).
    need : float
        What is needed, in the same unit.
    clear_share : float or None
        Share of the nights that are clear, each by chance and by itself; None where all are taken as clear.

    Notes
    -----
    Weather comes in spells, so that the true range is somewhat wider.

    Examples
    --------
    Four nights' worth where one night in two is clear:

    >>> nights_until(np.ones(60), 4.0, 0.5)
    Count(p10=5, p50=7, p90=12)
    """
    if not math.isfinite(need):
        return Count(None, None, None)
    share = 1.0 if clear_share is None else clear_share
    clear = np.random.default_rng(_SEED).random((1 if share == 1 else _DRAWS, worth.size)) < share
    reached = np.cumsum(np.where(clear, worth, 0.0), axis=1) >= need * (1 - 1e-9)
    first = np.where(reached.any(axis=1), reached.argmax(axis=1) + 1.0, np.inf)
    p10, p50, p90 = np.quantile(first, [0.1, 0.5, 0.9], method="inverted_cdf")
    return Count(*(int(n) if math.isfinite(n) else None for n in (p10, p50, p90)))
