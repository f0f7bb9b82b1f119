"""How long a sub may be at most: by the mount, the brightest star, and the sky."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from expocalc.budget.case import Case
from expocalc.budget.rates import Rates
from expocalc.budget.terms import Terms, terms_of

__all__ = ["BOUNDS", "Limits", "limits_of", "sub_limits"]

BOUNDS = ("mount", "saturation", "sky share")


@dataclass(frozen=True, eq=False, kw_only=True)
class Limits:
    """Longest sub by each bound, infinite where there is none; numbers or arrays of one shape. [s]"""

    mount: Any
    saturation: Any
    sky_share: Any

    @property
    def least_s(self) -> Any:
        """The closest bound. [s]"""
        return np.minimum(np.minimum(self.mount, self.saturation), self.sky_share)

    @property
    def least(self) -> tuple[float, str]:
        """The closest bound of one plan, and its name."""
        bounds = dict(zip(BOUNDS, map(float, (self.mount, self.saturation, self.sky_share)), strict=True))
        name = min(bounds, key=lambda key: bounds[key])
        return bounds[name], name


def limits_of(terms: Terms, rate: Rates) -> Limits:
    """Longest sub that mount, brightest star and sky allow.

    Parameters
    ----------
    terms : Terms
    rate : Rates
        Of one filter; arrays end with the colour axis.

    Returns
    -------
    Limits
        Arrays of the broadcast shape without the colour axis.
    """
    well = np.asarray(terms.saturation_e)
    dark_sky = rate.sky_e_s + rate.dark_e_s
    with np.errstate(divide="ignore", over="ignore"):
        in_peak = rate.peak_share * rate.bright_star_e_s
        star = np.where(in_peak > 0, well[..., None] / (in_peak + dark_sky), np.inf).min(axis=-1)
        sky = (np.multiply(terms.sky_share, well)[..., None] / dark_sky).min(axis=-1)
    mount, star, sky = np.broadcast_arrays(terms.mount_s, star, sky)
    return Limits(mount=mount, saturation=star, sky_share=sky)


def sub_limits(case: Case, rate: Rates) -> Limits:
    """Longest sub that the mount, the brightest star and the sky of one plan allow. [s]"""
    limits = limits_of(terms_of(case), rate)
    return Limits(mount=float(limits.mount), saturation=float(limits.saturation), sky_share=float(limits.sky_share))
