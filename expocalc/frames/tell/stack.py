"""A stack beside its prediction: is the SNR what the plan says, and if not, which term is to blame."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_number
from expocalc.budget.answer import answer_filter, filter_named
from expocalc.budget.case import Case
from expocalc.budget.noise import sub_variance_e2
from expocalc.budget.stack import snr_per_patch
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.frames.measure.grain import Blocks, Falling, noise_by_block
from expocalc.frames.measure.picture import Measured, measured_snr
from expocalc.frames.read.header import FrameError
from expocalc.frames.simulate.scene import Mask

__all__ = ["StackTold", "square", "tell_stack"]

_AGREES = 1.15
_ALIKE = 1.4


@dataclass(frozen=True, eq=False, kw_only=True)
class StackTold:
    """A stack beside the plan.

    Attributes
    ----------
    measured : Measured
        Of the patch, in the picture's unit.
    predicted_snr : float
        Of the same patch by the plan, perfectly calibrated. [-]
    predicted_noise_e : float
        Of one pixel. [electron]
    noise_e : float
        Measured. [electron]
    blocks : Blocks
    falling : Falling or None
    blame : str
        Term that makes the difference: "none", "pattern", "correlated", "sky or read noise", "signal".
    verdict : str
    """

    measured: Measured
    predicted_snr: float
    predicted_noise_e: float
    noise_e: float
    blocks: Blocks
    falling: Falling | None
    blame: str
    verdict: str


def square(shape: tuple[int, int], row: int, column: int, side: int) -> Mask:
    """Mask of a square around a place; FrameError where it leaves the picture."""
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
    picture_e: Floats,
    patch: Mask,
    sky: Mask,
    subs: int,
    sub_s: float,
    case: Case,
    filter_name: str,
    falling: Falling | None = None,
) -> StackTold:
    """A linear stack beside the plan.

    Parameters
    ----------
    picture_e : ndarray
        Mean of the subs, in electron, not stretched, shape (rows, columns). [electron]
    patch, sky : ndarray of bool
        Where the target is and where it is not; on a mosaic, of one colour.
    subs : int
    sub_s : float
        [s]
    case : Case
    filter_name : str
    falling : Falling, optional
        Noise against the number of subs, where they are at hand.

    Returns
    -------
    StackTold

    Raises
    ------
    FrameError
        If the numbers of subs or seconds are not above 0, or a mask is empty.
    """
    if subs < 1 or not sub_s > 0:
        msg = f"a stack needs its number of subs and their length above 0, got {subs} and {sub_s:g} s"
        raise FrameError(msg)
    try:
        measured = measured_snr(picture_e, patch, sky)
    except ValueError as error:
        raise FrameError(str(error)) from None
    now = answer_filter(case, filter_named(case, filter_name))[0]
    rate = now.rates
    at = rate.colours.index(now.neediest.colour) if now.neediest.colour else 0
    read = case.camera.setting.read_variance_e2
    # what the sky square itself holds: the target's other light is not in it
    variance = float(sub_variance_e2(float(rate.sky_e_s[at] + rate.dark_e_s), sub_s, read))
    predicted = math.sqrt(variance / subs)
    side = math.sqrt(float(patch.sum()))
    light = now.neediest.light
    if light is not None and light in rate.extended:
        planned = patch_of(case, rate, light, sub_s)
        planned = replace(planned, side_px=side, pixel_share=np.where(np.arange(len(rate.colours)) == at, 1.0, 0.0))
        habits = habits_of(case, rate.scale_arcsec)
        predicted_snr = float(snr_per_patch(planned, habits, subs))
    else:
        predicted_snr = math.nan
    rows, columns = np.flatnonzero(sky.any(axis=1)), np.flatnonzero(sky.any(axis=0))
    window = picture_e[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    blocks = noise_by_block(window)
    blame, why = _blame(measured, predicted, predicted_snr, blocks, falling)
    verdict = (
        f"The square shows SNR {say_number(measured.snr_patch)}, the plan says {say_number(predicted_snr)} for its "
        f"size and {subs} subs. The grain is {say_number(measured.noise)} electron in a pixel, "
        f"{say_number(predicted)} by sky, dark current and read noise. {why}."
    )
    return StackTold(
        measured=measured, predicted_snr=predicted_snr, predicted_noise_e=predicted, noise_e=measured.noise,
        blocks=blocks, falling=falling, blame=blame, verdict=verdict,
    )  # fmt: skip


def _blame(
    measured: Measured, predicted: float, predicted_snr: float, blocks: Blocks, falling: Falling | None
) -> tuple[str, str]:
    """The term that makes the difference, and the sentence on it."""
    more = measured.noise / predicted
    if falling is not None and falling.common > 0.5 * measured.noise:
        return "pattern", (
            f"With more subs it stops falling at {say_number(falling.common)}: what all subs share (pattern, masters "
            "of too few frames) is to blame, and a wider dither or more darks and flats are the cure"
        )
    if blocks.excess > _ALIKE:
        return "correlated", (
            f"Squares of {blocks.side_px[-1]} pixels are {say_number(blocks.excess)} times as noisy as independent "
            "pixels would be: neighbours are alike (pattern, laying on each other, smoothing, a gradient), so single "
            "pixels flatter the picture"
        )
    if more > _AGREES:
        return "sky or read noise", (
            f"That is {say_number(more)} times the prediction, and wider squares fall as they should: a brighter sky "
            "or more read noise than planned is to blame; a test sub tells which"
        )
    if more < 1 / _AGREES:
        return "smoothed", (
            f"That is only {say_number(more)} of the prediction: the picture was smoothed or scaled, or the "
            "electrons per ADU are not these"
        )
    share = measured.snr_patch / predicted_snr if predicted_snr > 0 else math.nan
    if math.isfinite(share) and not 1 / 1.3 < share < 1.3:
        way = "fainter" if share < 1 else "brighter"
        return "signal", f"The grain is as predicted: the target is {way} here than the plan takes it"
    return "none", "Both agree"
