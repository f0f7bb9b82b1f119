"""From a case and the rates of a filter to what the model of the stack takes.

Rates may hold one number per colour, or arrays of draws with the colour as their last axis: a draw is then the very
model of the plan.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.budget.calibration import Calibration
from expocalc.budget.case import Case
from expocalc.budget.estimator import Estimator
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.rates import Rates
from expocalc.budget.routine import Routine
from expocalc.budget.stack import ELEMENT_AREA
from expocalc.gear.camera import Pattern
from expocalc.gear.gain import GainSetting

__all__ = ["faint_of", "habits_of", "light_of", "patch_of"]

UNEVEN_DARK = 1.0
"""Dark current differs between the pixels of a camera by as much as its mean, rms: assumed. [-]"""
UNEVEN_OFFSET_E = 0.5
"""Offset of the pixels of a camera, rms, which darks take out: assumed. [electron]"""
UNEVEN_LIGHT = 0.01
"""What flats take out, rms over pixels, as a share of the light: assumed, some 1 % of a modern sensor. [-]"""


def habits_of(case: Case, scale_arcsec: float, flatness: npt.ArrayLike | None = None) -> Habits:
    """How the subs of a case are taken and stacked.

    Without darks or flats what they would take out stays in the subs, alike in all.

    Parameters
    ----------
    case : Case
    scale_arcsec : float
        Side of a pixel on the sky. [arcsec]
    flatness : array_like, optional
        Error of the background in place of the plan's, without colour axis. [-]
    """
    camera = case.camera
    habits = _habits_of(case.routine, camera.setting, camera.pattern, scale_arcsec)
    return habits if flatness is None else replace(habits, flatness=flatness)


@lru_cache(maxsize=64)
def _habits_of(routine: Routine, setting: GainSetting, pattern: Pattern, scale_arcsec: float) -> Habits:
    background = routine.background_patch
    darks, flats = routine.frames("darks"), routine.frames("flats")
    return Habits(
        estimator=Estimator(stacking=routine.stacking, clip=routine.clip, native_step_e=setting.native_step_e),
        calibration=Calibration(
            darks=darks or math.inf,
            flats=flats or math.inf,
            flat_e=routine.flat_level * float(setting.full_well.value),
            dark_pattern=0.0 if darks else UNEVEN_DARK,
            fixed_e=math.hypot(float(pattern.fixed.value), 0.0 if darks else UNEVEN_OFFSET_E),
            flat_pattern=math.hypot(pattern.flat, 0.0 if flats else UNEVEN_LIGHT),
        ),
        dither_every=routine.dither_every or math.inf,
        dither_box_px=float(routine.dither_size.value),
        background_px=math.inf if background is None else float(background.value) / scale_arcsec,
        flatness=routine.flatness,
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
    side, signal, other = light_of(case, rate, light)
    return Patch(
        side_px=side,
        sub_s=sub_s,
        signal_e_s=signal,
        light_e_s=other,
        dark_e_s=rate.dark_e_s,
        read_variance_e2=case.camera.setting.read_variance_e2,
        pixel_share=rate.pixel_share,
        faint_e_s=faint_of(case, rate) if case.target.lumps else 0.0,
    )


def faint_of(case: Case, rate: Rates) -> Any:
    """Noise of the faint stars in a pixel, as of :class:`Patch`. [electron s-1]"""
    return math.sqrt(case.target.lumps) * rate.ab_zero_e_s / rate.scale_arcsec


def light_of(case: Case, rate: Rates, light: str) -> tuple[Any, Any, Any]:
    """Side of a light's patch, its own rate and that of all other light in a pixel. [pixel, electron s-1]"""
    other = rate.sky_e_s
    for name, light_e_s in rate.extended.items():
        if name != light:
            other = other + light_e_s
    if light not in rate.stars:
        return case.patch_of(light) / rate.scale_arcsec, rate.extended[light], other
    side = np.sqrt(np.maximum(1.0, ELEMENT_AREA * np.square(rate.fwhm_px)))
    return side, rate.stars[light] / np.square(side)[..., None], other
