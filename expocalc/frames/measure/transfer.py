r"""The photon transfer line: how noise grows with light tells electrons per ADU.

.. math:: \sigma_y^2 - \sigma_{y,0}^2 = \frac{1}{K}\,(\mu_y - \mu_{y,0})

with K in electron per ADU. The line starts at the noise of the bias, so that one pair of flats is enough for it, and an
uneven lamp does no harm: both sides are means over the same pixels.

References
----------
.. [emva] EMVA Standard 1288, Release 4.0, 2021: the line through the dark point, fitted from the dark to 70 % of
   saturation; saturation where the temporal noise has its maximum; linearity as the mean deviation from a straight line
   of grey value over exposure between 5 and 95 % of saturation (from memory).
.. [janesick] Janesick, J. R. 2007, Photon Transfer, SPIE Press, ch. 5 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.frames.measure.pair import Pair
from expocalc.frames.simulate.scene import Mask

__all__ = ["Line", "Linearity", "fit_line", "full_well", "linearity", "unsaturated"]

FITTED = 0.7
"""Part of the way to saturation that the line is fitted over [emva]_."""
RANGE = (0.05, 0.95)
"""Part of saturation over which linearity is told [emva]_."""
_FELL = 0.6
"""A noise squared below this share of the line has left it: the well is full."""
_GONE = 0.1
"""Below this share nearly no pixel is left that is not full."""
_DRAWS = 4000
_FULL = 0.001
_UNLIKELY = 0.01


@dataclass(frozen=True, eq=False, kw_only=True)
class Line:
    """The fitted line; arrays have one entry per pair and colour, dark to bright.

    Attributes
    ----------
    electrons_per_adu, error : float
        [electron/ADU]
    level_adu, variance_adu2, error_adu2 : ndarray
        Above the dark point; standard error of the variance. [ADU], [ADU2]
    fitted : ndarray of bool
        Points that the line was fitted to.
    residual : ndarray
        Variance over the line's, less 1.
    chi2 : float
        Per degree of freedom; NaN for one point.
    """

    electrons_per_adu: float
    error: float
    level_adu: Floats
    variance_adu2: Floats
    error_adu2: Floats
    fitted: Mask
    residual: Floats
    chi2: float


@dataclass(frozen=True, kw_only=True)
class Linearity:
    """Mean deviation from a straight line, and the interval of 68 cases of 100 as far as counting decides.

    A lamp that wanders counts as a deviation. [-]
    """

    error: float
    low: float
    high: float
    levels: int


def unsaturated(pairs: Sequence[Pair], darks: Sequence[Pair]) -> Mask:
    """Which pairs are below the full well: the noise still grows and no pixel is at the ceiling.

    Parameters
    ----------
    pairs : sequence of Pair
        Of flats.
    darks : sequence of Pair
        The bias of the same colour for each.

    Returns
    -------
    ndarray of bool
        Shape (pairs,).
    """
    level = np.array([one.mean_adu - dark.mean_adu for one, dark in zip(pairs, darks, strict=True)])
    more = np.array([one.variance_adu2 - dark.variance_adu2 for one, dark in zip(pairs, darks, strict=True)])
    full = np.array([one.full_share > _FULL for one in pairs])
    good = ~full & (level > 0)
    order = np.argsort(level)
    slope = 0.0
    for at in order:
        if not good[at]:
            continue
        own = more[at] / level[at]
        if own < _FELL * slope:
            good[at] = False
        slope = max(slope, own)
    return good


def fit_line(pairs: Sequence[Pair], darks: Sequence[Pair], good: Mask) -> Line | None:
    """Fit the line; None where no pair lies on it.

    Parameters
    ----------
    pairs, darks : sequence of Pair
        As in :func:`unsaturated`.
    good : ndarray of bool
        What that gave.

    Returns
    -------
    Line or None
    """
    level = np.array([one.mean_adu - dark.mean_adu for one, dark in zip(pairs, darks, strict=True)])
    more = np.array([one.variance_adu2 - dark.variance_adu2 for one, dark in zip(pairs, darks, strict=True)])
    error = np.array(
        [math.hypot(one.variance_error_adu2, dark.variance_error_adu2) for one, dark in zip(pairs, darks, strict=True)]
    )
    order = np.argsort(level)
    level, more, error, good = level[order], more[order], error[order], good[order]
    top = level[~good].min() if (~good & (level > 0)).any() else math.inf
    fitted = good & ((level <= FITTED * top) if (good & (level <= FITTED * top)).any() else good)
    if not fitted.any():
        return None
    weight = 1 / np.maximum(error[fitted], 1e-12 * more[fitted].max()) ** 2
    x, y = level[fitted], more[fitted]
    norm = float((weight * x**2).sum())
    slope = float((weight * x * y).sum()) / norm
    if slope <= 0:
        return None
    slope_error = 1 / math.sqrt(norm)
    freedom = x.size - 1
    chi2 = float((weight * (y - slope * x) ** 2).sum()) / freedom if freedom else math.nan
    if freedom and chi2 > 1 + 3 * math.sqrt(2 / freedom):  # more than chance: the residuals tell the error
        slope_error *= math.sqrt(chi2)
    return Line(
        electrons_per_adu=1 / slope,
        error=slope_error / slope**2,
        level_adu=level,
        variance_adu2=more,
        error_adu2=error,
        fitted=fitted,
        residual=more / (slope * level) - 1,
        chi2=chi2,
    )


def linearity(exposure_s: Floats, level_adu: Floats, error_adu: Floats, saturation_adu: float) -> Linearity | None:
    """Deviation of the level from a straight line over exposure; None with fewer than three exposures in range.

    Parameters
    ----------
    exposure_s : ndarray
        [s]
    level_adu : ndarray
        Above the bias. [ADU]
    error_adu : ndarray
        Standard error of each level. [ADU]
    saturation_adu : float
        Above the bias; the highest level where none is known. [ADU]

    Returns
    -------
    Linearity or None

    Notes
    -----
    The line is the one with the least relative deviations, as Release 4 has it [emva]_. The noise of the levels adds to
    a mean of magnitudes; drawing it once more on the measured levels tells how much, and the interval is moved back by
    that (the basic bootstrap).

    Examples
    --------
    >>> found = linearity(np.array([1.0, 2.0, 4.0]), np.array([101.0, 198.0, 404.0]), np.full(3, 0.1), 500.0)
    >>> round(found.error, 3)
    0.01
    """
    used = (level_adu >= RANGE[0] * saturation_adu) & (level_adu <= RANGE[1] * saturation_adu)
    t, y, noise = exposure_s[used], level_adu[used], error_adu[used]
    if np.unique(t).size < 3:
        return None
    design = np.stack([np.ones_like(t), t], axis=1) / y[:, None]
    off = np.ones_like(t) - design @ np.linalg.pinv(design) @ np.ones_like(t)
    drawn = np.random.default_rng(0).standard_normal((_DRAWS, t.size)) * noise / y
    drawn -= drawn @ (design @ np.linalg.pinv(design)).T
    again = np.abs(off + drawn).mean(axis=1)
    error = float((np.abs(off) / np.abs(1 - off)).mean())
    few, many = np.quantile(again, (0.16, 0.84))
    middle = float(np.abs(off).mean())
    chance = middle <= float(np.quantile(np.abs(drawn).mean(axis=1), 0.68))  # a straight camera would do as much
    low = 0.0 if chance else min(max(error + middle - float(many), 0.0), error)
    return Linearity(error=error, low=low, high=max(error + middle - float(few), error), levels=t.size)


def full_well(pairs: Sequence[Pair], darks: Sequence[Pair], good: Mask, k: float) -> tuple[float, float, float] | None:
    """Where the flats stop to grow, above the bias; None where none does. [ADU]

    Parameters
    ----------
    pairs, darks : sequence of Pair
        As in :func:`unsaturated`.
    good : ndarray of bool
        What that gave.
    k : float
        [electron/ADU]

    Returns
    -------
    tuple of float or None
        Level, low and high: the level's own error where the noise is gone, so that all pixels are full; else it lies
        somewhere between the highest level on the line and this one.
    """
    level = np.array([one.mean_adu - dark.mean_adu for one, dark in zip(pairs, darks, strict=True)])
    below = float(level[good].max()) if good.any() else 0.0
    full = np.flatnonzero(~good & (level > below * 0.999))
    if not full.size:
        return None
    top = int(full[np.argmax(level[full])])
    more = pairs[top].variance_adu2 - darks[top].variance_adu2
    error = math.hypot(pairs[top].mean_error_adu, darks[top].mean_error_adu)
    found = float(level[top])
    low = found - error if more < _GONE * found / k else below or found
    return found, low, found + error
