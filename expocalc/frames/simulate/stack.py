"""From subs to a picture: dithers, laying subs on each other, stacking, and the picture of many hours drawn at once.

References
----------
.. [feller] Feller, W. 1968, An Introduction to Probability Theory and Its Applications, vol. 1, 3rd ed., ch. XI: a sum
   of independent Poisson numbers is a Poisson number of the summed mean (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.frames.simulate.detector import Detector
from expocalc.frames.simulate.masters import Masters, calibrate
from expocalc.frames.simulate.scene import Scene
from expocalc.frames.simulate.shoot import sub

__all__ = ["STACKING", "calibrated_subs", "dither_offsets", "stack", "stack_of", "stacks_of"]

_BAND_PX = 1 << 18
"""Pixels that are drawn at a time: few enough to stay near the processor."""
STACKING = ("mean", "clipped mean", "median")
Offsets = npt.NDArray[np.int_]


def dither_offsets(subs: int, every: int, box_px: int, rng: np.random.Generator, step_px: int = 1) -> Offsets:
    """Where the sky lies in each sub: a new place every so many subs, drawn evenly from a square.

    Parameters
    ----------
    subs : int
    every : int
        Subs between two dithers.
    box_px : int
        Side of the square: offsets are 0 to `box_px`. [pixel]
    rng : numpy.random.Generator
    step_px : int, optional
        Offsets are multiples of it: 2 on a mosaic. [pixel]

    Returns
    -------
    ndarray of int
        Shape (subs, 2). [pixel]

    Examples
    --------
    >>> dither_offsets(4, 2, 10, np.random.default_rng(1), step_px=2).tolist()
    [[4, 6], [4, 6], [8, 10], [8, 10]]
    """
    if min(subs, every, step_px) < 1 or box_px < 0:
        msg = (
            f"a dither needs subs, every and step_px of at least 1 and a box of at least 0 pixel, got {subs}, {every}, "
            f"{step_px} and {box_px}"
        )
        raise ValueError(msg)
    places = rng.integers(0, box_px // step_px + 1, size=(-(-subs // every), 2)) * step_px
    return np.repeat(places, every, axis=0)[:subs]


def calibrated_subs(
    scene: Scene, detector: Detector, made: Masters, sub_s: float, offsets: Offsets, rng: np.random.Generator
) -> Floats:
    """Subs taken one by one, calibrated and laid on each other.

    Parameters
    ----------
    scene : Scene
    detector : Detector
    made : Masters
    sub_s : float
        [s]
    offsets : ndarray of int
        Of :func:`dither_offsets`, or zeros of shape (subs, 2) without a dither. [pixel]
    rng : numpy.random.Generator

    Returns
    -------
    ndarray
        Shape (subs, rows, columns). [electron]
    """
    frames = np.empty((len(offsets), *scene.shape))
    for frame, (down, across) in zip(frames, offsets.tolist(), strict=True):
        taken = calibrate(sub(scene, detector, sub_s, rng, (down, across)), made, detector.setting)
        frame[:] = np.roll(taken, (-down, -across), axis=(0, 1)) if down or across else taken
    return frames


def stack(frames: Floats, how: str = "mean", clip: float = 3.0) -> Floats:
    """One picture from subs that lie on each other.

    Parameters
    ----------
    frames : ndarray
        Shape (subs, rows, columns).
    how : str
        One of :data:`STACKING`.
    clip : float, optional
        For the clipped mean: what lies further than this many sample standard deviations from the median of its
        pixel is left out, one pass.

    Returns
    -------
    ndarray
        Shape (rows, columns), the unit of `frames`.

    Examples
    --------
    A satellite in one of 30 subs:

    >>> frames = np.random.default_rng(1).normal(100.0, 3.0, (30, 16, 16))
    >>> frames[7, 4] += 5000
    >>> [round(float(stack(frames, how)[4].mean())) for how in STACKING]
    [267, 100, 100]
    """
    if how not in STACKING:
        msg = f"stacking must be one of {', '.join(STACKING)}, got {how!r}"
        raise ValueError(msg)
    if how == "mean":
        return frames.mean(axis=0)
    pixels = np.ascontiguousarray(np.moveaxis(frames, 0, -1))
    middle = np.median(pixels, axis=-1)
    if how == "median":
        return middle
    pixels -= middle[..., None]
    reach = clip * pixels.std(axis=-1, ddof=1)
    kept = np.abs(pixels) <= reach[..., None]
    pixels *= kept
    return middle + pixels.sum(axis=-1) / kept.sum(axis=-1)


def stacks_of(scene: Scene, detector: Detector, sub_s: float, subs: Sequence[int], rng: np.random.Generator) -> Floats:
    """Pictures of ever more subs, each holding those before it, drawn at once instead of sub by sub.

    Parameters
    ----------
    scene : Scene
    detector : Detector
        Calibrated perfectly: its pattern changes the noise, not the picture.
    sub_s : float
        [s]
    subs : sequence of int
        Number of subs behind each picture, increasing.
    rng : numpy.random.Generator

    Returns
    -------
    ndarray
        Mean of the calibrated subs, without a dither, shape (pictures, rows, columns). [electron]

    Notes
    -----
    The sum of N subs is a Poisson number of N times the mean [feller]_, and N readings add normal noise of N times the
    variance. The full well cuts the mean rather than each sub, and single steps of the converter are not followed.

    Examples
    --------
    >>> from expocalc.gear.gain import GainSetting
    >>> from expocalc.frames.simulate.detector import even_detector
    >>> from expocalc.frames.simulate.scene import even_scene
    >>> setting = GainSetting(read_noise="2 e-", electrons_per_adu=0.5, full_well="15000 e-")
    >>> pictures = stacks_of(
    ...     even_scene(0.2), even_detector(setting, 0.0, (128, 128)), 60.0, (60, 240), np.random.default_rng(1)
    ... )
    >>> [round(float(picture.std()), 2) for picture in pictures]
    [0.51, 0.26]
    """
    counts = [int(n) for n in subs]
    if not counts or counts[0] < 1 or any(b <= a for a, b in pairwise(counts)):
        msg = f"subs must be whole numbers of at least 1 that increase, got {counts}"
        raise ValueError(msg)
    if not 0 < sub_s < math.inf:
        msg = f"sub_s must be above 0 s, got {sub_s:g} s; write it like 120"
        raise ValueError(msg)
    read_e = math.sqrt(detector.setting.read_variance_e2)
    pictures = np.empty((len(counts), *scene.shape))
    rows = max(1, _BAND_PX // scene.shape[1])
    for start in range(0, scene.shape[0], rows):
        band = slice(start, start + rows)
        flat, dark_e = detector.flat[band], detector.dark_e_s[band] * sub_s
        expected = scene.light_e_s[band] * (flat * (1 + detector.leftover_flat[band]))
        expected *= sub_s
        expected += dark_e
        total, before = np.zeros(expected.shape), 0
        for picture, count in zip(pictures[:, band], counts, strict=True):
            more = count - before
            total += rng.poisson(more * expected)
            noise = rng.standard_normal(expected.shape)
            noise *= read_e * math.sqrt(more)
            total += noise
            before = count
            np.divide(total, count, out=picture)
            np.minimum(picture, detector.setting.full_well.value, out=picture)
            picture += detector.leftover_e[band] - dark_e
            picture /= flat
    return pictures


def stack_of(scene: Scene, detector: Detector, sub_s: float, subs: int, rng: np.random.Generator) -> Floats:
    """The picture of `subs` subs, as :func:`stacks_of` draws it; shape (rows, columns). [electron]"""
    return stacks_of(scene, detector, sub_s, (subs,), rng)[0]
