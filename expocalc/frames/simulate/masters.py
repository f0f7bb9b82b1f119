"""Calibration: masters of darks and flats, and subs corrected by them.

A master is drawn at once as the mean of its frames, with the mean's own noise, so that a lesson needs no hundred
frames; :func:`mean_of` makes the same from single frames.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.calibration import Calibration
from expocalc.frames.simulate.detector import Detector
from expocalc.gear.gain import GainSetting

__all__ = ["Masters", "calibrate", "masters", "mean_of"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Masters:
    """What a sub is corrected by; shape (rows, columns).

    Attributes
    ----------
    dark_adu : ndarray
        Mean dark of the subs' length, bias in it. [ADU]
    flat : ndarray
        Mean flat less its bias, over its mean. [-]
    """

    dark_adu: Floats
    flat: Floats


def masters(detector: Detector, sub_s: float, calibration: Calibration, rng: np.random.Generator) -> Masters:
    """Masters of as many darks and flats as a plan has; those of infinitely many are perfect.

    Parameters
    ----------
    detector : Detector
    sub_s : float
        Length of the darks. [s]
    calibration : Calibration
        Its `darks`, `flats` and `flat_e`. What calibration leaves behind is a matter of the detector here.
    rng : numpy.random.Generator

    Notes
    -----
    Flats are taken as corrected by a perfect bias, and neither their rounding nor a full well is followed.

    Examples
    --------
    Ten darks leave a tenth of one dark's variance, 0.24 electron2:

    >>> from expocalc.gear.gain import GainSetting
    >>> from expocalc.frames.simulate.detector import even_detector
    >>> setting = GainSetting(read_noise="1.5 e-", electrons_per_adu=1.0, bias_level=100, full_well="15000 e-")
    >>> detector = even_detector(setting, 0.001, (128, 128))
    >>> made = masters(detector, 120.0, Calibration(darks=10), np.random.default_rng(3))
    >>> round(float(made.dark_adu.var()), 2), float(made.flat.max())
    (0.24, 1.0)
    """
    dark_e = _mean_e(detector.dark_e_s * sub_s, calibration.darks, detector, rng) + detector.offset_e
    flat = detector.flat
    if math.isfinite(_count(calibration.flats)) and math.isfinite(_count(calibration.flat_e)):
        flat = _mean_e(_count(calibration.flat_e) * detector.flat, calibration.flats, detector, rng)
    return Masters(
        dark_adu=detector.bias_adu + dark_e / detector.setting.electrons_per_adu,
        flat=flat / flat.mean(),
    )


def _count(value: npt.ArrayLike) -> float:
    return float(np.asarray(value))


def _mean_e(expected_e: Floats, frames: npt.ArrayLike, detector: Detector, rng: np.random.Generator) -> Floats:
    """Mean of many frames' electrons, drawn at once."""
    count = _count(frames)
    if math.isinf(count):
        return expected_e
    noise = math.sqrt(detector.setting.read_variance_e2 / count)
    return rng.poisson(count * expected_e) / count + noise * rng.standard_normal(expected_e.shape)


def mean_of(count: int, shoot: Callable[[], Floats]) -> Floats:
    """Mean of `count` frames that `shoot` takes one by one.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> round(float(mean_of(100, lambda: rng.normal(5.0, 1.0, (100, 100))).std()), 2)
    0.1
    """
    if count < 1:
        msg = f"count must be at least 1, got {count}"
        raise ValueError(msg)
    total = shoot()
    for _ in range(count - 1):
        total = total + shoot()
    return total / count


def calibrate(frame_adu: Floats, made: Masters, setting: GainSetting) -> Floats:
    """A sub, or a stack of them in its first axis, less the dark, over the flat. [electron]

    Parameters
    ----------
    frame_adu : ndarray
        Shape (..., rows, columns). [ADU]
    made : Masters
    setting : GainSetting
        For its electrons per ADU.
    """
    electrons = frame_adu - made.dark_adu
    electrons *= setting.electrons_per_adu / made.flat
    return electrons
