"""Darks: their level above the bias, the dark current at each temperature, and hot pixels.

References
----------
.. [emva] EMVA Standard 1288, Release 4.0, 2021: dark current is the slope of the mean dark value over exposure time.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from astropy.stats import binom_conf_interval

from expocalc.base.curve import Floats
from expocalc.frames.measure.pair import Pair
from expocalc.frames.read.fits import Pixels

__all__ = [
    "BiasLevel",
    "DarkPoint",
    "DarkRate",
    "dark_rates",
    "hot_share",
    "less_bias",
]

HOT_SIGMAS = 5.0
"""A pixel is hot when it stands this many noises above the usual one: common practice, no source."""
SAME_K = 1.0


@dataclass(frozen=True, kw_only=True)
class BiasLevel:
    """Level of the biases over all pixels, its standard error, and the variance of one of them. [ADU], [ADU2]"""

    mean_adu: float
    error_adu: float
    variance_adu2: float

    @classmethod
    def of(cls, pairs: Sequence[Pair]) -> BiasLevel:
        """From the pairs of all colours, each by its pixels."""
        share = np.array([pair.pixels for pair in pairs]) / sum(pair.pixels for pair in pairs)
        mean, error, variance = (
            np.array([getattr(pair, name) for pair in pairs])
            for name in ("mean_adu", "mean_error_adu", "variance_adu2")
        )
        return cls(
            mean_adu=float(share @ mean), error_adu=math.sqrt(float(((share * error) ** 2).sum())),
            variance_adu2=float(share @ variance),
        )  # fmt: skip


def less_bias(dark: Pixels, bias: Pixels, level: BiasLevel) -> tuple[npt.NDArray[np.float32], float, float]:
    """A dark less one bias, its mean above both biases, and the standard error of that by the dark's own noise.

    Parameters
    ----------
    dark, bias : ndarray
        Shape (rows, columns). [ADU]
    level : BiasLevel
        Of the two biases, of which `bias` is one.

    Notes
    -----
    Hot pixels belong to the mean, not to its noise: that comes from the two thirds of the pixels nearest to the middle.
    """
    less = dark.astype(np.float32)
    with np.errstate(invalid="ignore"):  # two infinite pixels are left out below
        less -= bias
    good = less[np.isfinite(less)]
    low, high = np.percentile(good, [15.865, 84.135])
    spread2 = (float(high - low) / 2) ** 2
    own2 = max(spread2 - level.variance_adu2, spread2 / 4)
    above = float(bias[np.isfinite(bias)].mean(dtype=np.float64)) - level.mean_adu
    return less, float(good.mean(dtype=np.float64)) + above, math.sqrt(own2 / good.size)


@dataclass(frozen=True, kw_only=True)
class DarkPoint:
    """One dark: its mean above the bias.

    Attributes
    ----------
    seconds : float
        [s]
    temperature_deg_c : float or None
        [deg_C]
    electrons, error_e : float
        Mean of a pixel, and its standard error by the dark's own noise. [electron]
    bias_error_e : float
        Standard error of the bias that was taken off: the same for all darks, so that no slope over time has it.
        [electron]
    """

    seconds: float
    temperature_deg_c: float | None
    electrons: float
    error_e: float
    bias_error_e: float = 0.0


@dataclass(frozen=True, kw_only=True)
class DarkRate:
    """Dark current at one temperature.

    Attributes
    ----------
    temperature_deg_c : float or None
        [deg_C]
    rate_e_s, error_e_s : float
        [electron s-1]
    start_e : float or None
        Electrons that are there at no time at all; None from one length. [electron]
    bend : float or None
        How many standard errors the rate grows (or falls) with time beyond a straight line; None below three lengths.
    """

    temperature_deg_c: float | None
    rate_e_s: float
    error_e_s: float
    start_e: float | None
    bend: float | None


def _line(points: Sequence[DarkPoint], order: int) -> tuple[Floats, Floats]:
    """Coefficients of a polynomial in time and their covariance."""
    t, y = np.array([p.seconds for p in points]), np.array([p.electrons for p in points])
    error = np.maximum(np.array([p.error_e for p in points]), 1e-9)
    design = np.vander(t, order + 1, increasing=True) / error[:, None]
    covariance = np.linalg.pinv(design.T @ design)
    return covariance @ design.T @ (y / error), covariance


def dark_rates(points: Sequence[DarkPoint]) -> tuple[DarkRate, ...]:
    """Dark current at each temperature, cold to warm; darks without a temperature count as one.

    Examples
    --------
    >>> one, two = (DarkPoint(seconds=s, temperature_deg_c=-10.0, electrons=0.1 + 0.01 * s, error_e=0.01)
    ...             for s in (100.0, 300.0))
    >>> found = dark_rates([one, two])[0]
    >>> round(found.rate_e_s, 3), round(found.start_e, 2)
    (0.01, 0.1)
    """
    groups: list[list[DarkPoint]] = []
    for point in sorted(points, key=lambda p: (p.temperature_deg_c is not None, p.temperature_deg_c or 0.0, p.seconds)):
        if groups and _alike(groups[-1][0].temperature_deg_c, point.temperature_deg_c):
            groups[-1].append(point)
        else:
            groups.append([point])
    return tuple(_rate(group) for group in groups)


def _alike(one: float | None, other: float | None) -> bool:
    return one is other or (one is not None and other is not None and abs(one - other) <= SAME_K)


def _rate(group: Sequence[DarkPoint]) -> DarkRate:
    known = [p.temperature_deg_c for p in group if p.temperature_deg_c is not None]
    temperature = float(np.mean(known)) if known else None
    lengths = len({p.seconds for p in group})
    if lengths == 1:
        weight = np.array([1 / max(p.error_e, 1e-9) ** 2 for p in group])
        mean = float((weight * [p.electrons for p in group]).sum() / weight.sum())
        seconds = group[0].seconds
        error = math.hypot(1 / math.sqrt(weight.sum()), group[0].bias_error_e)
        return DarkRate(
            temperature_deg_c=temperature, rate_e_s=mean / seconds, error_e_s=error / seconds,
            start_e=None, bend=None,
        )  # fmt: skip
    found, covariance = _line(group, 1)
    bend = None
    if lengths >= 3:
        curved, spread = _line(group, 2)
        bend = float(curved[2] / math.sqrt(max(spread[2, 2], 1e-30)))
    return DarkRate(
        temperature_deg_c=temperature, rate_e_s=float(found[1]), error_e_s=math.sqrt(covariance[1, 1]),
        start_e=float(found[0]), bend=bend,
    )  # fmt: skip


def hot_share(dark_less_bias: Floats, again: Floats | None = None) -> tuple[float, float, float]:
    """Share of hot pixels, and the interval that holds it in 68 cases of 100, by Jeffreys' prior.

    Parameters
    ----------
    dark_less_bias : ndarray
        Any shape and unit.
    again : ndarray, optional
        Another dark of the same kind: what stands out in one alone is a cosmic ray, not a hot pixel.

    Examples
    --------
    >>> dark = np.random.default_rng(1).normal(0.0, 2.0, 100_000)
    >>> dark[:50] += 400
    >>> round(hot_share(dark)[0], 4)
    0.0005
    """
    hot = None
    for one in (dark_less_bias, again):
        if one is None:
            continue
        good = np.isfinite(one)
        low, middle = np.percentile(one[good], [15.87, 50])
        now = good & (one > middle + HOT_SIGMAS * max(middle - low, 1e-9))
        hot = now if hot is None else hot & now
    assert hot is not None
    count = int(hot.sum())
    low, high = binom_conf_interval(count, hot.size, interval="jeffreys")
    return count / hot.size, float(low), float(high)
