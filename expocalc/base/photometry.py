r"""Zero points, standard bands and luminance: how a spectrum becomes a number that people read.

References
----------
.. [oke] Oke, J. B. & Gunn, J. E. 1983, ApJ 266, 713: AB magnitudes, 3631 Jy at magnitude 0.
.. [bohlin] Bohlin, R. C., Gordon, K. D. & Tremblay, P.-E. 2014, PASP 126, 711: CALSPEC, the spectrum of Vega.
.. [bessell] Bessell, M. S. 1990, PASP 102, 1179: passbands.
.. [si] The International System of Units, 9th edition, BIPM 2019: exact constants; K_cd = 683 lm/W.
.. [hunten] Hunten, D. M., Roach, F. E. & Chamberlain, J. W. 1956, J. Atmos. Terr. Phys. 8, 345: the rayleigh.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from expocalc.base.curve import RANGE_NM, Curve, Spectrum, integrate
from expocalc.base.table import DATA, read_table

__all__ = [
    "AB_PHOTONS",
    "BANDS",
    "RAYLEIGH",
    "ab_continuum",
    "ab_magnitude",
    "luminance_cd_m2",
    "photon_energy_erg",
    "standard_band",
    "vega_magnitude",
    "vega_spectrum",
    "zero_photons",
]

PLANCK_ERG_S = 6.62607015e-27
"""[si]"""
LIGHT_NM_S = 2.99792458e17
"""[si]"""

AB_PHOTONS = 3631e-23 / PLANCK_ERG_S
"""Photons of a source of AB magnitude 0 per unit of ln(wavelength). [photon s-1 cm-2] [oke]"""

ARCSEC2_PER_SR = (180 * 3600 / math.pi) ** 2

RAYLEIGH = 1e6 / (4 * math.pi * ARCSEC2_PER_SR)
"""One rayleigh. [photon s-1 cm-2 arcsec-2] [hunten]"""

V_NM = 550.0
"""Wavelength that stands for V. [nm]"""

VEGA_V = 0.03
"""V magnitude of Vega itself [bessell]_; the same for all bands here, as its colours are 0 by definition."""

BANDS = tuple(sorted(path.stem.removeprefix("band_") for path in DATA.glob("band_*.ecsv")))
"""Names of the standard bands."""


@cache
def standard_band(name: str) -> Curve:
    """Response to photons of a standard band, largest value 1.

    Parameters
    ----------
    name : str
        One of :data:`BANDS`, for example "bessell-V".

    Raises
    ------
    ValueError
        If there is no such band.

    Examples
    --------
    >>> round(float(standard_band("bessell-V").value.max()), 3)
    1.0
    """
    if name not in BANDS:
        msg = f"standard band must be one of {', '.join(BANDS)}, got {name!r}"
        raise ValueError(msg)
    table = read_table(DATA / f"band_{name}.ecsv")
    return Curve(table["wavelength"], table["response"] / table["response"].max())


@cache
def vega_spectrum() -> Curve:
    """Vega above the air [bohlin]_. [photon s-1 cm-2 nm-1]"""
    table = read_table(DATA / "vega.ecsv")
    return Curve(table["wavelength"], table["photons"])


def photon_energy_erg(wavelength_nm: float) -> float:
    """Energy of one photon. [erg]

    Examples
    --------
    One rayleigh at H-alpha in erg s-1 cm-2 arcsec-2:

    >>> f"{RAYLEIGH * photon_energy_erg(656.28):.3e}"
    '5.661e-18'
    """
    return PLANCK_ERG_S * LIGHT_NM_S / wavelength_nm


@cache
def _ab_zero() -> Curve:
    x = np.arange(RANGE_NM[0], RANGE_NM[1] + 1)
    return Curve(x, AB_PHOTONS / x)


def ab_continuum(magnitude: float) -> Curve:
    """Photons of a source flat in F_nu: per arcsec2 where the magnitude is. [photon s-1 cm-2 nm-1]"""
    return _ab_zero() * 10 ** (-0.4 * magnitude)


def ab_magnitude(light: Spectrum, *response: Curve) -> float:
    """AB magnitude per square arcsecond of a sky through a response to photons; infinite where nothing passes."""
    return _magnitude(light.through(*response), integrate(_ab_zero(), *response))


def vega_magnitude(light: Spectrum, band: str) -> float:
    """Vega magnitude per square arcsecond of a sky in a standard band, Vega itself being 0.03."""
    response = standard_band(band)
    return VEGA_V + _magnitude(light.through(response), integrate(vega_spectrum(), response))


@cache
def zero_photons(band: str) -> float:
    """Photons through a standard band at magnitude 0: of Vega for the Bessell bands, AB for all others.

    Parameters
    ----------
    band : str
        One of :data:`BANDS`.

    Returns
    -------
    float
        Per square arcsecond where the magnitude is. [photon s-1 cm-2]
    """
    if band.startswith("bessell-"):
        return integrate(vega_spectrum(), standard_band(band)) * 10 ** (0.4 * VEGA_V)
    return integrate(_ab_zero(), standard_band(band))


def _magnitude(photons: float, zero: float) -> float:
    return -2.5 * math.log10(photons / zero) if photons > 0 else math.inf


def luminance_cd_m2(light: Spectrum) -> float:
    """Luminance by the definition: 683 lm/W times the integral over CIE V(lambda) [si]_. [cd m-2]"""
    # A photon's energy falls with its wavelength: the table's response to photons is V(lambda) / wavelength in nm.
    peak_per_nm = float(read_table(DATA / "band_cie-V.ecsv")["response"].max())
    lumen_s_per_photon = 683 * PLANCK_ERG_S * 1e-7 * LIGHT_NM_S * peak_per_nm
    return light.through(standard_band("cie-V")) * lumen_s_per_photon * 1e4 * ARCSEC2_PER_SR
