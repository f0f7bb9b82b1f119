r"""Two frames taken alike: what differs between them is noise, what they share is pattern.

.. math:: \sigma^2 = \tfrac12 \mathrm{var}(y_1 - y_2), \qquad s^2 = \mathrm{cov}(y_1, y_2)

References
----------
.. [emva] EMVA Standard 1288, Release 4.0, 2021: temporal noise from the difference of two images, less the square of
   the difference of their means; spatial nonuniformity is what is left of the variance over pixels when temporal noise
   is taken off, which the covariance of two images is.
.. [kendall] Kendall, M. & Stuart, A. 1977, The Advanced Theory of Statistics, vol. 1, ch. 10 and 13: standard errors of
   a variance and a covariance.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.frames.measure.background import Plane

__all__ = ["Pair", "compare"]

BLOCK = 16
"""Side of the squares in which pattern is told from shading: what is wider than that is shading. [pixel]"""
_BAND = 2 * BLOCK
"""Rows that are worked on at a time: few enough to stay near the processor."""
_EVERY = 8
"""Of so many bands one tells the fourth moment, which only the error of the error rests on."""
_SAMPLE = 1_000_000
_NORMAL_HALF = 0.6744897501960817
"""Half of a normal distribution lies within this many standard deviations."""


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two frames compared; all in ADU of one frame.

    Attributes
    ----------
    mean_adu : float
        Mean of both. [ADU]
    mean_error_adu : float
        Its standard error by temporal noise. [ADU]
    ratio : float
        Mean of the first over that of the second, above the level that was said to be dark.
    variance_adu2, variance_error_adu2 : float
        Of one frame, temporal. [ADU2]
    median_noise_adu : float
        Temporal noise of the usual pixel, which rare bad ones do not lift. [ADU]
    pattern_adu2, pattern_error_adu2 : float
        Variance over pixels that both share, shading taken off; may be below 0 by chance. [ADU2]
    full_share : float
        Pixels at the ceiling in either. [-]
    pixels : int
    """

    mean_adu: float
    mean_error_adu: float
    ratio: float
    variance_adu2: float
    variance_error_adu2: float
    median_noise_adu: float
    pattern_adu2: float
    pattern_error_adu2: float
    full_share: float
    pixels: int


def _bands(planes: Sequence[Plane]) -> Iterator[Plane]:
    for plane in planes:
        for start in range(0, plane.shape[0], _BAND):
            yield plane[start : start + _BAND]


def compare(
    first: Sequence[Plane], second: Sequence[Plane], dark_adu: float = 0.0, ceiling_adu: float = math.inf,
    step_adu: float = 1.0,
) -> Pair:  # fmt: skip
    """Compare two frames of one colour.

    Parameters
    ----------
    first, second : sequence of ndarray
        Planes of one colour, the same shapes. [ADU]
    dark_adu : float, optional
        Level without light: flats of slightly different brightness are brought to one by their ratio above it. [ADU]
    ceiling_adu : float, optional
        Pixels at or above it are full: counted, and left out. [ADU]
    step_adu : float, optional
        Distance of neighbouring numbers. [ADU]

    Returns
    -------
    Pair

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> response = 1000 * (1 + 0.01 * rng.standard_normal((256, 256)))
    >>> one, two = (rng.normal(response, 20.0) for _ in range(2))
    >>> pair = compare([one], [two])
    >>> round(pair.variance_adu2**0.5, 1), round(pair.pattern_adu2**0.5, 1)
    (20.0, 10.0)
    """
    sums = np.zeros(2)
    count = full = 0
    for a, b in zip(_bands(first), _bands(second), strict=True):
        good = _good(a, b, ceiling_adu)
        sums += (a.sum(dtype=_sum_type(a), where=good), b.sum(dtype=_sum_type(b), where=good))
        if good is True:
            count += a.size
        else:
            count += int(np.count_nonzero(good))
            full += int(np.count_nonzero(a >= ceiling_adu))
    total = sum(plane.size for plane in first)
    if count < 2:
        return Pair(
            mean_adu=ceiling_adu, mean_error_adu=0.0, ratio=1.0, variance_adu2=0.0, variance_error_adu2=0.0,
            median_noise_adu=0.0, pattern_adu2=0.0, pattern_error_adu2=0.0, full_share=full / total, pixels=count,
        )  # fmt: skip
    mean = sums / count
    above = mean - dark_adu
    ratio = float(above[0] / above[1]) if dark_adu and above.min() > 0 else 1.0
    apart, fourth, shared, used = _differences(first, second, mean, ratio, ceiling_adu)
    variance = apart / max(count - 1, 1) / (1 + ratio**2)
    fourth_moment = fourth / count / (1 + ratio**2) ** 2
    pattern = shared / max(used, 1)
    return Pair(
        mean_adu=float(mean.mean()),
        mean_error_adu=math.sqrt(variance / count / 2),
        ratio=ratio,
        variance_adu2=variance,
        variance_error_adu2=math.sqrt(max(fourth_moment - variance**2, 0.0) / count),
        median_noise_adu=_median_noise(first, second, step_adu),
        pattern_adu2=pattern,
        pattern_error_adu2=math.sqrt(variance * (variance + 2 * max(pattern, 0.0)) / max(used, 1)),
        full_share=full / total,
        pixels=count,
    )


def _sum_type(band: Plane) -> type[Any]:
    return np.int64 if band.dtype.kind in "iu" else np.float64


def _good(a: Plane, b: Plane, ceiling_adu: float) -> Any:
    """Pixels that count; True alone where all do."""
    if a.dtype.kind in "iu" and b.dtype.kind in "iu":
        if max(a.max(), b.max()) < ceiling_adu:
            return True
        return (a < ceiling_adu) & (b < ceiling_adu)
    good = np.isfinite(a) & np.isfinite(b) & (a < ceiling_adu) & (b < ceiling_adu)
    return True if good.all() else good


def _differences(
    first: Sequence[Plane], second: Sequence[Plane], mean: Floats, ratio: float, ceiling_adu: float
) -> tuple[float, float, float, int]:
    """Sums of squares and fourth powers of differences, of shared deviations, and what the last is divided by."""
    apart = shared = fourth = sampled = 0.0
    used = 0
    for at, (a, b) in enumerate(zip(_bands(first), _bands(second), strict=True)):
        left, right = np.subtract(a, mean[0], dtype=np.float32), np.subtract(b, mean[1], dtype=np.float32)
        good = _good(a, b, ceiling_adu)
        if good is not True:
            left[~good] = right[~good] = 0
        more, by = _shared(left, right)
        shared, used = shared + more, used + by
        if ratio != 1:
            right *= np.float32(ratio)
        left -= right
        square = np.einsum("ij,ij->", left, left)
        apart += float(square)
        if at % _EVERY == 0:
            left *= left
            fourth += float(np.einsum("ij,ij->", left, left))
            sampled += float(square)
    fourth *= apart / sampled if sampled else 0.0
    return apart, fourth, shared, used


def _shared(left: npt.NDArray[np.float32], right: npt.NDArray[np.float32]) -> tuple[float, int]:
    """Sum of products of the two frames' deviations from their block's mean, and its degrees of freedom."""
    down, across = (side // BLOCK for side in left.shape)
    if not down or not across:
        return 0.0, 0
    one, two = (part[: down * BLOCK, : across * BLOCK].reshape(down, BLOCK, across, BLOCK) for part in (left, right))
    products = float(np.einsum("ijkl,ijkl->", one, two))
    sums = [part.reshape(down, BLOCK, -1).sum(axis=1).reshape(down, across, BLOCK).sum(axis=2) for part in (one, two)]
    products -= float((sums[0] * sums[1]).sum(dtype=np.float64)) / (BLOCK * BLOCK)
    return products, down * across * (BLOCK * BLOCK - 1)


def _median_noise(first: Sequence[Plane], second: Sequence[Plane], step_adu: float) -> float:
    """Noise by the half of all differences that is nearest to their middle; steps are smoothed by their own width."""
    stride = max(1, math.isqrt(sum(plane.size for plane in first) // _SAMPLE))
    with np.errstate(invalid="ignore"):  # two infinite pixels are left out below
        apart = np.concatenate(
            [(a[::stride, ::stride].astype(np.float64) - b[::stride, ::stride]).ravel()
             for a, b in zip(first, second, strict=True)]
        )  # fmt: skip
    apart = apart[np.isfinite(apart)]
    apart += step_adu * (np.random.default_rng(0).random(apart.size) - 0.5)
    low, high = np.percentile(apart, [25, 75])
    variance = ((high - low) / 2 / _NORMAL_HALF) ** 2 - step_adu**2 / 12
    return math.sqrt(max(variance, 0.0) / 2)
