"""A stack beside its prediction: does the grain fall as it should, and if not, which term is to blame."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_count, say_number
from expocalc.budget.answer import answer_filter, filter_named
from expocalc.budget.case import Case
from expocalc.budget.noise import sub_variance_e2
from expocalc.budget.row import FilterAnswer
from expocalc.budget.stack import snr_per_patch
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.frames.measure.grain import Blocks, Falling, falling, half_difference, noise_by_block
from expocalc.frames.measure.picture import Measured, measured_snr
from expocalc.frames.measure.pile import Pile
from expocalc.frames.read.header import FrameError
from expocalc.frames.simulate.scene import Mask

__all__ = ["StackTold", "square", "tell_stack"]

AGREES = 1.15
"""Noise within this factor of the predicted one is what was planned."""
_SHARED = 1.15
_STARS = 4.0
_ALIKE = 1.3


@dataclass(frozen=True, eq=False, kw_only=True)
class StackTold:
    """A stack beside the plan.

    Attributes
    ----------
    falling : Falling
        Noise against the number of subs. [electron]
    predicted_e : ndarray
        The plan's for each of them. [electron]
    blocks : Blocks
        Noise of squares, of half of the difference of two halves. [electron]
    half_noise_e : float
        Of a pixel of that difference: what chance makes. [electron]
    blame : str
        Term that makes the difference: "none", "pattern", "sky or read noise", "quieter".
    measured : Measured or None
        Signal and noise of the patch, where one was named. [electron]
    predicted_snr : float or None
        Of a patch of its size, by the plan.
    sentences : tuple of str
        Headline first.
    """

    falling: Falling
    predicted_e: Floats
    blocks: Blocks
    half_noise_e: float
    blame: str
    measured: Measured | None
    predicted_snr: float | None
    sentences: tuple[str, ...]


def square(shape: tuple[int, int], row: int, column: int, side: int) -> Mask:
    """Mask of a square around a place; FrameError where it leaves the picture.

    Examples
    --------
    >>> int(square((20, 20), 10, 10, 4).sum())
    16
    """
    top, left = row - side // 2, column - side // 2
    if side < 1 or min(top, left) < 0 or top + side > shape[0] or left + side > shape[1]:
        msg = (
            f"a square of {side} pixels around row {row}, column {column} leaves the picture of "
            f"{shape[1]} x {shape[0]} pixels"
        )
        raise FrameError(msg)
    found = np.zeros(shape, dtype=bool)
    found[top : top + side, left : left + side] = True
    return found


def tell_stack(
    pile: Pile, case: Case, filter_name: str, patch: Mask | None = None, sky: Mask | None = None
) -> StackTold:
    """A stack beside the plan.

    Parameters
    ----------
    pile : Pile
        Subs laid on each other.
    case : Case
    filter_name : str
    patch, sky : ndarray of bool, optional
        Where the target is and where it is not, on the pile's pictures.

    Returns
    -------
    StackTold

    Raises
    ------
    FrameError
        If a mask is empty.
    """
    fall = falling(pile.pictures, pile.subs)
    half = half_difference(*pile.halves)
    low, high = np.percentile(half, [15.865, 84.135])
    half_noise = float(high - low) / 2
    now = answer_filter(case, filter_named(case, filter_name))[0]
    at = now.rates.colours.index("G") if "G" in now.rates.colours else 0
    dark_sky = float(now.rates.sky_e_s[at] + now.rates.dark_e_s)
    variance = float(sub_variance_e2(dark_sky, pile.sub_s, case.camera.setting.read_variance_e2))
    predicted = np.sqrt(variance / fall.subs)
    blocks = noise_by_block(half)
    blame, sentences = _words(float(fall.noise[-1]), float(predicted[-1]), half_noise, pile.subs[-1], blocks.excess)
    measured = snr = None
    if patch is not None and sky is not None:
        try:
            picture = pile.pictures[-1]
            measured = measured_snr(picture, _without_stars(picture, patch), _without_stars(picture, sky))
        except ValueError as error:
            raise FrameError(str(error)) from None
        snr = _planned_snr(case, now, at, pile, float(patch.sum()))
        sentences = (*sentences, _patch_words(measured, snr, float(patch.sum())))
    return StackTold(
        falling=fall, predicted_e=predicted, blocks=blocks, half_noise_e=half_noise, blame=blame, measured=measured,
        predicted_snr=snr, sentences=tuple(sentences),
    )  # fmt: skip


def _without_stars(picture: Floats, mask: Mask) -> Mask:
    """Pixels of a mask but those that stand out by more than four of their own standard deviations."""
    if not mask.any():
        return mask
    low, middle = np.percentile(picture[mask], [15.865, 50])
    return mask & (np.abs(picture - middle) <= _STARS * max(middle - low, 1e-9))


def _planned_snr(case: Case, now: FilterAnswer, at: int, pile: Pile, pixels: float) -> float | None:
    """SNR that the plan expects of one colour's pixels of a patch; None without an extended light."""
    light = now.neediest.light
    if light is None or light not in now.rates.extended:
        return None
    planned = patch_of(case, now.rates, light, pile.sub_s)
    only = np.where(np.arange(len(now.rates.colours)) == at, 1.0, 0.0)
    planned = replace(planned, side_px=math.sqrt(pixels), pixel_share=only)
    return float(snr_per_patch(planned, habits_of(case, now.rates.scale_arcsec), pile.subs[-1]))


def _patch_words(measured: Measured, snr: float | None, pixels: float) -> str:
    first = f"The square of {pixels:.0f} pixels shows SNR {say_number(measured.snr_patch)}"
    if snr is None:
        return f"{first}; the plan has no extended light here."
    # what is measured is off by one: the noise that it is measured in
    if abs(measured.snr_patch - snr) <= max(2.0, 0.2 * snr):
        return f"{first}, the plan expects {say_number(snr)}: both agree."
    way = "fainter" if measured.snr_patch < snr else "brighter"
    return f"{first}, the plan expects {say_number(snr)}: the target is {way} here, or the grain is not as planned."


def _words(noise: float, predicted: float, half: float, subs: int, excess: float) -> tuple[str, Sequence[str]]:
    """Term that makes the grain differ, and the sentences on it."""
    ratio, shared = noise / predicted, noise / half
    grain = f"the grain is {say_number(noise)} electron in a pixel, the plan says {say_number(predicted)}"
    first = f"{say_count(subs, 'sub')}: {grain}"
    rest = [
        f"Two halves of the subs differ by a grain of {say_number(half)} electron: that much is chance. "
        + (
            f"The picture's is {say_number(shared)} times as much: the rest is the same in both halves, pattern or "
            "nebula and faint stars, which more subs do not remove."
            if shared > _SHARED
            else "The picture has no more than that: nothing is shared by all subs."
        ),
        f"The widest squares are {say_number(excess)} times as noisy as independent pixels would be: neighbours are "
        "alike (rows, slopes, smoothing)."
        if excess > _ALIKE
        else "Wider squares get quieter as they should: neighbouring pixels are independent.",
    ]
    if ratio > AGREES and half / predicted > AGREES:
        return "sky or read noise", (
            f"{first}: more chance than planned, so a brighter sky or more read noise.", *rest
        )  # fmt: skip
    if ratio > AGREES:
        return "pattern", (f"{first}: what all subs share makes the difference.", *rest)
    if ratio < 1 / AGREES:
        return "quieter", (f"{first}: quieter than planned, so a darker sky, or other electrons per ADU.", *rest)
    return "none", (f"{first}: it falls as it should.", *rest)
