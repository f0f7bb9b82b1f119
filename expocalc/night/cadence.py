"""How long the subs and how often the dither, by the hours on the clock, when losses were learned from counts.

Longer subs and rarer dithers lose less time; they lose more subs to chance, and leave more of the pattern that darks
and flats print into every sub (:func:`expocalc.budget.dither.dither_share`). The best lies between, and as the losses
are known to a range only, so is it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.budget.clock import kept_share
from expocalc.budget.mount import longest_held_s
from expocalc.budget.reach import subs_for_snr
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.night.losses import Losses
from expocalc.night.moments import ZENITH, rates_over
from expocalc.night.worth import Reference

__all__ = ["CADENCES", "Cadence", "best_cadence"]

CADENCES = (1, 2, 3, 4, 6, 8, 12, 20)
"""Subs between two dithers that are looked at."""
_LENGTHS = np.geomspace(10.0, 1800.0, 60)


@dataclass(frozen=True, eq=False)
class Cadence:
    """Hours on the clock by sub length and cadence.

    Attributes
    ----------
    sub_s : ndarray
        Lengths looked at. [s]
    hours : ndarray
        To the goal at the reference, with the middle of the losses; shape (cadences, lengths). [h]
    low_s, best_s, high_s : float
        Best sub length, two times in three between low and high. [s]
    low_every, best_every, high_every : int
        Best cadence, likewise.
    """

    sub_s: Floats
    hours: Floats
    low_s: float
    best_s: float
    high_s: float
    low_every: int
    best_every: int
    high_every: int


def best_cadence(case: Case, reference: Reference, losses: Losses) -> Cadence:
    """Best sub length and cadence in one filter.

    Parameters
    ----------
    case : Case
    reference : Reference
        A filter that passes a light.
    losses : Losses
        Where they only tell the sum, the plan's own two losses are used.

    Raises
    ------
    ValueError
        If the filter passes none of the target's light.
    """
    if reference.light is None:
        msg = f"{reference.name} passes none of the target's light"
        raise ValueError(msg)
    routine, longest_s = case.routine, longest_held_s(case)
    sub_s = np.append(_LENGTHS[_LENGTHS < longest_s], longest_s) if longest_s < _LENGTHS[-1] else _LENGTHS
    rate = rates_over(case, reference.filter_, ZENITH)
    patch = replace(patch_of(case, rate, reference.light, 1.0), sub_s=sub_s)
    kept = np.empty((len(CADENCES), sub_s.size))
    for at, cadence in enumerate(CADENCES):
        habits = replace(habits_of(case, rate.scale_arcsec), dither_every=cadence)
        kept[at] = subs_for_snr(patch, habits, case.goal_of(reference.light))
    every = np.array(CADENCES, dtype=float)[:, None]
    clock = kept * (sub_s + float(routine.dead_time.value) + float(routine.dither_time.value) / every) / 3600

    def hours(per_dither: float, per_hour: float) -> Floats:
        return clock / kept_share(sub_s, per_hour, per_dither / every)

    draws = losses.draws if len(losses.draws) else np.array([[routine.lost_per_dither, routine.lost_per_hour]])
    best = [np.unravel_index(int(np.argmin(hours(*draw))), clock.shape) for draw in draws]
    rows, columns = np.array(best).T
    middle = hours(*np.median(draws, axis=0))
    row, column = (int(at) for at in np.unravel_index(int(np.argmin(middle)), clock.shape))
    low_s, high_s = np.quantile(sub_s[columns], [0.16, 0.84], method="nearest")
    low, high = np.quantile(np.array(CADENCES)[rows], [0.16, 0.84], method="nearest")
    return Cadence(sub_s, middle, float(low_s), float(sub_s[column]), float(high_s), int(low), CADENCES[row], int(high))
