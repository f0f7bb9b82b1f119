"""What pauses and losses make of subs: the share that is kept, and the time on the clock."""

from __future__ import annotations

import math
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

__all__ = ["Pace", "clock_s", "kept_share"]


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


def kept_share(sub_s: npt.ArrayLike, lost_per_hour: float, lost_at_dither: npt.ArrayLike) -> Any:
    """Share of the subs that survive.

    Parameters
    ----------
    sub_s : array_like
        Length of the sub. [s]
    lost_per_hour : float
        Spoiling events per hour of open shutter. [h-1]
    lost_at_dither : array_like
        Share of all subs that dithers spoil. [-]

    Returns
    -------
    share : float or ndarray
        Broadcast shape. [-]

    Notes
    -----
    Spoiling events come at random (Poisson); a sub survives if none falls into it.

    Examples
    --------
    >>> round(float(kept_share(1800.0, 0.2, 0.0)), 4)
    0.9048
    """
    return np.exp(np.multiply(-lost_per_hour / 3600, sub_s)) * (1 - np.asarray(lost_at_dither))


def clock_s(shot: float, sub_s: float, pace: Pace) -> float:
    """Time on the clock for `shot` subs. [s]

    Examples
    --------
    >>> from expocalc.budget.routine import Routine
    >>> clock_s(10, 60.0, Routine(dead_time="2 s", dither_every=5, dither_time="20 s"))
    660.0
    """
    return shot * (sub_s + pace.dead_s) if math.isfinite(shot) else math.inf
