r"""Moonlight scattered by the air: how bright it makes the sky in V.

The brightness in V is the model of [krisciunas]_, with its own equation numbers, in nanolamberts. It takes the Moon's
phase, how far away it stands, both altitudes and the extinction in V; its authors found it within 8 to 23 % of clear
nights on a mountain. Haze scatters more, and no formula knows tonight's. It leaves out the surge of the last seven
degrees before full Moon, about a third more light (from memory).

Its colour is :mod:`expocalc.light.moon_colour`.

References
----------
.. [krisciunas] Krisciunas, K. & Schaefer, B. E. 1991, PASP 103, 1033: a model of the brightness of moonlight.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats

__all__ = [
    "dark_sky_nl",
    "dust_part",
    "molecule_part",
    "moon_footcandle",
    "moon_magnitude",
    "moonlight_nl",
    "phase_angle_deg",
    "scattering_airmass",
]

NEAR_DEG = 10.0
"""Closer to the Moon than this, light scattered by dust follows another branch (from memory). [deg]"""


def moon_magnitude(phase_deg: npt.ArrayLike) -> Floats:
    r"""V magnitude of the whole Moon above the air [krisciunas]_.

    .. math:: V = -12.73 + 0.026\,|\alpha| + 4 \times 10^{-9}\,\alpha^4

    Parameters
    ----------
    phase_deg : array_like
        Phase angle, 0 at full Moon, 90 at the quarters, 180 at new Moon, any shape. [deg]

    Returns
    -------
    ndarray
        At mean distance; the Moon is up to 0.15 mag brighter or fainter as it comes near or goes far. [mag]

    Examples
    --------
    >>> moon_magnitude([0, 90]).round(2)
    array([-12.73, -10.13])
    """
    alpha = np.abs(np.asarray(phase_deg, dtype=np.float64))
    return -12.73 + 0.026 * alpha + 4e-9 * alpha**4  # [krisciunas]_ eq. 9


def moon_footcandle(phase_deg: npt.ArrayLike) -> Floats:
    """Illuminance by the Moon above the air, I* of [krisciunas]_. [footcandle].

    Parameters
    ----------
    phase_deg : array_like
        As in :func:`moon_magnitude`. [deg]

    Examples
    --------
    >>> f"{moon_footcandle(0.0):.4f}"
    '0.0291'
    """
    return np.asarray(10 ** (-0.4 * (moon_magnitude(phase_deg) + 16.57)))  # [krisciunas]_ eq. 8


def scattering_airmass(altitude_deg: npt.ArrayLike) -> Floats:
    """Airmass of this model: 5 at the horizon, where scattering sees less air than a star does.

    Parameters
    ----------
    altitude_deg : array_like
        Any shape. [deg]

    Examples
    --------
    >>> scattering_airmass([0, 90]).round(2)
    array([5., 1.])
    """
    sin_zenith = np.cos(np.radians(np.asarray(altitude_deg, dtype=np.float64)))
    return (1 - 0.96 * sin_zenith**2) ** -0.5  # [krisciunas]_ eq. 3


def molecule_part(separation_deg: npt.ArrayLike) -> Floats:
    """Scattering by molecules at an angle from the Moon, first term of f. [nanolambert per footcandle].

    Parameters
    ----------
    separation_deg : array_like
        Any shape. [deg]

    Examples
    --------
    >>> f"{molecule_part(90.0):.4g}"
    '2.428e+05'
    """
    cosine = np.cos(np.radians(np.asarray(separation_deg, dtype=np.float64)))
    return 10**5.36 * (1.06 + cosine**2)  # [krisciunas]_ eq. 21


def dust_part(separation_deg: npt.ArrayLike) -> Floats:
    """Scattering by dust at an angle from the Moon, second term of f. [nanolambert per footcandle].

    Parameters
    ----------
    separation_deg : array_like
        Above 0, any shape. [deg]

    Notes
    -----
    Within 10 degrees of the Moon it is 6.2e7 over the angle squared, a branch that is from memory and meets the other
    one with a step of 22 %.

    Examples
    --------
    >>> f"{dust_part(90.0):.3g}"
    '7.94e+03'
    """
    rho = np.asarray(separation_deg, dtype=np.float64)
    with np.errstate(divide="ignore"):
        near = 6.2e7 * rho**-2.0
    return np.where(rho < NEAR_DEG, near, 10 ** (6.15 - rho / 40))  # [krisciunas]_ eq. 21


def moonlight_nl(
    phase_deg: npt.ArrayLike,
    separation_deg: npt.ArrayLike,
    moon_altitude_deg: npt.ArrayLike,
    target_altitude_deg: npt.ArrayLike,
    k: npt.ArrayLike,
) -> Floats:
    r"""What moonlight alone adds to the sky in V [krisciunas]_.

    .. math:: B = f(\rho)\,I^*\,10^{-0.4\,k X_\mathrm{Moon}}\,\left(1 - 10^{-0.4\,k X}\right)

    Parameters
    ----------
    phase_deg : array_like
        As in :func:`moon_magnitude`; all arguments broadcast. [deg]
    separation_deg : array_like
        Between Moon and target. [deg]
    moon_altitude_deg, target_altitude_deg : array_like
        Above the horizon. [deg]
    k : array_like
        Extinction in V. [mag/airmass]

    Returns
    -------
    ndarray
        0 where the Moon is at or below the horizon, NaN where the target is. [nanolambert]

    Examples
    --------
    A Moon half way from full to quarter, 20 degrees up, over a target 70 degrees up:

    >>> from expocalc.light.reading import NANOLAMBERT_BY_MAG, v_of_nanolambert
    >>> round(v_of_nanolambert(moonlight_nl(45, 50, 20, 70, 0.15)), 3)
    19.855
    """
    f = molecule_part(separation_deg) + dust_part(separation_deg)
    moon_up, target_up = np.asarray(moon_altitude_deg) > 0, np.asarray(target_altitude_deg) > 0
    arriving = 10 ** (-0.4 * np.multiply(k, scattering_airmass(moon_altitude_deg)))
    scattered = 1 - 10 ** (-0.4 * np.multiply(k, scattering_airmass(target_altitude_deg)))
    light = f * moon_footcandle(phase_deg) * arriving * scattered  # [krisciunas]_ eq. 15
    return np.where(target_up, np.where(moon_up, light, 0.0), np.nan)


def dark_sky_nl(zenith_nl: npt.ArrayLike, altitude_deg: npt.ArrayLike, k: npt.ArrayLike) -> Floats:
    """Moonless natural sky away from the zenith [krisciunas]_: airglow over more air. [nanolambert].

    Parameters
    ----------
    zenith_nl : array_like
        Moonless zenith, 79 nL on Mauna Kea. [nanolambert]
    altitude_deg : array_like
        [deg]
    k : array_like
        Extinction in V. [mag/airmass]

    Examples
    --------
    >>> round(float(dark_sky_nl(79.0, 90.0, 0.172)), 1)
    79.0
    """
    x = scattering_airmass(altitude_deg)
    return np.asarray(np.multiply(zenith_nl, 10 ** (-0.4 * np.multiply(k, x - 1)) * x))  # [krisciunas]_ eq. 2


def phase_angle_deg(illuminated: npt.ArrayLike) -> Floats:
    """Phase angle from the lit share of the Moon's disc. [deg].

    Parameters
    ----------
    illuminated : array_like
        0 at new Moon to 1 at full Moon, any shape. [-]

    Examples
    --------
    >>> phase_angle_deg([1.0, 0.5, 0.0])
    array([  0.,  90., 180.])
    """
    return np.degrees(np.arccos(2 * np.asarray(illuminated, dtype=np.float64) - 1))
