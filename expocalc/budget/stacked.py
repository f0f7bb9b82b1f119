"""From a case and the rates of a filter to what the model of the stack takes.

Rates may hold one number per colour, or arrays of draws with the colour as their last axis: a draw is then the very
model of the plan.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from expocalc.budget.calibration import Calibration
from expocalc.budget.case import Case
from expocalc.budget.estimator import Estimator
from expocalc.budget.rates import Rates
from expocalc.budget.stack import ELEMENT_AREA, Habits, Patch

__all__ = ["TYPICAL_FLATNESS", "habits_of", "patch_of"]

TYPICAL_FLATNESS = 3e-4
"""How uneven a background is where nobody says: an assumption, at the scale of a small patch and the sky beside it."""


def habits_of(case: Case, scale_arcsec: float, flatness: npt.ArrayLike | None = None) -> Habits:
    """How the subs of a case are taken and stacked; what the plan leaves out is perfect.

    Parameters
    ----------
    case : Case
    scale_arcsec : float
        Side of a pixel on the sky. [arcsec]
    flatness : array_like, optional
        Error of the background in place of the plan's, without colour axis. [-]
    """
    routine, setting, pattern = case.routine, case.camera.setting, case.camera.pattern
    background = routine.background_patch
    return Habits(
        estimator=Estimator(stacking=routine.stacking, clip=routine.clip, native_step_e=setting.native_step_e),
        calibration=Calibration(
            darks=routine.darks or math.inf,
            flats=routine.flats or math.inf,
            flat_e=routine.flat_level * float(setting.full_well.value),
            fixed_e=float(pattern.fixed.value),
            flat_pattern=pattern.flat,
        ),
        dither_every=routine.dither_every or math.inf,
        dither_box_px=float(routine.dither_size.value),
        background_px=math.inf if background is None else float(background.value) / scale_arcsec,
        flatness=(routine.background_flatness or 0.0) if flatness is None else flatness,
    )


def patch_of(case: Case, rate: Rates, light: str, sub_s: float) -> Patch:
    """One light of a filter: the target's patch, or the area of noise of a star's fit.

    Parameters
    ----------
    case : Case
    rate : Rates
        Of the filter; its arrays end with the colour axis.
    light : str
        Name of one of the lights that the filter passes.
    sub_s : float
        Length of a sub. [s]
    """
    other = rate.sky_e_s + sum(light_e_s for name, light_e_s in rate.extended.items() if name != light)
    if light in rate.stars:
        side = np.sqrt(np.maximum(1.0, ELEMENT_AREA * np.square(rate.fwhm_px)))
        signal = rate.stars[light] / np.square(side)[..., None]
    else:
        side, signal = float(case.target.patch.value) / rate.scale_arcsec, rate.extended[light]
    return Patch(
        side_px=side,
        sub_s=sub_s,
        signal_e_s=signal,
        light_e_s=other,
        dark_e_s=rate.dark_e_s,
        read_variance_e2=case.camera.setting.read_variance_e2,
        pixel_share=rate.pixel_share,
    )
