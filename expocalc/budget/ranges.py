r"""What many draws of hours say: between which hours the answer lies, and whose doubt matters most.

The share of an input is its first-order part of the variance of the logarithm of the hours [sobol]_, from the draws
themselves: their mean given the input, as a series of Hermite polynomials up to the third. What is missing to 1 is what
inputs do together, and steps too sudden for such a series.

References
----------
.. [sobol] Sobol', I. M. 1993, Mathematical Modelling and Computational Experiments 1, 407: shares of variance (from
   memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats

__all__ = ["QUANTILES", "Range", "range_of", "shares_of"]

QUANTILES = (0.1, 0.5, 0.9)
_LEAST = 50
"""Draws within reach below which nothing is said of their variance."""


@dataclass(frozen=True, kw_only=True)
class Range:
    """Kept hours to plan for, practice counted; infinite where that part of the draws can't reach the goal.

    Attributes
    ----------
    p10_h, p50_h, p90_h : float
        A tenth, half and nine tenths of the draws need no more, in whole subs. [h]
    out_of_reach : float
        Share of the draws in which no hours reach the goal. [-]
    """

    p10_h: float
    p50_h: float
    p90_h: float
    out_of_reach: float

    @property
    def ends(self) -> tuple[float, float]:
        """A tenth and nine tenths of the draws. [h]"""
        return self.p10_h, self.p90_h


def range_of(kept_h: Floats, sub_s: float) -> Range:
    """Range of drawn kept hours, in whole subs."""
    low, middle, high = np.quantile(kept_h, QUANTILES, method="inverted_cdf")
    return Range(
        p10_h=_in_whole_subs(low, sub_s),
        p50_h=_in_whole_subs(middle, sub_s),
        p90_h=_in_whole_subs(high, sub_s),
        out_of_reach=float(np.mean(np.isinf(kept_h))),
    )


def _in_whole_subs(hours: float, sub_s: float) -> float:
    # rounding errors add no sub, as in the plan's answer
    return math.ceil(hours * 3600 / sub_s * (1 - 1e-9)) * sub_s / 3600 if math.isfinite(hours) else math.inf


def shares_of(kept_h: Floats, parts: Mapping[str, Sequence[Floats]]) -> dict[str, float]:
    """Share of the variance of log hours that the mean given each input alone explains, largest first."""
    within = np.isfinite(kept_h)
    if within.sum() < _LEAST:
        return {}
    y = np.log(kept_h[within])
    y = y - y.mean()
    variance = float(y @ y) / y.size
    if variance < 1e-18:
        return {}
    shares = {}
    for name, places in parts.items():
        explained = 0.0
        for place in places:
            z = place[within]
            z2 = z * z
            for hermite in (z, (z2 - 1) / math.sqrt(2), (z2 - 3) * z / math.sqrt(6)):
                # a correlation of nothing with nothing squares to one over their number
                explained += max(float(hermite @ y / y.size) ** 2 / variance - 1 / y.size, 0.0)
        shares[name] = min(explained, 1.0)
    return dict(sorted(shares.items(), key=lambda item: -item[1]))
