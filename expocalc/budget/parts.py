"""The variance of a stack by the number of its subs: what is new in each sub, and what all have in common."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np

from expocalc.base.frozen import Frozen
from expocalc.budget.estimator import Estimator

__all__ = ["MOST_SUBS", "Parts", "over_colours", "whole"]

MOST_SUBS = 1e9
"""More subs than that are no plan: there is no answer then."""
_ROUNDS, _SECANTS, _STEPS = 2, 5, 100
_NEAR, _CLOSE = 1e-6, 1e-9
"""Share of 1/SNR^2 from which one more secant is close enough, and that a search by false position leaves open."""
_BESIDE = np.arange(-6.0, 2.0)
"""Whole numbers of subs around the one that a search found."""
_LARGE = 1e200
"""Stands for an infinite stacking factor, where infinity times nothing would be no number."""


class Parts(Frozen):
    """What of a stack does not depend on the number of subs; arrays end with the colour axis, `uneven2` has none.

    Attributes
    ----------
    worth : ndarray
        n s^2 t^2. [electron2]
    random_e2 : ndarray
        Variance of one sub that the stacking factor multiplies, background estimate counted; above 0. [electron2]
    common_e2 : ndarray
        Variance that all subs share at one detector pixel, background estimate counted. [electron2]
    signal_e, variance_e2, read_e2 : ndarray
        Of one sub, for the estimator. [electron, electron2]
    every : array_like
        Subs between two dithers.
    moved : array_like
        Share of the common variance that a dither makes new; 0 where there is no dither. [-]
    uneven2 : float or ndarray
        One over the squared SNR that the flatness of the background allows. [-]
    estimator : Estimator
    """

    worth: Any
    random_e2: Any
    common_e2: Any
    signal_e: Any
    variance_e2: Any
    read_e2: Any
    every: Any
    moved: Any
    uneven2: Any
    estimator: Estimator

    def factor(self, subs: Any) -> Any:
        """Stacking factor; `subs` with a colour axis."""
        factor = self.estimator.factor(subs, self.variance_e2, self.read_e2, self.signal_e)
        return np.minimum(factor, _LARGE) if self.estimator.stacking == "median" else factor

    def noise_e2(self, subs: Any) -> tuple[Any, Any]:
        """Variance of the mean of N subs by what is new in each and by what all have; `subs` with a colour axis."""
        return self._noise_e2(subs, 1 / subs)

    def _noise_e2(self, subs: Any, per_sub: Any) -> tuple[Any, Any]:
        new = self.factor(subs) * per_sub
        moved = np.maximum(1 - self.every * per_sub, 0.0) * self.moved
        return new * self.random_e2, (1 - moved + (new - per_sub) * moved) * self.common_e2

    def colour_snr2(self, subs: Any) -> Any:
        """Squared SNR of N subs in each colour, without the floor; `subs` with a colour axis."""
        new, common = self.noise_e2(subs)
        return self.worth / (new + common)

    def snr2(self, subs: Any) -> Any:
        """Squared SNR of N subs; `subs` with a colour axis."""
        return self.with_floor(over_colours(np.add, self.colour_snr2(subs)))

    def endless_snr2(self) -> Any:
        """Squared SNR of endless subs."""
        return self.with_floor(1 / self._endless)

    @cached_property
    def _endless(self) -> Any:
        """1/SNR^2 of endless subs, without the floor; infinite where there is no light, which divides by nothing."""
        noise = (1 - self.moved) * self.common_e2
        if self.estimator.stacking == "median":
            growth = np.minimum(self.estimator.growth(self.variance_e2, self.read_e2), _LARGE)
            noise = noise + growth * (self.random_e2 + self.moved * self.common_e2)
        return _of_all(np.where(self.worth > 0, noise / self.worth, np.inf))

    def with_floor(self, snr2: Any) -> Any:
        """Squared SNR, capped by the flatness of the background."""
        if not np.count_nonzero(self.uneven2):
            return snr2
        return 1 / (1 / np.asarray(snr2) + self.uneven2)

    def subs_for(self, goal2: Any, near: Any = None) -> Any:
        """Subs for a squared SNR, a number or array without colour axis; infinite beyond what can be reached.

        The search is shorter where it is known about how many they are.

        But for the stacking factor, 1/SNR^2 of one colour is two straight lines over 1/N, that of several nearly so:
        some secants in 1/N mostly find it. Where they do not, false position does, with the Illinois rule that halves
        the value of an end that stays (Dowell & Jarratt 1971, BIT 11, 168).
        """
        with np.errstate(divide="ignore", invalid="ignore", over="ignore", under="ignore"):
            wanted = 1 / np.asarray(goal2) - self.uneven2
            if self.estimator.stacking == "mean" and not np.count_nonzero(self.common_e2):
                per_sub = wanted / _of_all(self.random_e2 / self.worth)
            else:
                per_sub = self._search(wanted, near)
            return np.where(per_sub > 0, 1 / per_sub, np.inf)

    def whole_subs_for(self, goal2: Any, near: Any = None) -> Any:
        """Whole subs for a squared SNR, NaN where there are too many.

        The median of an odd number can be worse than that of one sub less, where noise is few steps of the converter:
        the search then finds any of some numbers around which the goal is crossed, and fewer may do.
        """
        kept = whole(self.subs_for(goal2, near))
        if self.estimator.stacking == "median":
            tried = np.maximum(kept + _BESIDE.reshape(-1, *(1,) * kept.ndim), 1.0)
            enough = self.snr2(tried[..., None]) >= goal2 * (1 - 1e-8)
            kept = np.where(enough, tried, kept + 1).min(axis=0)
        return kept

    def _search(self, wanted: Any, near: Any) -> Any:
        """1/N from that of endless subs, and of what lies on the line of a mean from there; NaN out of reach."""
        room, open_ = wanted - self._endless, _NEAR * wanted
        reached = room > 0
        dithers = self.moved * self.common_e2
        by_factor, others = (self.random_e2 + dithers) / self.worth, (self.every - 1) * dithers / self.worth
        before, at_before = 0.0, -room
        per_sub = room / _of_all(by_factor + others)
        if self.estimator.stacking == "clipped mean":  # its factor hardly changes
            for _ in range(_ROUNDS if near is None else 0):
                per_sub = room / _of_all(self.factor(1 / per_sub[..., None]) * by_factor + others)
            if near is not None:
                per_sub = np.where(np.isfinite(near), 1 / near, per_sub)
        for _ in range(_SECANTS):
            excess = self._excess(per_sub, wanted)
            rise = excess - at_before
            step = excess * (per_sub - before) / (rise + (rise == 0))
            before, at_before, per_sub = per_sub, excess, per_sub - step
            if not np.count_nonzero(reached & (np.abs(excess) > open_)):  # the last step came many times closer
                return np.where(reached, per_sub, np.nan)
        most = 1.5 * wanted / _of_all(self.random_e2 / self.worth)  # no factor is below 2/3
        return np.where(reached, self._false_position(-room, wanted, most), np.nan)

    def _false_position(self, at_low: Any, wanted: Any, high: Any) -> Any:
        """1/N between that of endless subs and `high`."""
        low: Any = 0.0
        at_high, reached = self._excess(high, wanted), at_low < 0
        before: Any = None
        per_sub = high
        for _ in range(_STEPS):
            per_sub = low - at_low * (high - low) / (at_high - at_low)
            excess = self._excess(per_sub, wanted)
            if not np.count_nonzero(reached & (np.abs(excess) > _CLOSE * wanted)):
                break
            above = excess > 0
            kept = 1.0 if before is None else np.where(above == before, 0.5, 1.0)
            at_low, at_high = np.where(above, at_low * kept, excess), np.where(above, excess, at_high * kept)
            low, high, before = np.where(above, low, per_sub), np.where(above, per_sub, high), above
        return per_sub

    def _excess(self, per_sub: Any, wanted: Any) -> Any:
        """1/SNR^2 beyond what is wanted, for 1/N without a colour axis."""
        each = np.asarray(per_sub)[..., None]
        new, common = self._noise_e2(1 / each, each)
        return _of_all((new + common) / self.worth) - wanted


def _of_all(inverse: Any) -> Any:
    """1/SNR^2 of all colours from that of each: their squared SNR add."""
    return inverse[..., 0] if inverse.shape[-1] == 1 else 1 / (1 / inverse).sum(axis=-1)


def over_colours(made: np.ufunc, values: Any) -> Any:
    """What a ufunc makes of all colours together, the last axis; of a single one nothing has to be made."""
    return values[..., 0] if values.shape[-1] == 1 else made.reduce(values, axis=-1)


def whole(subs: Any) -> Any:
    """Whole subs, NaN where there are too many; rounding errors add none.

    Examples
    --------
    >>> whole(np.array([24.1, 25.0, np.inf]))
    array([25., 25., nan])
    """
    return np.where(subs <= MOST_SUBS, np.ceil(np.minimum(subs, MOST_SUBS) * (1 - 1e-12)), np.nan)
