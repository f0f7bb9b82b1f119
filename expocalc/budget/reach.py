"""What it takes to reach an SNR: so many subs, or so much more signal."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.budget.patch import Habits, Patch
from expocalc.budget.stack import parts_of, stack_snr2

__all__ = ["signal_for_snr", "subs_for_snr"]

_HALVINGS = 60
_MOST_TIMES = 1e15


def subs_for_snr(patch: Patch, habits: Habits, snr: npt.ArrayLike) -> Any:
    """Kept subs that bring the patch to an SNR.

    Parameters
    ----------
    patch : Patch
    habits : Habits
    snr : array_like
        The goal, above 0; broadcasts with the patch's arrays without their colour axis. [-]

    Returns
    -------
    subs : float or ndarray
        Smallest N as a real number, to be rounded up for a plan; infinite where the goal lies beyond the ceiling or
        there is no signal.

    Examples
    --------
    >>> light = Patch(side_px=4.0, sub_s=100.0, signal_e_s=np.array([4.0]), light_e_s=np.array([0.0]))
    >>> [round(float(n), 6) for n in subs_for_snr(light, Habits(), np.array([400.0, 40.0]))]
    [25.0, 0.25]
    >>> float(subs_for_snr(light, Habits(flatness=0.01), 101.0))
    inf
    """
    return parts_of(patch, habits).subs_for(np.square(np.asarray(snr, dtype=float)))


def signal_for_snr(patch: Patch, habits: Habits, subs: npt.ArrayLike, snr: npt.ArrayLike) -> Any:
    """Depth: how many times the patch's signal reaches an SNR in N subs, its own photon noise counted.

    Parameters
    ----------
    patch : Patch
        Its signal gives the ratio between the colours.
    habits : Habits
    subs : array_like
        Kept subs N, above 0.
    snr : array_like
        The goal, above 0. [-]

    Returns
    -------
    times : float or ndarray
        Times the signal of `patch`; infinite where no signal reaches the goal (or 10^15 times does not). [-]

    Examples
    --------
    >>> light = Patch(side_px=4.0, sub_s=100.0, signal_e_s=np.array([4.0]), light_e_s=np.array([0.0]))
    >>> round(float(signal_for_snr(light, Habits(), 25, 200.0)), 6)
    0.25
    """
    goal2, subs = np.broadcast_arrays(np.square(np.asarray(snr, dtype=float)), subs)

    def reaches(log_times: Any) -> Any:
        brighter = replace(patch, signal_e_s=np.exp(log_times)[..., None] * patch.signal_e_s)
        return stack_snr2(brighter, habits, subs) >= goal2

    shape = np.broadcast_shapes(goal2.shape, stack_snr2(patch, habits, subs).shape)
    top = math.log(_MOST_TIMES)
    high, width = np.full(shape, top), 2 * top
    for _ in range(_HALVINGS):
        width /= 2
        high = np.where(reaches(high - width), high - width, high)
    return np.where(reaches(high), np.exp(high), np.inf)
