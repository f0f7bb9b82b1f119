r"""Dark current: electrons that warmth sets free, and how they fall as the sensor is cooled.

References
----------
.. [widenhorn] Widenhorn, R. et al. 2001, J. Appl. Phys. 89, 8179; 2002, Proc. SPIE 4669, 193: dark current
   between 222 and 291 K follows an activation law; the energy falls towards low temperatures and differs
   between pixels.
.. [si] The International System of Units, 9th edition, BIPM 2019: exact Boltzmann constant and electron volt.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.base.noun import Noun, measure

__all__ = ["DarkCurrent", "activation_energy_from_step", "arrhenius", "doubling_step"]

BOLTZMANN_EV_K = 1.380649e-23 / 1.602176634e-19
"""[si]"""
ZERO_CELSIUS_K = 273.15


def arrhenius(
    rate: npt.ArrayLike,
    at_deg_c: npt.ArrayLike,
    temperature_deg_c: npt.ArrayLike,
    activation_ev: npt.ArrayLike,
) -> Floats:
    r"""Dark current at another temperature.

    .. math:: D(T) = D_0 \exp\left[-\frac{E}{k}\left(\frac{1}{T} - \frac{1}{T_0}\right)\right]

    Parameters
    ----------
    rate : array_like
        Dark current at `at_deg_c`, any unit; all arguments broadcast.
    at_deg_c, temperature_deg_c : array_like
        Where it is known and where it is wanted. [deg_C]
    activation_ev : array_like
        Activation energy. [eV]

    Returns
    -------
    ndarray
        In the unit of `rate`.

    Notes
    -----
    One energy holds over some tens of kelvin; over more it falls with the temperature [widenhorn]_.

    Examples
    --------
    >>> round(float(arrhenius(1.0, 0.0, -20.0, 0.63)), 3)
    0.121
    """
    t0 = np.asarray(at_deg_c) + ZERO_CELSIUS_K
    t = np.asarray(temperature_deg_c) + ZERO_CELSIUS_K
    return np.asarray(rate * np.exp(-np.asarray(activation_ev) / BOLTZMANN_EV_K * (1 / t - 1 / t0)))


def activation_energy_from_step(step_k: float, at_deg_c: float) -> float:
    """Activation energy at which the dark current doubles per `step_k` around a temperature. [eV]

    Examples
    --------
    >>> round(activation_energy_from_step(6.0, -10.0), 3)
    0.689
    """
    return math.log(2) * BOLTZMANN_EV_K * (at_deg_c + ZERO_CELSIUS_K) ** 2 / step_k


def doubling_step(activation_ev: float, at_deg_c: float) -> float:
    """Warming that doubles the dark current around a temperature: the inverse of the former. [K]

    Examples
    --------
    >>> round(doubling_step(0.63, 0.0), 1)
    7.1
    """
    return math.log(2) * BOLTZMANN_EV_K * (at_deg_c + ZERO_CELSIUS_K) ** 2 / activation_ev


class DarkCurrent(Noun):
    """Dark current of a camera. Compared by identity.

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit or is out of range, or if not exactly one of the last
        two is given: a rate at one temperature says nothing of another.

    Examples
    --------
    >>> dark = DarkCurrent(rate="0.002 electron/s", at="-10 deg_C", doubles_every="6 K")
    >>> round(dark.rate_at(20.0) / dark.rate_at(-10.0))
    22
    """

    rate: Any = measure(
        "electron/s",
        minimum=0,
        maximum=1e5,
        example='"0.002 electron/s"',
        meaning="Electrons that warmth alone sets free in a pixel each second.",
        origin="the maker's data sheet, or the median of your own darks over their length",
    )
    at: Any = measure(
        "deg_C",
        minimum=-150,
        maximum=60,
        example='"-10 deg_C"',
        meaning="Temperature of the sensor at which that rate was found.",
        origin="beside the rate in the data sheet",
    )
    doubles_every: Any = measure(
        "K",
        None,
        minimum=1,
        maximum=30,
        example='"6 K"',
        meaning="Warming that doubles the dark current; this or the activation energy is needed.",
        origin="from memory: 5 to 8 K",
    )
    activation: Any = measure(
        "eV",
        None,
        minimum=0.1,
        maximum=2,
        example='"0.63 eV"',
        meaning="Activation energy of the dark current, for who knows it better than the doubling step.",
        origin="Widenhorn et al. 2002: an activation law, whose energy differs between pixels and cameras",
        advanced=True,
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if (self.doubles_every is None) == (self.activation is None):
            given = "neither" if self.activation is None else "both"
            msg = (
                f"dark current must have one of doubles_every and activation, got {given}; "
                'write it like doubles_every = "6 K"'
            )
            raise ValueError(msg)

    @property
    def activation_ev(self) -> float:
        """Activation energy, given or from the doubling step. [eV]"""
        if self.activation is not None:
            return float(self.activation.value)
        return activation_energy_from_step(float(self.doubles_every.value), float(self.at.value))

    def rate_at(self, temperature_deg_c: float) -> float:
        """Dark current per pixel at a sensor temperature. [electron/s]"""
        return float(arrhenius(float(self.rate.value), float(self.at.value), temperature_deg_c, self.activation_ev))
