r"""Which electrons per ADU to believe: noise that fits the level says which.

A level of S electrons has the noise sqrt(S + R^2), whatever anybody wrote into a header. So a level and a noise that
were measured in ADU tell apart values that differ by the factor of 4 or 16 that 14 and 12 bits stored in 16 bring.

References
----------
.. [janesick] Janesick, J. R. 2007, Photon Transfer, SPIE Press, ch. 4 (from memory): variance over mean is
   1 / (electrons per ADU) where light rules.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from expocalc.base.words import say_number
from expocalc.frames.read.fits import Frame
from expocalc.frames.read.header import GIVEN

__all__ = ["Gain", "gain_of", "noise_e"]

FITS = 1.25
"""A noise squared within this factor of the expected one fits it."""
PATTERN = 0.01
"""Unevenness of the response that a single frame's noise may hold: common practice, no source."""
PLAN = "plan"


@dataclass(frozen=True, kw_only=True)
class Gain:
    """Electrons per stored ADU.

    Attributes
    ----------
    electrons_per_adu : float
        [electron/ADU]
    origin : str
        "given", the header's keyword, or "plan".
    fits : bool or None
        Whether the measured noise fits it; None where the level is too low to tell, or its bias is not known.
    warning : str
        One sentence where something contradicts, else empty.
    """

    electrons_per_adu: float
    origin: str
    fits: bool | None
    warning: str = ""


def noise_e(electrons: float, read_noise_e: float) -> float:
    """Noise of a pixel with that many electrons, dark ones included. [electron]

    Examples
    --------
    >>> round(noise_e(80.0, 1.5), 2)
    9.07
    """
    return math.sqrt(max(electrons, 0.0) + read_noise_e**2)


def _fit(level_adu: float, noise_adu: float, gain: float, read_noise_e: float, single: bool) -> bool | None:
    electrons = level_adu * gain
    expected = max(electrons, 0.0) + read_noise_e**2
    if electrons < max(read_noise_e**2, 1.0):
        return None
    found = (noise_adu * gain) ** 2
    most = FITS * expected + ((PATTERN * electrons) ** 2 if single else 0.0)
    return expected / FITS <= found <= most


def gain_of(
    frame: Frame,
    level_adu: float | None,
    noise_adu: float,
    read_noise_e: float,
    plan_gain: float | None = None,
    single: bool = True,
) -> Gain | None:
    """Electrons per ADU of a frame: what a person gave, else the header's, else the plan's; None where no one says it.

    Parameters
    ----------
    frame : Frame
    level_adu : float or None
        Level above the bias; None where the bias is not known. [ADU]
    noise_adu : float
        [ADU]
    read_noise_e : float
        0 where it is not known. [electron]
    plan_gain : float, optional
        [electron/ADU]
    single : bool, optional
        Whether the noise is that of one frame, with the pixels' pattern in it.

    Returns
    -------
    Gain or None
    """
    stated = frame.known.electrons_per_adu
    origin = frame.known.origin.get("electrons_per_adu", "")
    if stated is None:
        stated, origin = plan_gain, PLAN
    if stated is None:
        return None
    fits = None if level_adu is None else _fit(level_adu, noise_adu, stated, read_noise_e, single)
    if fits is not False or level_adu is None:
        return Gain(electrons_per_adu=stated, origin=origin, fits=fits)
    step = frame.step_adu
    if origin not in (GIVEN, PLAN) and step > 1 and _fit(level_adu, noise_adu, stated / step, read_noise_e, single):
        told = (
            f"{origin} of {frame.name} is {stated:.4g} electrons per step of the converter, not per stored ADU: "
            f"the noise fits {stated / step:.4g}, a {step:g}th of it, which is used here"
        )
        return Gain(electrons_per_adu=stated / step, origin=f"{origin} / {step:g}", fits=True, warning=told)
    where = {GIVEN: "the value given", PLAN: "the plan's value"}.get(origin, f"{origin} of the header")
    found = level_adu / max(noise_adu**2 - (read_noise_e / stated) ** 2, 1e-12)
    told = (
        f"The noise of {frame.name} contradicts {where}, {stated:.4g} electrons per ADU: by its noise about "
        f"{say_number(found)}"
    )
    return Gain(electrons_per_adu=stated, origin=origin, fits=False, warning=told)
