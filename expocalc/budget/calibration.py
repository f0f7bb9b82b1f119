r"""What calibration puts into every sub alike: the noise of the masters, and the pattern that they leave behind.

A master is one frame. Whatever is wrong with a pixel of it is wrong in the same way in every sub, so that stacking does
not lower it and only moving the sky over the detector does (:mod:`expocalc.budget.stack`).

References
----------
.. [newberry] Newberry, M. V. 1991, PASP 103, 122: the noise that dark and flat frames add (from memory).
.. [howell] Howell, S. B. 2006, Handbook of CCD Astronomy, 2nd ed., Cambridge: ch. 4, errors of independent sources
   (from memory).
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.base.frozen import Frozen

__all__ = ["Calibration", "common_variance_e2"]


class Calibration(Frozen):
    """Frames behind the masters, and what they leave behind; numbers, or arrays that broadcast.

    Attributes
    ----------
    darks, flats : array_like
        Frames in each master; infinite (the default) is a perfect one.
    flat_e : array_like
        Level of one flat, the same in each colour. [electron]
    dark_pattern : array_like
        Residual pattern that grows with the dark current, as a share of it, rms over pixels. [-]
    fixed_e : array_like
        Residual pattern that does not depend on the light, rms over pixels. [electron]
    flat_pattern : array_like
        Residual pattern that grows with the light, as a share of it, rms over pixels. [-]
    """

    darks: npt.ArrayLike = math.inf
    flats: npt.ArrayLike = math.inf
    flat_e: npt.ArrayLike = math.inf
    dark_pattern: npt.ArrayLike = 0.0
    fixed_e: npt.ArrayLike = 0.0
    flat_pattern: npt.ArrayLike = 0.0

    @cached_property
    def relative2(self) -> Any:
        """Variance that grows with the square of the light, as a share of it. [-]"""
        with np.errstate(divide="ignore"):
            return 1 / np.multiply(self.flats, self.flat_e) + np.square(self.flat_pattern)

    @cached_property
    def fixed2(self) -> Any:
        """Variance that neither light nor time changes. [electron2]"""
        return np.square(self.fixed_e)

    @cached_property
    def perfect(self) -> bool:
        """Whether the subs have nothing in common."""
        nothing = (self.dark_pattern, self.fixed_e, self.flat_pattern, np.isfinite(self.darks), self.relative2)
        return not any(map(np.count_nonzero, nothing))


def common_variance_e2(
    light_e: npt.ArrayLike, dark_e: npt.ArrayLike, read_variance_e2: npt.ArrayLike, calibration: Calibration
) -> Any:
    r"""Variance over pixels of what is the same in every sub at one detector pixel [newberry]_ [howell]_.

    .. math:: c = \frac{d\,t + R^2 + q_0^2}{n_\mathrm{dark}}
        + (p_\mathrm{dark} d\,t)^2
        + \left(\frac{1}{n_\mathrm{flat} F} + p_\mathrm{flat}^2\right) \left((s + b)\,t\right)^2 + p_\mathrm{fixed}^2

    Parameters
    ----------
    light_e : array_like
        Target and sky of one sub, in one pixel. [electron]
    dark_e : array_like
        Dark current and glow of one sub. [electron]
    read_variance_e2 : array_like
        As in :func:`expocalc.budget.noise.sub_variance_e2`. [electron2]
    calibration : Calibration

    Returns
    -------
    variance_e2 : float or ndarray
        Broadcast shape. [electron2]

    Notes
    -----
    The darks are as long and as cold as the subs, so that biases enter only through the flats: there, as the read noise
    of the flats, they are negligible beside the flats' own photon noise for flats of a thousand electrons or more.

    Examples
    --------
    Twenty darks of 5 electron2 each, and 25 flats of 10,000 electrons under a sub of 500:

    >>> float(common_variance_e2(500.0, 1.0, 4.0, Calibration(darks=20)))
    0.25
    >>> float(common_variance_e2(500.0, 1.0, 4.0, Calibration(flats=25, flat_e=1e4)))
    1.0
    """
    dark = np.add(dark_e, read_variance_e2) / calibration.darks
    dark = dark + np.square(np.multiply(calibration.dark_pattern, dark_e))
    return dark + calibration.relative2 * np.square(light_e) + calibration.fixed2
