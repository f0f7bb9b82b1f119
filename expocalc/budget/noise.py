r"""The noise of one sub in one pixel, and the shortest sub that read noise allows.

All functions take plain numbers or arrays that broadcast.

References
----------
.. [merline] Merline, W. J. & Howell, S. B. 1995, Experimental Astronomy 6, 163: the CCD equation with quantisation.
.. [howell] Howell, S. B. 2006, Handbook of CCD Astronomy, 2nd ed., Cambridge: ch. 4, variances of independent
   sources add.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

__all__ = ["hours_growth", "noise_growth", "shortest_sub_s", "sub_snr", "sub_variance_e2"]


def sub_variance_e2(electron_s: npt.ArrayLike, sub_s: npt.ArrayLike, read_variance_e2: npt.ArrayLike) -> Any:
    r"""Random variance of one sub in one pixel.

    .. math:: v = (s + b + d)\,t + R^2 + q_0^2

    Parameters
    ----------
    electron_s : array_like
        Target, sky and dark together, any shape. [electron s-1]
    sub_s : array_like
        Length of the sub. [s]
    read_variance_e2 : array_like
        Square of the read noise, plus that of quantisation where the read noise does not hold it. [electron2]

    Returns
    -------
    variance_e2 : float or ndarray
        Broadcast shape. [electron2]

    Notes
    -----
    A read noise measured from pairs of biases already holds quantisation; one by EMVA 1288 does not.

    Examples
    --------
    >>> float(sub_variance_e2(0.5, 300, 1.5**2))
    152.25
    """
    return np.multiply(electron_s, sub_s) + read_variance_e2


def sub_snr(
    target_e_s: npt.ArrayLike, electron_s: npt.ArrayLike, sub_s: npt.ArrayLike, read_variance_e2: npt.ArrayLike
) -> Any:
    """Signal over noise of one sub in one pixel [merline]_.

    Parameters
    ----------
    target_e_s : array_like
        Target alone. [electron s-1]
    electron_s : array_like
        Target, sky and dark together. [electron s-1]
    sub_s : array_like
        Length of the sub. [s]
    read_variance_e2 : array_like
        As in :func:`sub_variance_e2`. [electron2]

    Returns
    -------
    snr : float or ndarray
        Broadcast shape. [-]

    Examples
    --------
    Photon noise of the target alone is the square root of its count:

    >>> float(sub_snr(4.0, 4.0, 25.0, 0.0))
    10.0
    """
    return np.multiply(target_e_s, sub_s) / np.sqrt(sub_variance_e2(electron_s, sub_s, read_variance_e2))


def noise_growth(electron_s: npt.ArrayLike, sub_s: npt.ArrayLike, read_variance_e2: npt.ArrayLike) -> Any:
    """Share that read noise adds to the noise of the same light collected without it: 0.05 is 5 %. [-]

    Examples
    --------
    >>> round(float(noise_growth(1.0, 9.756, 1.0)), 3)
    0.05
    """
    with np.errstate(divide="ignore"):
        return np.sqrt(1 + np.divide(read_variance_e2, np.multiply(electron_s, sub_s))) - 1


def hours_growth(growth: npt.ArrayLike) -> Any:
    """The same growth of noise said in hours: noise squared is what time pays for. [-]

    Examples
    --------
    >>> round(float(hours_growth(0.05)), 4)
    0.1025
    """
    return (1 + np.asarray(growth)) ** 2 - 1


def shortest_sub_s(electron_s: npt.ArrayLike, read_variance_e2: npt.ArrayLike, growth: npt.ArrayLike) -> Any:
    r"""Shortest sub in which read noise adds no more than `growth` to the noise.

    .. math:: t = \frac{R^2 + q_0^2}{\left((1+p)^2 - 1\right)(s + b + d)}

    Parameters
    ----------
    electron_s : array_like
        Target, sky and dark together. [electron s-1]
    read_variance_e2 : array_like
        As in :func:`sub_variance_e2`. [electron2]
    growth : array_like
        Allowed growth of noise `p`, above 0. [-]

    Returns
    -------
    sub_s : float or ndarray
        Infinite where nothing but read noise is there, 0 without read noise. [s]

    Examples
    --------
    >>> round(float(shortest_sub_s(0.109, 1.5**2, 0.05)))
    201
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        found = np.divide(read_variance_e2, hours_growth(growth) * np.asarray(electron_s))
    return np.where(np.asarray(read_variance_e2) == 0, 0.0, found)
