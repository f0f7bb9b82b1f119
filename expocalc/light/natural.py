r"""The natural sky at the zenith: zodiacal light, light between the stars, and airglow.

Nothing here is measured at one place: it is a typical sky, and the sky of a night differs from it (the
headers of data/natural_*.ecsv say what was fitted to what).

References
----------
.. [leinert] Leinert, C. et al. 1998, A&AS 127, 1: zodiacal light, 60 S10 at the ecliptic pole and more
   elsewhere; its colour; light between the stars.
.. [benn] Benn, C. R. & Ellison, S. L. 1998, New Astron. Rev. 42, 503: faint stars give 13 nL of a dark
   zenith.
.. [s10] One S10 is one star of 10th magnitude per square degree.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from expocalc.base.curve import Curve, Spectrum
from expocalc.base.photometry import RAYLEIGH, vega_magnitude
from expocalc.base.table import DATA, read_table

__all__ = ["natural_sky", "planck_photons", "star_field", "sun_photons", "zodiacal_light"]

ZODIACAL_S10 = 100.0
"""Zodiacal light far from the Sun, in V. [S10] [leinert]_"""
BETWEEN_STARS_S10 = 12.0
"""Stars too faint to be told apart and light scattered by dust, in V. [S10] [benn]_"""
STARLIGHT_K = 5000.0
"""Colour temperature of starlight, from memory. [K]."""
_S10_MAG = 10 + 2.5 * math.log10(3600**2)  # [s10]: one square degree is 3600**2 arcsec2
_RADIATION_NM_K = 1.438776877e7  # h c / k, exact in the SI of 2019


@cache
def sun_photons() -> Curve:
    """Shape of sunlight above the air in photons. [photon s-1 cm-2 nm-1, unscaled]."""
    table = read_table(DATA / "sun.ecsv")
    return Curve(table["wavelength"], table["irradiance"] * table["wavelength"])


def planck_photons(temperature_k: float) -> Curve:
    """Shape of a black body on the wavelengths of the solar table. [photon s-1 cm-2 nm-1, unscaled]."""
    x = sun_photons().wavelength_nm
    return Curve(x, (x / 550) ** -4 / np.expm1(_RADIATION_NM_K / (x * temperature_k)))


def _of_s10(shape: Curve, s10: float) -> Spectrum:
    spectrum = Spectrum(shape)
    wanted = _S10_MAG - 2.5 * math.log10(s10)
    return spectrum * 10 ** (-0.4 * (wanted - vega_magnitude(spectrum, "bessell-V")))


def zodiacal_light(s10: float = ZODIACAL_S10) -> Spectrum:
    """Sunlight scattered by dust: the Sun, reddened as in [leinert]_.

    Parameters
    ----------
    s10 : float
        Brightness in V. [S10]

    Examples
    --------
    100 S10 are 22.78 mag/arcsec2:

    >>> round(vega_magnitude(zodiacal_light(100), "bessell-V"), 2)
    22.78
    """
    sun = sun_photons()
    x = sun.wavelength_nm
    slope = np.where(x < 500, 0.9, 0.6)  # [leinert]_ eq. 22, elongation 90 degrees
    return _of_s10(Curve(x, sun.value * (1 + slope * np.log10(x / 500))), s10)


def star_field(s10: float = BETWEEN_STARS_S10) -> Spectrum:
    """Light of many stars together, `s10` of them of 10th magnitude per square degree.

    Examples
    --------
    >>> round(vega_magnitude(star_field(1), "bessell-V"), 2)
    27.78
    """
    return _of_s10(planck_photons(STARLIGHT_K), s10)


def _airglow() -> Spectrum:
    continuum = read_table(DATA / "natural_continuum.ecsv")
    lines = read_table(DATA / "natural_lines.ecsv")
    bands = read_table(DATA / "natural_bands.ecsv")
    low, high = bands["low"], bands["high"]
    boxes = Curve.boxes(list(zip(low, high, strict=True)), list(bands["brightness"] / (high - low) * RAYLEIGH))
    smooth = Spectrum(Curve(continuum["wavelength"], continuum["airglow"] * RAYLEIGH))
    return smooth + Spectrum(boxes, lines["wavelength"], lines["brightness"] * RAYLEIGH)


@cache
def natural_sky() -> Spectrum:
    """Sky at the zenith of a dark place, as observed: extinction is in it already.

    Examples
    --------
    Its brightness in V, and in a filter 3 nm wide at O III in rayleigh per nm:

    >>> round(vega_magnitude(natural_sky(), "bessell-V"), 1)
    21.6
    >>> round(natural_sky().through(Curve.boxes([(499, 502)], [1.0])) / RAYLEIGH / 3, 1)
    7.9
    """
    return zodiacal_light() + star_field() + _airglow()
