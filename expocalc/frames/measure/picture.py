"""What a picture shows: signal over noise as measured on it, and the pictures that people compare."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.frames.simulate.scene import Mask
from expocalc.gear.image import FWHM_PER_SIGMA

__all__ = ["Measured", "binned", "measured_snr", "shared_limits", "smoothed", "stretch"]


@dataclass(frozen=True, kw_only=True)
class Measured:
    """A patch as measured on one picture.

    Attributes
    ----------
    signal : float
        Mean of the patch less mean of the background, the picture's unit.
    noise : float
        Standard deviation of the background's pixels, the picture's unit.
    snr_pixel : float
        Signal over noise of one pixel.
    snr_patch : float
        Signal over noise of the whole patch.
    """

    signal: float
    noise: float
    snr_pixel: float
    snr_patch: float


def measured_snr(picture: Floats, patch: Mask, background: Mask) -> Measured:
    """Signal over noise of a patch, measured as one would on a real picture.

    Parameters
    ----------
    picture : ndarray
        Shape (rows, columns).
    patch, background : ndarray of bool
        Where the patch lies and where there is sky alone; on a mosaic, of one colour.

    Raises
    ------
    ValueError
        If the patch has no pixel or the background fewer than two.

    Notes
    -----
    The background's grain stands for the noise: true where the patch is faint. Pixels are taken as independent, so
    that the noise of the whole falls with the square root of their number: a smoothed picture fools this measure.

    Examples
    --------
    >>> rng = np.random.default_rng(2)
    >>> patch = np.zeros((100, 100), dtype=bool)
    >>> patch[40:60, 40:60] = True
    >>> found = measured_snr(rng.normal(10.0, 2.0, (100, 100)) + 3 * patch, patch, ~patch)
    >>> round(found.snr_pixel, 1), round(found.snr_patch / found.snr_pixel)
    (1.6, 20)
    """
    count = int(patch.sum())
    if count < 1 or background.sum() < 2:
        msg = f"a measurement needs a pixel of patch and two of background, got {count} and {int(background.sum())}"
        raise ValueError(msg)
    sky = picture[background]
    signal, noise = float(picture[patch].mean() - sky.mean()), float(sky.std(ddof=1))
    snr = signal / noise if noise else math.copysign(math.inf, signal)
    return Measured(signal=signal, noise=noise, snr_pixel=snr, snr_patch=snr * math.sqrt(count))


def binned(picture: Floats, side_px: int) -> Floats:
    """Mean of squares of pixels: binning by software, which divides grain by the side.

    Parameters
    ----------
    picture : ndarray
        Shape (rows, columns); what is left over at the far edges is left out.
    side_px : int
        [pixel]

    Examples
    --------
    >>> binned(np.arange(16.0).reshape(4, 4), 2).tolist()
    [[2.5, 4.5], [10.5, 12.5]]
    """
    if not 1 <= side_px <= min(picture.shape):
        msg = f"side_px must be 1 to {min(picture.shape)} pixel, got {side_px} pixel"
        raise ValueError(msg)
    rows, columns = (length // side_px for length in picture.shape)
    squares = picture[: rows * side_px, : columns * side_px].reshape(rows, side_px, columns, side_px)
    return squares.mean(axis=(1, 3))


def smoothed(picture: Floats, fwhm_px: float) -> Floats:
    r"""The picture blurred by a Gaussian, as the simplest noise reduction does; edges meet their opposites.

    Parameters
    ----------
    picture : ndarray
        Shape (rows, columns).
    fwhm_px : float
        Full width at half maximum, 0 or more. [pixel]

    Notes
    -----
    Grain of single pixels falls by :math:`2\sqrt{\pi}\,\sigma`, and turns into blobs of that width.

    Examples
    --------
    >>> grain = np.random.default_rng(1).normal(0.0, 1.0, (256, 256))
    >>> round(float(grain.std() / smoothed(grain, 4.0).std()), 1)
    6.0
    """
    if not 0 <= fwhm_px < math.inf:
        msg = f"fwhm_px must be at least 0 pixel, got {fwhm_px:g} pixel; write it like 4"
        raise ValueError(msg)
    sigma = fwhm_px / FWHM_PER_SIGMA
    down, across = np.fft.fftfreq(picture.shape[0]), np.fft.rfftfreq(picture.shape[1])
    passed = np.exp(-2 * (math.pi * sigma) ** 2 * (down[:, None] ** 2 + across**2))
    return np.fft.irfft2(np.fft.rfft2(picture) * passed, s=picture.shape)


def stretch(picture: Floats, low: float, high: float) -> Floats:
    """Brightness on the screen: 0 at `low` and below, 1 at `high` and above, straight between.

    Parameters
    ----------
    picture : ndarray
        Any shape.
    low, high : float
        The same for all pictures that are compared, see :func:`shared_limits`.

    Examples
    --------
    >>> stretch(np.array([0.0, 5.0, 10.0, 20.0]), 0.0, 10.0).tolist()
    [0.0, 0.5, 1.0, 1.0]
    """
    if not low < high:
        msg = f"low must be below high, got {low:g} and {high:g}"
        raise ValueError(msg)
    return np.clip((picture - low) / (high - low), 0.0, 1.0)


def shared_limits(
    pictures: Iterable[Floats], low_percent: float = 1.0, high_percent: float = 99.5
) -> tuple[float, float]:
    """Limits of one stretch for several pictures: the percentiles of all their pixels together.

    Examples
    --------
    >>> shared_limits([np.zeros(100), np.arange(100.0)], 0, 100)
    (0.0, 99.0)
    """
    everything = np.concatenate([np.ravel(picture) for picture in pictures])
    low, high = np.percentile(everything, [low_percent, high_percent])
    return float(low), float(high) if high > low else float(low) + 1.0
