r"""Signal over noise of a stack of subs, its floor, and the number of subs that a goal takes.

A patch of n pixels of one colour in N kept subs of length t, with target s, other light b and dark d per second:

.. math:: \mathrm{SNR}^2 = \frac{n\,N\,s^2 t^2}
    {\kappa\,[s t + h\,((b + d)\,t + R^2)] + h\,[N G + (\kappa - 1)(1 - G)]\,c}

kappa is the stacking factor (:mod:`expocalc.budget.estimator`), c the variance that all subs share at one detector
pixel (:mod:`expocalc.budget.calibration`), G the share of it that the dither leaves (:mod:`expocalc.budget.dither`),
and h = 1 + n/n_B what the n_B pixels of the background estimate cost (Merline & Howell). Squares of SNR add over
colours.

An error of the background at the target's scale, as a share epsilon of it, is common to all subs, pixels and colours:
it caps the SNR at F = s / (epsilon (s + b + d)), :math:`1/\mathrm{SNR}^2 \to 1/\mathrm{SNR}^2 + 1/F^2`. Stars too faint
to be taken out are common to all subs too: their light f, root mean square in the area of a pixel, adds h f^2 / (n s^2)
to 1/F^2. The colour with the largest F counts, since a picture can lean on that one: the careful reader takes it as the
best case.

Limits. Pixels are taken as independent. Resampling subs (rotation, drizzling, demosaicing by interpolation) correlates
neighbours: a single pixel of the picture then looks less noisy than here, while the sum over a patch of many pixels
has the noise given here (Casertano et al. 2000, AJ 120, 2747, appendix; from memory). Dithers are whole pixels, drawn
evenly from a square.

References
----------
.. [merline] Merline, W. J. & Howell, S. B. 1995, Experimental Astronomy 6, 163: the CCD equation with background.
.. [king] King, I. R. 1983, PASP 95, 163: the area of noise that the fit of a star collects.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from expocalc.budget.calibration import common_variance_e2
from expocalc.budget.dither import dither_overlap
from expocalc.budget.parts import Parts, over_colours
from expocalc.budget.patch import Habits, Patch, resized

__all__ = [
    "Still",
    "calibration_share",
    "colour_snr2",
    "column",
    "parts_of",
    "snr_ceiling",
    "snr_per_element",
    "snr_per_patch",
    "snr_per_pixel",
    "stack_snr2",
    "still_of",
]

ELEMENT_AREA = 4 * math.pi / (8 * math.log(2))
"""Pixels whose noise the fit of a Gaussian star collects, over its FWHM squared: 4 pi sigma^2 [king]_, 2.266."""


class Still(NamedTuple):
    """What of a patch's stack depends on neither the length of the subs nor their number.

    Attributes
    ----------
    patch, habits : Patch, Habits
    pixels, area : ndarray
        Pixels of the square, and those of each colour. [-]
    background : array_like
        What the estimate of the background makes of the noise behind the target, h. [-]
    every, moved, uneven2 : array_like
        As in :class:`expocalc.budget.parts.Parts`.
    """

    patch: Patch
    habits: Habits
    pixels: Any
    area: Any
    background: Any
    every: Any
    moved: Any
    uneven2: Any

    def at(self, sub_s: npt.ArrayLike) -> Parts:
        """What does not depend on the number of subs, by their length. [s]"""
        patch, habits, t = self.patch, self.habits, column(sub_s)
        signal_e, light_e, dark_e = patch.signal_e_s * t, patch.light_e_s * t, patch.dark_e_s * t
        behind_e2 = light_e + dark_e + patch.read_variance_e2
        light_e = signal_e + light_e
        worth = self.area * np.square(signal_e)
        seen = worth > 0
        common_e2: Any = 0.0
        if not habits.calibration.perfect:
            common_e2 = common_variance_e2(light_e, dark_e, patch.read_variance_e2, habits.calibration)
        return Parts(
            worth=worth,
            random_e2=np.where(seen, signal_e + self.background * behind_e2, 1.0),
            common_e2=self.background * common_e2,
            signal_e=signal_e,
            variance_e2=signal_e + behind_e2,
            read_e2=patch.read_variance_e2,
            every=self.every,
            moved=self.moved,
            uneven2=self.uneven2,
            estimator=habits.estimator,
        )


def still_of(patch: Patch, habits: Habits) -> Still:
    """What of a patch's stack waits for the length of the subs."""
    side, dithered = column(patch.side_px), np.isfinite(habits.dither_every)
    background: Any = 1.0
    if np.count_nonzero(np.isfinite(habits.background_px)):
        background = 1 + (side / column(habits.background_px)) ** 2  # n/n_B; (1 + n_pix/n_B) of [merline]_
    every: Any = 1.0
    moved: Any = 0.0
    if np.count_nonzero(dithered):
        every, dithered = column(np.where(dithered, habits.dither_every, 1.0)), column(dithered)
        moved = dithered * (1 - dither_overlap(column(habits.dither_box_px), side) ** 2)
    pixels = np.square(side)
    uneven2: Any = 0.0
    flat, lumpy = (np.count_nonzero(part) for part in (habits.flatness, patch.faint_e_s))
    if flat or lumpy:
        uneven_e_s = np.square(column(habits.flatness) * (patch.signal_e_s + patch.light_e_s + patch.dark_e_s))
        if lumpy:
            uneven_e_s = uneven_e_s + np.square(patch.faint_e_s) * background / pixels
        each = np.where(patch.signal_e_s > 0, uneven_e_s / np.square(patch.signal_e_s), np.inf)
        uneven2 = over_colours(np.minimum, each)
    return Still(patch, habits, pixels, patch.pixel_share * pixels, background, every, moved, uneven2)


@lru_cache(maxsize=4)  # several questions in a row are asked of one patch
def parts_of(patch: Patch, habits: Habits) -> Parts:
    """What of a patch's stack does not depend on the number of subs."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return still_of(patch, habits).at(patch.sub_s)


def column(x: npt.ArrayLike) -> Any:
    """With a colour axis."""
    return np.asarray(x, dtype=float)[..., None]


def stack_snr2(patch: Patch, habits: Habits, subs: npt.ArrayLike) -> Any:
    """Squared SNR of the patch in a stack.

    Parameters
    ----------
    patch : Patch
    habits : Habits
    subs : array_like
        Kept subs N, above 0; broadcasts with the patch's arrays without their colour axis.

    Returns
    -------
    snr2 : float or ndarray
        Broadcast shape. [-]

    Examples
    --------
    Photons of the target alone: 16 pixels, 25 subs, 400 electrons each:

    >>> light = Patch(side_px=4.0, sub_s=100.0, signal_e_s=np.array([4.0]), light_e_s=np.array([0.0]))
    >>> float(stack_snr2(light, Habits(), 25)) ** 0.5
    400.0

    A picture flat to 1 % of the background, which here is the target, shows no more than 100:

    >>> round(float(stack_snr2(light, Habits(flatness=0.01), 25)) ** 0.5, 1)
    97.0
    """
    with np.errstate(divide="ignore"):
        return parts_of(patch, habits).snr2(column(subs))


def colour_snr2(patch: Patch, habits: Habits, subs: npt.ArrayLike) -> Any:
    """Squared SNR that each colour brings, without the floor that all have in common; arguments as above. [-]"""
    return parts_of(patch, habits).colour_snr2(column(subs))


def snr_per_patch(patch: Patch, habits: Habits, subs: npt.ArrayLike) -> Any:
    """SNR of the whole patch, all colours together; arguments as in :func:`stack_snr2`. [-]"""
    return np.sqrt(stack_snr2(patch, habits, subs))


def snr_per_pixel(patch: Patch, habits: Habits, subs: npt.ArrayLike) -> Any:
    """SNR of one pixel of the picture, before resampling; arguments as in :func:`stack_snr2`. [-]

    Notes
    -----
    In a mosaic one pixel of the picture holds each colour's share of the subs.
    """
    return np.sqrt(stack_snr2(resized(patch, 1.0), habits, subs))


def snr_per_element(patch: Patch, habits: Habits, subs: npt.ArrayLike, fwhm_px: npt.ArrayLike) -> Any:
    """SNR of one resolution element, the area of noise of a star's fit [king]_: 2.266 FWHM squared. [-]"""
    return np.sqrt(stack_snr2(resized(patch, np.sqrt(ELEMENT_AREA) * fwhm_px), habits, subs))


def calibration_share(patch: Patch, habits: Habits, subs: npt.ArrayLike) -> Any:
    """Share of the stack's variance that the subs have in common, for each colour; the floor is not in it.

    Parameters
    ----------
    patch : Patch
    habits : Habits
    subs : array_like
        Kept subs N, above 0.

    Returns
    -------
    share : ndarray
        Broadcast shape with the colour axis. [-]

    Examples
    --------
    Ten darks, each as noisy as a sub, under ten subs that are not dithered:

    >>> from expocalc.budget.calibration import Calibration
    >>> dark_only = Patch(side_px=1.0, sub_s=60.0, signal_e_s=np.array([1e-9]), light_e_s=np.zeros(1), dark_e_s=1.0)
    >>> calibration_share(dark_only, Habits(calibration=Calibration(darks=10)), 10).round(6)
    array([0.5])
    """
    new, common = parts_of(patch, habits).noise_e2(column(subs))
    return common / (new + common)


def snr_ceiling(patch: Patch, habits: Habits) -> Any:
    """SNR of the patch that no number of subs exceeds, infinite where there is no such limit.

    Parameters
    ----------
    patch : Patch
    habits : Habits

    Returns
    -------
    snr : float or ndarray
        [-]

    Notes
    -----
    Three things limit it: the flatness of the background, the common variance of subs that are not dithered or of a
    patch wider than the box, and the steps of the converter that a median can stick to.

    Examples
    --------
    >>> from expocalc.budget.calibration import Calibration
    >>> light = Patch(side_px=10.0, sub_s=60.0, signal_e_s=np.array([0.1]), light_e_s=np.array([2.0]))
    >>> float(snr_ceiling(light, Habits()))
    inf
    >>> round(float(snr_ceiling(light, Habits(calibration=Calibration(fixed_e=1.0)))), 6)
    60.0
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.sqrt(parts_of(patch, habits).endless_snr2())
