"""How long a sub may be at most: by the mount, the brightest star, and the sky."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from expocalc.budget.case import Case
from expocalc.budget.parts import over_colours
from expocalc.budget.rates import Rates
from expocalc.budget.terms import Terms, terms_of

__all__ = ["BOUNDS", "Limits", "limits", "limits_of", "sub_limits"]

BOUNDS = ("mount", "saturation", "sky share")


class Limits(NamedTuple):
    """Longest sub by each bound, infinite where there is none; numbers or arrays that broadcast. [s]"""

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
        Arrays without the colour axis that broadcast.
    """
    in_peak_e_s = np.asarray(rate.peak_share)[..., None] * rate.bright_star_e_s
    return limits(terms, rate.sky_e_s + rate.dark_e_s, in_peak_e_s)


def limits(terms: Terms, dark_sky_e_s: Any, in_peak_e_s: Any) -> Limits:
    """As :func:`limits_of`, from sky and dark of a pixel and what it gets of the star that must not fill the well."""
    well = np.asarray(terms.saturation_e)
    with np.errstate(divide="ignore", over="ignore"):
        star = np.where(in_peak_e_s > 0, well[..., None] / (in_peak_e_s + dark_sky_e_s), np.inf)
        sky = np.multiply(terms.sky_share, well)[..., None] / dark_sky_e_s
    saturation, sky_share = over_colours(np.minimum, star), over_colours(np.minimum, sky)
    return Limits(mount=terms.mount_s, saturation=saturation, sky_share=sky_share)


def sub_limits(case: Case, rate: Rates) -> Limits:
    """Longest sub that the mount, the brightest star and the sky of one plan allow. [s]"""
    limits = limits_of(terms_of(case), rate)
    return Limits(mount=float(limits.mount), saturation=float(limits.saturation), sky_share=float(limits.sky_share))
