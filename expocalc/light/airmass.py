r"""How much air one looks through, and how much of a glowing layer.

References
----------
.. [kasten] Kasten, F. & Young, A. T. 1989, Appl. Opt. 28, 4735: relative airmass, eq. 3 and table II.
.. [pickering] Pickering, K. A. 2002, DIO 12, 3: airmass from apparent altitude.
.. [rhijn] van Rhijn, P. J. 1921, Publ. Kapteyn Astron. Lab. 31; Leinert, C. et al. 1998, A&AS 127, 1, sec. 5.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats

__all__ = ["airmass", "kasten_young_1989", "natural_factor", "pickering_2002", "van_rhijn"]

EARTH_KM, AIRGLOW_KM = 6378.0, 90.0
"""Radius of the Earth and usual height of the airglow. [km] [rhijn]_"""


def kasten_young_1989(zenith_deg: npt.ArrayLike) -> Floats:
    """Airmass at an apparent zenith distance.

    Parameters
    ----------
    zenith_deg : array_like
        Apparent distance from the zenith, 0 to 90, any shape. [deg]

    Returns
    -------
    ndarray
        Airmass relative to the zenith (0.9997 there, as the fit has it); NaN below the horizon.

    Examples
    --------
    >>> float(kasten_young_1989(60.0).round(3))
    1.994
    """
    z = np.asarray(zenith_deg, dtype=np.float64)
    z = np.where((z >= 0) & (z <= 90), z, np.nan)
    return 1 / (np.cos(np.radians(z)) + 0.50572 * (96.07995 - z) ** -1.6364)  # [kasten]_ eq. 3


def pickering_2002(altitude_deg: npt.ArrayLike) -> Floats:
    """Airmass at an apparent altitude.

    Parameters
    ----------
    altitude_deg : array_like
        Apparent altitude, 0 to 90, any shape. [deg]

    Returns
    -------
    ndarray
        Airmass relative to the zenith; NaN below the horizon.

    Examples
    --------
    >>> float(pickering_2002(30.0).round(3))
    1.993
    """
    h = np.asarray(altitude_deg, dtype=np.float64)
    h = np.where((h >= 0) & (h <= 90), h, np.nan)
    return 1 / np.sin(np.radians(h + 244 / (165 + 47 * h**1.1)))  # [pickering]_


def van_rhijn(zenith_deg: npt.ArrayLike, height_km: float = AIRGLOW_KM) -> Floats:
    """How many times more of a glowing layer one looks through than at the zenith, without extinction [rhijn]_.

    Parameters
    ----------
    zenith_deg : array_like
        Distance from the zenith, 0 to 90, any shape. [deg]
    height_km : float
        Of the layer. [km]

    Examples
    --------
    >>> van_rhijn([0, 45, 60]).round(4)
    array([1.    , 1.3951, 1.9219])
    """
    sine = np.sin(np.radians(np.asarray(zenith_deg, dtype=np.float64)))
    return (1 - (EARTH_KM / (EARTH_KM + height_km) * sine) ** 2) ** -0.5


def natural_factor(altitude_deg: npt.ArrayLike, k: npt.ArrayLike) -> Floats:
    """How many times brighter than at the zenith the natural sky is at an altitude: more layer, more extinction.

    Parameters
    ----------
    altitude_deg : array_like
        Above 0, any shape. [deg]
    k : array_like
        Extinction. [mag/airmass]

    Notes
    -----
    All of the natural sky is treated as its airglow. Starlight and zodiacal light do not brighten downwards, but are
    the smaller part. The sky at the zenith is as observed: only the extinction beyond one airmass counts.

    Examples
    --------
    >>> float(natural_factor(30.0, 0.2).round(2))
    1.6
    """
    altitude = np.asarray(altitude_deg, dtype=np.float64)
    return van_rhijn(90 - altitude) * 10 ** (-0.4 * np.multiply(k, airmass(altitude) - 1))


airmass = pickering_2002
"""The airmass that the package uses, from apparent altitude. [deg]."""
