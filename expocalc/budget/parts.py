"""The variance of a stack by the number of its subs: what is new in each sub, and what all have in common."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from expocalc.budget.estimator import Estimator

__all__ = ["Parts"]

_MOST_SUBS = 1e15
_STEPS = 100
_LARGE = 1e200
"""Stands for an infinite stacking factor or goal, where infinity times nothing would be no number."""
_TINY = 1e-290
"""Stands for a squared SNR of nothing, whose inverse is still a number."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Parts:
    """What of a stack does not depend on the number of subs; arrays end with the colour axis, `floor2` has none.

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
    every : ndarray
        Subs between two dithers.
    overlap2 : ndarray
        Square of what a patch has in common with itself between dithers. [-]
    floor2 : ndarray
        Square of the SNR that the flatness of the background allows. [-]
    estimator : Estimator
    """

    worth: Any
    random_e2: Any
    common_e2: Any
    signal_e: Any
    variance_e2: Any
    read_e2: Any
    every: Any
    overlap2: Any
    floor2: Any
    estimator: Estimator

    def factor(self, subs: Any) -> Any:
        """Stacking factor; `subs` with a colour axis."""
        return np.minimum(self.estimator.factor(subs, self.variance_e2, self.read_e2, self.signal_e), _LARGE)

    def left(self, per_sub: Any) -> Any:
        """Share of the common variance that the dither leaves, for 1/N."""
        alike = np.minimum(self.every * per_sub, 1.0)
        return alike + (1 - alike) * self.overlap2

    def noise_e2(self, subs: Any) -> tuple[Any, Any]:
        """Variance of the mean of N subs by what is new in each and by what all have; `subs` with a colour axis."""
        per_sub = 1 / subs
        kappa, left = self.factor(subs), self.left(per_sub)
        return kappa * per_sub * self.random_e2, (left + (kappa - 1) * (1 - left) * per_sub) * self.common_e2

    def colour_snr2(self, subs: Any) -> Any:
        """Squared SNR of N subs in each colour, without the floor; `subs` with a colour axis."""
        new, common = self.noise_e2(subs)
        return self.worth / (new + common)

    def random_snr2(self, subs: Any) -> Any:
        """Squared SNR of N subs without the floor; `subs` with a colour axis."""
        return self.colour_snr2(subs).sum(axis=-1)

    def endless_snr2(self) -> Any:
        """Squared SNR of endless subs without the floor."""
        growth = np.minimum(self.estimator.growth(self.variance_e2, self.read_e2), _LARGE)
        left = np.where(np.isinf(self.every), 1.0, self.overlap2)
        noise = growth * self.random_e2 + (left + growth * (1 - left)) * self.common_e2
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where((self.worth > 0) & np.less(growth, _LARGE), self.worth / noise, 0.0).sum(axis=-1)

    def with_floor(self, snr2: Any) -> Any:
        """Squared SNR, capped by the flatness of the background."""
        with np.errstate(divide="ignore"):
            return 1 / (1 / np.asarray(snr2) + 1 / self.floor2)

    def subs_for(self, goal2: Any, close: float = 1e-9) -> Any:
        """Subs for a squared SNR, a number or array without colour axis; infinite beyond what can be reached.

        `close` is the share of the squared SNR that it may be off by.

        1/SNR^2 of one colour is two straight lines over 1/N, that of several nearly so: false position in 1/N, with the
        Illinois rule that halves the value of an end that stays (Dowell & Jarratt 1971, BIT 11, 168).
        """
        with np.errstate(divide="ignore", invalid="ignore", over="ignore", under="ignore"):
            left = 1 - goal2 / self.floor2
            free2 = np.where(left > 0, goal2 / np.where(left > 0, left, 1.0), _LARGE)
            seen = (self.worth / self.random_e2).sum(axis=-1)
            if self.estimator.stacking == "mean" and not np.any(self.common_e2):
                return np.where((left > 0) & (seen > 0), free2 / np.maximum(seen, _TINY), np.inf)
            return np.where(left > 0, self._search(1 / free2, np.maximum(seen, _TINY), close), np.inf)

    def _search(self, wanted: Any, seen: Any, share: float) -> Any:
        close = share * wanted
        low: Any = 1 / _MOST_SUBS
        high = 1.5 * wanted * seen  # no factor is below 2/3
        at_low, at_high = self._excess(low, wanted), self._excess(high, wanted)
        reached = at_low <= 0
        before: Any = None
        per_sub = high
        for _ in range(_STEPS):
            per_sub = low - at_low * (high - low) / (at_high - at_low)
            excess = self._excess(per_sub, wanted)
            if not (reached & (np.abs(excess) > close)).any():
                break
            above = excess > 0
            kept = 1.0 if before is None else np.where(above == before, 0.5, 1.0)
            at_low, at_high = np.where(above, at_low * kept, excess), np.where(above, excess, at_high * kept)
            low, high, before = np.where(above, low, per_sub), np.where(above, per_sub, high), above
        return np.where(reached & (per_sub > 0), 1 / per_sub, np.inf)

    def _excess(self, per_sub: Any, wanted: Any) -> Any:
        return 1 / np.maximum(self.random_snr2(1 / np.asarray(per_sub)[..., None]), _TINY) - wanted
