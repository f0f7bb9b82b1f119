"""A square of sky as a filter's colours collect it, and how its subs are taken and stacked."""

from __future__ import annotations

import math
from dataclasses import field, replace
from typing import Any

import numpy.typing as npt

from expocalc.base.frozen import Frozen
from expocalc.budget.calibration import Calibration
from expocalc.budget.estimator import Estimator

__all__ = ["Habits", "Patch", "resized"]


class Patch(Frozen):
    """A square of sky as the colours of one filter collect it; the last axis of arrays is the colour.

    Attributes
    ----------
    side_px : array_like
        Side of the square in pixels of the detector, without colour axis. A star is the square of side
        sqrt(2.266) FWHM with the star's light spread evenly over it (King 1983, PASP 95, 163). [pixel]
    sub_s : array_like
        Length of a sub, without colour axis. [s]
    pixel_share : ndarray
        Share of the pixels that carry the colour. [-]
    faint_e_s : array_like
        Light of stars too faint to be taken out, root mean square over places, in the area of one pixel. [electron s-1]
    signal_e_s : ndarray
        The target's light in one pixel. [electron s-1]
    light_e_s : ndarray
        All other light in one pixel: sky, and what else the target sends. [electron s-1]
    dark_e_s : array_like
        Dark current and glow in one pixel. [electron s-1]
    read_variance_e2 : array_like
        As in :func:`expocalc.budget.noise.sub_variance_e2`. [electron2]
    """

    side_px: npt.ArrayLike
    sub_s: npt.ArrayLike
    signal_e_s: Any
    light_e_s: Any
    dark_e_s: Any = 0.0
    read_variance_e2: Any = 0.0
    pixel_share: Any = 1.0
    faint_e_s: Any = 0.0


class Habits(Frozen):
    """How the subs are taken and stacked; the defaults are perfect calibration and a known background.

    Attributes
    ----------
    estimator : Estimator
    calibration : Calibration
    dither_every : array_like
        Subs between two dithers; infinite (the default) where there is no dither.
    dither_box_px : array_like
        Side of the box of offsets. [pixel]
    background_px : array_like
        Side of the square that tells the background. [pixel]
    flatness : array_like
        Error of the background at the target's scale, as a share of it. [-]
    """

    estimator: Estimator = field(default_factory=Estimator)
    calibration: Calibration = field(default_factory=Calibration)
    dither_every: npt.ArrayLike = math.inf
    dither_box_px: npt.ArrayLike = 0.0
    background_px: npt.ArrayLike = math.inf
    flatness: npt.ArrayLike = 0.0


def resized(patch: Patch, side_px: npt.ArrayLike) -> Patch:
    """The same light over a square of another side.

    Examples
    --------
    Twice the side holds four times the pixels, and noise of independent pixels falls by two:

    >>> import numpy as np
    >>> from expocalc.budget.stack import snr_per_patch
    >>> light = Patch(side_px=4.0, sub_s=60.0, signal_e_s=np.array([0.1]), light_e_s=np.array([2.0]))
    >>> float(snr_per_patch(resized(light, 8.0), Habits(), 30) / snr_per_patch(light, Habits(), 30))
    2.0
    """
    return replace(patch, side_px=side_px)
