r"""How much gas an H-alpha brightness stands for.

References
----------
.. [haffner] Haffner, L. M. et al. 2003, ApJS 149, 405: EM = 2.75 T4^0.9 I.
"""

from __future__ import annotations

__all__ = ["emission_measure"]


def emission_measure(rayleigh: float, temperature_k: float = 8000.0) -> float:
    """Emission measure of ionised hydrogen that no dust dims [haffner]_. [cm-6 pc]

    Parameters
    ----------
    rayleigh : float
        Brightness in H-alpha. [R]
    temperature_k : float
        Of the gas. [K]

    Raises
    ------
    ValueError
        If the temperature is not above 0 K.

    Notes
    -----
    Authors take from 2.0 to 2.75 cm-6 pc per rayleigh, as for gas of 7000 to 10,000 K.

    Examples
    --------
    >>> round(emission_measure(1.0), 2), round(emission_measure(0.20, temperature_k=1e4), 2)
    (2.25, 0.55)
    """
    if not temperature_k > 0:
        msg = f"temperature_k must be above 0 K, got {temperature_k:g} K; write it like 8000.0"
        raise ValueError(msg)
    return 2.75 * (temperature_k / 1e4) ** 0.9 * rayleigh  # [haffner]_
