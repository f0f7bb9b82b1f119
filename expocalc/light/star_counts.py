r"""Stars by the square degree: those too faint to be seen one by one stay in a patch and make it lumpy.

A patch holds a few of them, and another one more or fewer. For a surface density :math:`n(m)` of stars of magnitude m,
the variance of their light in an area A is :math:`A \int n(m)\,10^{-0.8 m}\,dm` in squares of a star of magnitude 0:
each star comes by chance (Campbell's theorem).

References
----------
.. [bahcall] Bahcall, J. N. & Soneira, R. M. 1980, ApJS 44, 73, appendix B: counts in V of a disc and a spheroid, to
   15 % from 20 degrees of galactic latitude on, magnitude 5 to 30 (coefficients as two public programs have them).
.. [hipparcos] ESA 1997, The Hipparcos and Tycho catalogues, vol. 1, eq. 1.5.11: pole and node of galactic coordinates.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

__all__ = ["LEAST_LATITUDE_DEG", "galactic", "lumps", "stars_brighter", "stars_per_mag"]

LEAST_LATITUDE_DEG = 20.0
"""Nearer to the plane of the Milky Way the counts are those of this latitude: there are more."""

# [bahcall]_ eqs. B1, B2: C1, alpha, beta, delta, m*, C2, kappa, eta, lambda, m-dagger
_PER_MAG = (200.0, -0.2, 0.01, 2.0, 15.0, 400.0, -0.26, 0.065, 1.5, 17.5)
_BRIGHTER = (925.0, -0.132, 0.035, 3.0, 15.75, 1050.0, -0.18, 0.087, 2.5, 17.5)
_POLE_DEG = 192.85948, 27.12825  # [hipparcos]_
_NODE_DEG = 122.93192
_FAINTEST, _STEP = 30.0, 0.05
_ARCSEC2_PER_DEG2 = 3600.0**2


def galactic(right_ascension_deg: float, declination_deg: float) -> tuple[float, float]:
    """Galactic longitude and latitude of a place on the sky [hipparcos]_. [deg]

    Examples
    --------
    >>> [round(angle, 1) for angle in galactic(83.82, -5.39)]
    [209.0, -19.4]
    """
    pole_ra, pole_dec = (math.radians(angle) for angle in _POLE_DEG)
    dec, east = math.radians(declination_deg), math.radians(right_ascension_deg) - pole_ra
    b = math.asin(math.sin(dec) * math.sin(pole_dec) + math.cos(dec) * math.cos(pole_dec) * math.cos(east))
    y = math.cos(dec) * math.sin(east)
    x = math.sin(dec) * math.cos(pole_dec) - math.cos(dec) * math.sin(pole_dec) * math.cos(east)
    return (_NODE_DEG - math.degrees(math.atan2(y, x))) % 360, math.degrees(b)


def _counts(numbers: tuple[float, ...], m: npt.ArrayLike, l_deg: float, b_deg: float) -> Any:
    disc, alpha, beta, delta, bright, spheroid, kappa, eta, lambda_, faint = numbers
    m = np.asarray(m, dtype=float)
    b = math.radians(max(abs(b_deg), LEAST_LATITUDE_DEG))
    inward = math.cos(math.radians(l_deg))
    toward = math.cos(b) * inward
    between = np.clip(m, 12.0, 20.0)
    mu = np.where(m > 20, 0.09, 0.0075 * (between - 12) + 0.03)
    gamma = np.where(m > 20, 0.04, 0.04 * (12 - between) + 0.36)
    slab = math.sin(b) * (1 - mu / math.tan(b) * inward)
    of_disc = disc * 10 ** (beta * (m - bright)) / (1 + 10 ** (alpha * (m - bright))) ** delta / slab ** (3 - 5 * gamma)
    round_ = (1 - toward) ** (1.45 - 0.2 * toward)
    return of_disc + spheroid * 10 ** (eta * (m - faint)) / (1 + 10 ** (kappa * (m - faint))) ** lambda_ / round_


def stars_per_mag(m: npt.ArrayLike, l_deg: float, b_deg: float) -> Any:
    """Stars of a V magnitude [bahcall]_. [deg-2 mag-1]

    Parameters
    ----------
    m : array_like
        5 to 30. [mag]
    l_deg, b_deg : float
        Galactic longitude and latitude. [deg]
    """
    return _counts(_PER_MAG, m, l_deg, b_deg)


def stars_brighter(m: npt.ArrayLike, l_deg: float, b_deg: float) -> Any:
    """Stars brighter than a V magnitude [bahcall]_; arguments as in :func:`stars_per_mag`. [deg-2]

    Examples
    --------
    >>> stars_brighter([16, 20], 0, 90).round(-1)
    array([ 190., 1440.])
    """
    return _counts(_BRIGHTER, m, l_deg, b_deg)


def lumps(removed_to_mag: float, l_deg: float, b_deg: float) -> float:
    """Variance of the light of all stars fainter than a magnitude, by area. [(star of mag 0)2 arcsec-2]

    Parameters
    ----------
    removed_to_mag : float
        Stars down to this V magnitude are seen and kept out of the patch. [mag]
    l_deg, b_deg : float
        Galactic longitude and latitude. [deg]

    Examples
    --------
    A magnitude further down leaves about a fourth of it:

    >>> round(lumps(17, 90, 30) / lumps(16, 90, 30), 2)
    0.25
    """
    m = np.arange(removed_to_mag, max(_FAINTEST, removed_to_mag + 1), _STEP) + _STEP / 2
    flux2 = stars_per_mag(m, l_deg, b_deg) * 10 ** (-0.8 * m)
    return float(flux2.sum() * _STEP / _ARCSEC2_PER_DEG2)
