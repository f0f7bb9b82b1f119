"""Single frames as a camera stores them: subs, biases, darks and flats, in ADU.

Photons come at random (Poisson), a full well holds no more, reading adds normal noise, the converter rounds.
"""

from __future__ import annotations

import math

import numpy as np

from expocalc.base.curve import Floats
from expocalc.frames.simulate.detector import Detector
from expocalc.frames.simulate.scene import Scene

__all__ = ["bias", "dark", "flat", "sub"]


def sub(
    scene: Scene, detector: Detector, sub_s: float, rng: np.random.Generator, offset: tuple[int, int] = (0, 0)
) -> Floats:
    """One sub.

    Parameters
    ----------
    scene : Scene
    detector : Detector
        Of the scene's shape.
    sub_s : float
        Above 0. [s]
    rng : numpy.random.Generator
    offset : (int, int), optional
        Rows and columns by which a dither has moved the sky; even on a mosaic, so that red falls on red. [pixel]

    Returns
    -------
    ndarray
        Whole numbers, shape (rows, columns). [ADU]

    Raises
    ------
    ValueError
        If the shapes differ, the length is not above 0, or the offset is odd on a mosaic.

    Examples
    --------
    >>> from expocalc.gear.gain import GainSetting
    >>> from expocalc.frames.simulate.detector import even_detector
    >>> from expocalc.frames.simulate.scene import even_scene
    >>> setting = GainSetting(read_noise="1.5 e-", electrons_per_adu=0.5, bias_level=100, full_well="15000 e-")
    >>> detector = even_detector(setting, 0.01, (64, 64))
    >>> frame = sub(even_scene(0.5, (64, 64)), detector, 120.0, np.random.default_rng(1))
    >>> round(float(frame.mean()), -1)  # 100 + (0.5 + 0.01) 120 / 0.5
    220.0
    """
    if scene.shape != detector.shape:
        msg = f"scene and detector must have one shape, got {scene.shape} and {detector.shape}"
        raise ValueError(msg)
    if len(scene.colours) > 1 and (offset[0] % 2 or offset[1] % 2):
        msg = f"offset must be even on a mosaic, so that red falls on red, got {tuple(int(o) for o in offset)}"
        raise ValueError(msg)
    light = np.roll(scene.light_e_s, offset, axis=(0, 1)) if any(offset) else scene.light_e_s
    expected = light * detector.response
    expected += detector.dark_e_s
    expected *= _seconds(sub_s)
    return _read(expected, detector, rng, detector.leftover_e)


def dark(detector: Detector, sub_s: float, rng: np.random.Generator) -> Floats:
    """One dark: a sub with the lid on. [ADU]

    Parameters
    ----------
    detector : Detector
    sub_s : float
        Above 0. [s]
    rng : numpy.random.Generator
    """
    return _read(detector.dark_e_s * _seconds(sub_s), detector, rng)


def bias(detector: Detector, rng: np.random.Generator) -> Floats:
    """One bias: a dark of no length. [ADU]"""
    return _read(np.zeros(detector.shape), detector, rng)


def flat(detector: Detector, level_e: float, rng: np.random.Generator) -> Floats:
    """One flat: even light of `level_e` electrons in each pixel of each colour, too short for dark current. [ADU]"""
    return _read(level_e * detector.flat, detector, rng)


def _seconds(sub_s: float) -> float:
    if not 0 < sub_s < math.inf:
        msg = f"sub_s must be above 0 s, got {sub_s:g} s; write it like 120"
        raise ValueError(msg)
    return float(sub_s)


def _read(expected_e: Floats, detector: Detector, rng: np.random.Generator, leftover_e: Floats | None = None) -> Floats:
    """Frame of the expected electrons, whose array is used up: a fresh one costs more than the arithmetic."""
    electrons = rng.standard_normal(expected_e.shape)
    electrons *= detector.noise_before_steps_e
    electrons += detector.offset_e
    if leftover_e is not None:
        electrons += leftover_e
    collected = expected_e
    collected[:] = rng.poisson(expected_e)
    electrons += np.minimum(collected, float(detector.setting.full_well.value), out=collected)
    return detector.digitised(electrons)
