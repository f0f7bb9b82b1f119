"""How many nights it takes when clouds decide which of them count."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

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


def nights_until(worth: Floats, need: npt.ArrayLike, clear_share: float | None) -> Count:
    """Nights on the calendar, the clear ones of them drawn at random.

    Parameters
    ----------
    worth : ndarray
        What each night brings if it is clear, shape (nights,).
    need : array_like
        What is needed, in the same unit: a number, or draws of one that is not exactly known, shape (draws,).
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

    The same where as many as that, or twice as many, are needed:

    >>> nights_until(np.ones(60), [4.0, 8.0], 0.5)
    Count(p10=5, p50=11, p90=19)
    """
    needs = np.atleast_1d(np.asarray(need, dtype=float))
    if not np.isfinite(needs).any():
        return Count(None, None, None)
    share = 1.0 if clear_share is None else clear_share
    skies = 1 if share == 1 else _DRAWS
    clear = np.random.default_rng(_SEED).random((skies, worth.size)) < share
    had = np.cumsum(np.where(clear, worth, 0.0), axis=1)
    reached = had >= np.resize(needs, max(skies, needs.size))[:, None] * (1 - 1e-9)
    first = np.where(reached.any(axis=1), reached.argmax(axis=1) + 1.0, np.inf)
    p10, p50, p90 = np.quantile(first, [0.1, 0.5, 0.9], method="inverted_cdf")
    return Count(*(int(n) if math.isfinite(n) else None for n in (p10, p50, p90)))
