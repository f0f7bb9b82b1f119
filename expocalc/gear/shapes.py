"""Shapes of a passband that is stated by centre and width.

References
----------
.. [macleod] Macleod, H. A., Thin-Film Optical Filters, multiple-cavity filters: near the band they have the maximally
   flat shape 1/(1 + x^2n) of n cavities (from memory).
"""

from __future__ import annotations

import math

import numpy as np

from expocalc.base.curve import EDGE_NM, RANGE_NM, Curve, Floats

__all__ = ["SHAPES", "stated"]

SHAPES = ("cavities", "box", "gaussian")
_SIGMA_PER_FWHM = 1 / math.sqrt(8 * math.log(2))
_CAVITIES = 3


def stated(shape: str, centre_nm: float, width_nm: float, peak: float) -> Curve:
    """Curve of a passband of some shape, centre, full width at half maximum and peak.

    Examples
    --------
    Half of the peak at half the width, whatever the shape:

    >>> [round(float(stated(shape, 656.3, 6.0, 0.9)(659.3)), 2) for shape in SHAPES]
    [0.45, 0.45, 0.45]
    """
    if shape == "box":
        low, high = centre_nm - width_nm / 2, centre_nm + width_nm / 2
        return Curve(
            np.array([low - EDGE_NM, low + EDGE_NM, high - EDGE_NM, high + EDGE_NM]), np.array([0, peak, peak, 0])
        )
    return _within(*(_gaussian if shape == "gaussian" else _cavities)(centre_nm, width_nm, peak))


def _gaussian(centre_nm: float, width_nm: float, peak: float) -> tuple[Floats, Floats]:
    """Cut at five sigma."""
    at = np.linspace(-5, 5, 101)
    return centre_nm + at * width_nm * _SIGMA_PER_FWHM, peak * np.exp(-(at**2) / 2)


def _cavities(centre_nm: float, width_nm: float, peak: float) -> tuple[Floats, Floats]:
    """Three equal cavities near their band, cut where a ten-thousandth passes [macleod]_."""
    side = np.concatenate((np.linspace(0.3, 0.6, 4), np.linspace(0.65, 1.6, 20), np.geomspace(1.68, 4.7, 16)))
    at = np.concatenate((-side[::-1], [0.0], side))
    return centre_nm + at * width_nm / 2, peak / (1 + at ** (2 * _CAVITIES))


def _within(x: Floats, y: Floats) -> Curve:
    inside = (x >= RANGE_NM[0]) & (x <= RANGE_NM[1])
    return Curve(x[inside], y[inside])
