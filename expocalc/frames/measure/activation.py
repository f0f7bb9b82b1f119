r"""Activation law of dark current, and the glow beside it, from the rates at several temperatures.

.. math:: D(T) = D_0 \exp\left[-\frac{E}{k}\left(\frac{1}{T} - \frac{1}{T_0}\right)\right] + g

References
----------
.. [widenhorn] Widenhorn, R. et al. 2002, Proc. SPIE 4669, 193: the activation law of dark current.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.frames.measure.darks import DarkRate
from expocalc.gear.dark_current import BOLTZMANN_EV_K, ZERO_CELSIUS_K

__all__ = ["Activation", "activation"]

_ENERGIES_EV = np.linspace(0.1, 2.0, 1901)


@dataclass(frozen=True, kw_only=True)
class Activation:
    """Activation law through several temperatures, each number with the ends of its interval. [eV], [electron s-1]"""

    ev: float
    low_ev: float
    high_ev: float
    glow_e_s: float | None
    glow_low_e_s: float | None = None
    glow_high_e_s: float | None = None


@dataclass(frozen=True, eq=False)
class _Fits:
    """Fits of rate = a law + glow, one for each energy.

    Attributes
    ----------
    chi2, glow : ndarray
        Least chi squared with a glow of 0 or more, and that glow. [-], [electron s-1]
    free_chi2, free_glow : ndarray
        The same where glow may be below 0.
    stiffness : ndarray
        By how much chi squared grows with the glow's distance from `free_glow`, squared; 0 without glow.
    """

    chi2: Floats
    glow: Floats
    free_chi2: Floats
    free_glow: Floats
    stiffness: Floats

    def glow_span(self, most: float) -> tuple[float, float]:
        """Lowest and highest glow, 0 or more, with which any energy has a chi squared up to `most`."""
        near = (self.free_chi2 <= most) & (self.stiffness > 0)
        reach = np.sqrt((most - self.free_chi2[near]) / self.stiffness[near])
        low, high = self.free_glow[near] - reach, self.free_glow[near] + reach
        return max(float(low.min()), 0.0), max(float(high.max()), 0.0)


def _fits(law: Floats, rate: Floats, weight: Floats, with_glow: bool) -> _Fits:
    """Fit every row of `law`."""
    xx, xy, yy = (law**2 * weight).sum(axis=1), (law * rate * weight).sum(axis=1), float((rate**2 * weight).sum())
    chi2, none = yy - xy**2 / xx, np.zeros(len(law))
    if not with_glow:
        return _Fits(chi2, none, chi2, none, none)
    x, y, one = (law * weight).sum(axis=1), float((rate * weight).sum()), float(weight.sum())
    determinant = np.maximum(xx * one - x**2, 1e-300)
    scale, more = (xy * one - x * y) / determinant, (xx * y - x * xy) / determinant
    free = yy - scale * xy - more * y
    return _Fits(np.where(more > 0, free, chi2), np.maximum(more, 0.0), free, more, determinant / xx)


def activation(rates: Sequence[DarkRate]) -> Activation | None:
    """Activation energy through the rates of two temperatures or more; with three or more, glow beside it.

    Returns
    -------
    Activation or None
        None where temperatures or positive rates are too few.

    Examples
    --------
    >>> rates = [DarkRate(temperature_deg_c=t, rate_e_s=r, error_e_s=0.01 * r, start_e=None, bend=None)
    ...          for t, r in ((-10.0, 0.002), (0.0, 0.0061))]
    >>> round(activation(rates).ev, 2)
    0.69
    """
    known = [r for r in rates if r.temperature_deg_c is not None and r.rate_e_s > 0]
    if len(known) < 2:
        return None
    kelvin = np.array([r.temperature_deg_c for r in known], dtype=float) + ZERO_CELSIUS_K
    rate, error = np.array([r.rate_e_s for r in known]), np.array([max(r.error_e_s, 1e-12) for r in known])
    with_glow = len(known) >= 3
    law = np.exp(-(1 / kelvin - 1 / kelvin.max()) * _ENERGIES_EV[:, None] / BOLTZMANN_EV_K)
    fits = _fits(law, rate, 1 / error**2, with_glow)
    chi2 = fits.chi2
    best = int(np.argmin(chi2))
    freedom = len(known) - 2 - with_glow
    scale = chi2[best] / freedom if freedom > 0 else 1.0
    if freedom <= 0 or scale <= 1 + 3 * math.sqrt(2 / freedom):  # no more than chance: the rates' own errors hold
        scale = 1.0
    inside = _ENERGIES_EV[chi2 <= chi2[best] + scale]
    low, high = fits.glow_span(float(chi2[best]) + scale) if with_glow else (None, None)
    return Activation(
        ev=float(_ENERGIES_EV[best]), low_ev=float(inside.min()), high_ev=float(inside.max()),
        glow_e_s=float(fits.glow[best]) if with_glow else None, glow_low_e_s=low, glow_high_e_s=high,
    )  # fmt: skip
