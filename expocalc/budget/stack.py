r"""Signal over noise of a stack of subs, its floor, and the number of subs that a goal takes.

A patch of n pixels of one colour in N kept subs of length t, with target s, other light b and dark d per second:

.. math:: \mathrm{SNR}^2 = \frac{n\,N\,s^2 t^2}
    {\kappa\,[s t + h\,((b + d)\,t + R^2)] + h\,[N G + (\kappa - 1)(1 - G)]\,c}

kappa is the stacking factor (:mod:`expocalc.budget.estimator`), c the variance that all subs share at one detector
pixel (:mod:`expocalc.budget.calibration`), G the share of it that the dither leaves (:func:`dither_share`), and
h = 1 + n/n_B what the n_B pixels of the background estimate cost (Merline & Howell). Squares of SNR add over colours.

An error of the background at the target's scale, as a share epsilon of it, is common to all subs, pixels and colours:
it caps the SNR at F = s / (epsilon (s + b + d)), :math:`1/\mathrm{SNR}^2 \to 1/\mathrm{SNR}^2 + 1/F^2`. The colour with
the largest F counts, since a picture can lean on that one: the careful reader takes it as the best case.

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
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.budget.calibration import Calibration, common_variance_e2
from expocalc.budget.estimator import Estimator

__all__ = [
    "Habits",
    "Patch",
    "calibration_share",
    "colour_snr2",
    "dither_overlap",
    "dither_share",
    "resized",
    "signal_for_snr",
    "snr_ceiling",
    "snr_per_element",
    "snr_per_patch",
    "snr_per_pixel",
    "stack_snr2",
    "subs_for_snr",
]

ELEMENT_AREA = 4 * math.pi / (8 * math.log(2))
"""Pixels whose noise the fit of a Gaussian star collects, over its FWHM squared: 4 pi sigma^2 [king]_, 2.266."""
_STEPS, _CLOSE = 100, 1e-9
_HALVINGS = 60
_MOST_SUBS = _MOST_TIMES = 1e15
_HOPELESS = 1e200
"""Stands for an infinite stacking factor, where infinity times nothing would be no number."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Patch:
    """A square of sky as the colours of one filter collect it; the last axis of arrays is the colour.

    Attributes
    ----------
    side_px : array_like
        Side of the square in pixels of the detector, without colour axis. A star is the square of side
        sqrt(2.266) FWHM with the star's light spread evenly over it [king]_. [pixel]
    sub_s : array_like
        Length of a sub, without colour axis. [s]
    pixel_share : ndarray
        Share of the pixels that carry the colour. [-]
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


@dataclass(frozen=True, eq=False, kw_only=True)
class Habits:
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


def dither_overlap(box_px: npt.ArrayLike, patch_px: npt.ArrayLike) -> Any:
    r"""Mean share of its side that a square has in common with itself after moving between two dithers.

    .. math:: o = 1 - \frac{W^2 - 1}{3 W k} \quad (W \le k), \qquad
        o = \frac{k}{W} - \frac{k^2 - 1}{3 W^2} \quad (W > k)

    Parameters
    ----------
    box_px : array_like
        Side of the box of offsets; they take W = box + 1 whole numbers. [pixel]
    patch_px : array_like
        Side k of the square, taken as 1 where it is less. [pixel]

    Returns
    -------
    overlap : float or ndarray
        Broadcast shape. [-]

    Notes
    -----
    Exact for offsets drawn evenly and independently, whole W and k: the mean of (1 - |i - j|/k), where positive, over
    all pairs i, j of W numbers. For one pixel it is 1/W, the chance that two draws are the same.

    Examples
    --------
    >>> [round(float(dither_overlap(box, 10)), 3) for box in (0, 10, 100)]
    [1.0, 0.636, 0.096]
    """
    w, k = np.add(box_px, 1.0), np.maximum(patch_px, 1.0)
    return np.where(w <= k, 1 - (w**2 - 1) / (3 * w * k), k / w - (k**2 - 1) / (3 * w**2))


def dither_share(
    subs: npt.ArrayLike, dither_every: npt.ArrayLike, box_px: npt.ArrayLike, patch_px: npt.ArrayLike
) -> Any:
    r"""Share of the common variance that is left in the mean over a patch, G.

    .. math:: G = \frac{1}{P} + \left(1 - \frac{1}{P}\right) o^2, \qquad P = N / m

    Parameters
    ----------
    subs : array_like
        Kept subs N.
    dither_every : array_like
        Subs m between two dithers; infinite where there is no dither.
    box_px, patch_px : array_like
        As in :func:`dither_overlap`. [pixel]

    Returns
    -------
    share : float or ndarray
        Broadcast shape, 1 without dither. [-]

    Notes
    -----
    A pair of subs shares all of the pattern when no dither lies between them (one pair in P), else what their squares
    of detector have in common. A patch wider than the box keeps meeting the same pixels: no number of dithers lowers
    G below :math:`o^2`.

    Examples
    --------
    One pixel and a wide box leave one part in P; a patch as wide as the box keeps two fifths:

    >>> [round(float(dither_share(120, 2, 10, k)), 3) for k in (1, 10)]
    [0.025, 0.415]
    """
    with np.errstate(divide="ignore"):
        alike = np.minimum(np.divide(dither_every, np.asarray(subs, dtype=float)), 1.0)
    return alike + (1 - alike) * dither_overlap(box_px, patch_px) ** 2


@dataclass(frozen=True, eq=False)
class _Parts:
    """What does not depend on the number of subs; arrays end with the colour axis, `floor2` has none."""

    worth: Any
    """n s^2 t^2. [electron2]"""
    random_e2: Any
    """Variance of one sub that the stacking factor multiplies, background estimate counted; above 0. [electron2]"""
    common_e2: Any
    signal_e: Any
    variance_e2: Any
    read_e2: Any
    every: Any
    overlap2: Any
    floor2: Any
    estimator: Estimator

    def factor(self, subs: Any) -> Any:
        return np.minimum(self.estimator.factor(subs, self.variance_e2, self.read_e2, self.signal_e), _HOPELESS)

    def left(self, per_sub: Any) -> Any:
        """Share of the common variance that the dither leaves, for 1/N."""
        alike = np.minimum(self.every * per_sub, 1.0)
        return alike + (1 - alike) * self.overlap2

    def noise_e2(self, subs: Any) -> tuple[Any, Any]:
        """Variance of the mean of N subs by what is new in each and by what all have; `subs` with a colour axis."""
        per_sub = 1 / subs
        kappa, left = self.factor(subs), self.left(per_sub)
        return kappa * per_sub * self.random_e2, (left + (kappa - 1) * (1 - left) * per_sub) * self.common_e2

    def random_snr2(self, subs: Any) -> Any:
        """Squared SNR of N subs without the floor; `subs` with a colour axis."""
        new, common = self.noise_e2(subs)
        return (self.worth / (new + common)).sum(axis=-1)

    def endless_snr2(self) -> Any:
        """Squared SNR of endless subs without the floor."""
        growth = np.minimum(self.estimator.growth(self.variance_e2, self.read_e2), _HOPELESS)
        left = np.where(np.isinf(self.every), 1.0, self.overlap2)
        noise = growth * self.random_e2 + (left + growth * (1 - left)) * self.common_e2
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.worth > 0, self.worth / noise, 0.0).sum(axis=-1)

    def with_floor(self, snr2: Any) -> Any:
        with np.errstate(divide="ignore"):
            return 1 / (1 / np.asarray(snr2) + 1 / self.floor2)

    def subs_for(self, goal2: Any) -> Any:
        """Subs for a squared SNR without the floor; infinite beyond what can be reached.

        1/SNR^2 of one colour is two straight lines over 1/N, that of several nearly so: false position in 1/N, with the
        Illinois rule that halves the value of an end that stays (Dowell & Jarratt 1971, BIT 11, 168).
        """
        if self.estimator.stacking == "mean" and not np.any(self.common_e2):
            return goal2 / (self.worth / self.random_e2).sum(axis=-1)
        wanted = 1 / np.asarray(goal2)
        close = _CLOSE * wanted
        low: Any = 1 / _MOST_SUBS
        high = 1.5 * wanted * (self.worth / self.random_e2).sum(axis=-1)  # no factor is below 2/3
        at_low, at_high = self._excess(low, wanted), self._excess(high, wanted)
        reached = at_low <= 0
        before: Any = None
        for _ in range(_STEPS):
            per_sub = low - at_low * (high - low) / (at_high - at_low)
            excess = self._excess(per_sub, wanted)
            if not (reached & (np.abs(excess) > close)).any():
                break
            above = excess > 0
            kept = 1.0 if before is None else np.where(above == before, 0.5, 1.0)
            at_low, at_high = np.where(above, at_low * kept, excess), np.where(above, excess, at_high * kept)
            low, high, before = np.where(above, low, per_sub), np.where(above, per_sub, high), above
        return np.where(reached, 1 / per_sub, np.inf)

    def _excess(self, per_sub: Any, wanted: Any) -> Any:
        return 1 / self.random_snr2(1 / np.asarray(per_sub)[..., None]) - wanted


@lru_cache(maxsize=4)  # several questions in a row are asked of one patch
def _parts(patch: Patch, habits: Habits) -> _Parts:
    side, t = _column(patch.side_px), _column(patch.sub_s)
    signal_e = patch.signal_e_s * t
    light_e, dark_e = signal_e + patch.light_e_s * t, patch.dark_e_s * t
    behind_e2 = patch.light_e_s * t + dark_e + patch.read_variance_e2
    background = 1 + (side / _column(habits.background_px)) ** 2  # n/n_B; (1 + n_pix/n_B) of [merline]_
    worth = patch.pixel_share * (side * signal_e) ** 2
    seen = worth > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        cap = np.where(seen, signal_e / (_column(habits.flatness) * (light_e + dark_e)), 0.0)
    return _Parts(
        worth=worth,
        random_e2=np.where(seen, signal_e + background * behind_e2, 1.0),
        common_e2=background * common_variance_e2(light_e, dark_e, patch.read_variance_e2, habits.calibration),
        signal_e=signal_e,
        variance_e2=signal_e + behind_e2,
        read_e2=patch.read_variance_e2,
        every=_column(habits.dither_every),
        overlap2=dither_overlap(_column(habits.dither_box_px), side) ** 2,
        floor2=cap.max(axis=-1) ** 2,
        estimator=habits.estimator,
    )


def _column(x: npt.ArrayLike) -> Any:
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
    parts = _parts(patch, habits)
    return parts.with_floor(parts.random_snr2(_column(subs)))


def colour_snr2(patch: Patch, habits: Habits, subs: npt.ArrayLike) -> Any:
    """Squared SNR that each colour brings, without the floor that all have in common; arguments as above. [-]"""
    parts = _parts(patch, habits)
    new, common = parts.noise_e2(_column(subs))
    return parts.worth / (new + common)


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


def resized(patch: Patch, side_px: npt.ArrayLike) -> Patch:
    """The same light over a square of another side.

    Examples
    --------
    Twice the side holds four times the pixels, and noise of independent pixels falls by two:

    >>> light = Patch(side_px=4.0, sub_s=60.0, signal_e_s=np.array([0.1]), light_e_s=np.array([2.0]))
    >>> float(snr_per_patch(resized(light, 8.0), Habits(), 30) / snr_per_patch(light, Habits(), 30))
    2.0
    """
    return replace(patch, side_px=side_px)


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

    >>> dark_only = Patch(side_px=1.0, sub_s=60.0, signal_e_s=np.array([1e-9]), light_e_s=np.zeros(1), dark_e_s=1.0)
    >>> calibration_share(dark_only, Habits(calibration=Calibration(darks=10)), 10).round(6)
    array([0.5])
    """
    new, common = _parts(patch, habits).noise_e2(_column(subs))
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
    >>> light = Patch(side_px=10.0, sub_s=60.0, signal_e_s=np.array([0.1]), light_e_s=np.array([2.0]))
    >>> float(snr_ceiling(light, Habits()))
    inf
    >>> round(float(snr_ceiling(light, Habits(calibration=Calibration(fixed_e=1.0)))), 6)
    60.0
    """
    parts = _parts(patch, habits)
    return np.sqrt(parts.with_floor(parts.endless_snr2()))


def subs_for_snr(patch: Patch, habits: Habits, snr: npt.ArrayLike) -> Any:
    """Kept subs that bring the patch to an SNR.

    Parameters
    ----------
    patch : Patch
    habits : Habits
    snr : array_like
        The goal, above 0; broadcasts with the patch's arrays without their colour axis. [-]

    Returns
    -------
    subs : float or ndarray
        Smallest N as a real number, to be rounded up for a plan; infinite where the goal lies beyond the ceiling or
        there is no signal.

    Examples
    --------
    >>> light = Patch(side_px=4.0, sub_s=100.0, signal_e_s=np.array([4.0]), light_e_s=np.array([0.0]))
    >>> [round(float(n), 6) for n in subs_for_snr(light, Habits(), np.array([400.0, 40.0]))]
    [25.0, 0.25]
    >>> float(subs_for_snr(light, Habits(flatness=0.01), 101.0))
    inf
    """
    parts = _parts(patch, habits)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        goal2 = np.square(np.asarray(snr, dtype=float))
        left = 1 - goal2 / parts.floor2
        return np.where(left > 0, parts.subs_for(goal2 / left), np.inf)


def signal_for_snr(patch: Patch, habits: Habits, subs: npt.ArrayLike, snr: npt.ArrayLike) -> Any:
    """Depth: how many times the patch's signal reaches an SNR in N subs, its own photon noise counted.

    Parameters
    ----------
    patch : Patch
        Its signal gives the ratio between the colours.
    habits : Habits
    subs : array_like
        Kept subs N, above 0.
    snr : array_like
        The goal, above 0. [-]

    Returns
    -------
    times : float or ndarray
        Times the signal of `patch`; infinite where no signal reaches the goal (or 10^15 times does not). [-]

    Examples
    --------
    >>> light = Patch(side_px=4.0, sub_s=100.0, signal_e_s=np.array([4.0]), light_e_s=np.array([0.0]))
    >>> round(float(signal_for_snr(light, Habits(), 25, 200.0)), 6)
    0.25
    """
    goal2, subs = np.broadcast_arrays(np.square(np.asarray(snr, dtype=float)), subs)

    def reaches(log_times: Any) -> Any:
        brighter = replace(patch, signal_e_s=np.exp(log_times)[..., None] * patch.signal_e_s)
        return stack_snr2(brighter, habits, subs) >= goal2

    shape = np.broadcast_shapes(goal2.shape, stack_snr2(patch, habits, subs).shape)
    top = math.log(_MOST_TIMES)
    high, width = np.full(shape, top), 2 * top
    for _ in range(_HALVINGS):
        width /= 2
        high = np.where(reaches(high - width), high - width, high)
    return np.where(reaches(high), np.exp(high), np.inf)
