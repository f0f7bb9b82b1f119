r"""What makes up a town's sky: natural light and lamps, and how one reading settles their mix.

The sky is natural light plus town light, two factors. One reading settles one of them: the natural sky is
taken as it typically is and the lamps fill up to the reading; where the reading is darker than that, there
are no lamps and the natural sky is dimmed. All of it is linear: each component is integrated once through a
curve, and moving a slider only adds a few numbers.
"""

from __future__ import annotations

import math
from functools import cache, lru_cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import RANGE_NM, Curve, Spectrum, product
from expocalc.base.photometry import luminance_cd_m2, standard_band, vega_magnitude, zero_photons
from expocalc.light.lamps import lamp_spectrum
from expocalc.light.natural import natural_sky, star_field

__all__ = [
    "DARKEST_V",
    "SkyMix",
    "bluer_by",
    "bluer_spectrum",
    "cd_m2_per_photon",
    "darkest_natural",
    "lamp_bend",
    "lamp_through",
    "magnitude",
    "meter_stars_photons",
    "mix_of",
    "natural_through",
]

DARKEST_V = 22.3
"""No sky is darker, far from the Milky Way and in a quiet year (from memory). [mag/arcsec2, Bessell V]."""

METER_STARS_S10 = 50.0
"""Stars that a meter of a wide field sees and pixels between the stars don't: an assumption. [S10]."""

_BLUER = 1.6
"""Change of skyglow's exponent at which its integrals are known, either way: two standard deviations."""


class SkyMix(NamedTuple):
    """The two factors of a sky; numbers, or arrays that broadcast.

    Parameters
    ----------
    natural : float or ndarray
        Times the typical natural sky; below what it was taken for only where there is no town light.
    town : float or ndarray
        Luminance of the town light before skyglow made it bluer. [cd m-2]
    """

    natural: Any
    town: Any


def mix_of(
    photons: npt.ArrayLike,
    natural_photons: float,
    town_photons: npt.ArrayLike,
    natural: npt.ArrayLike = 1.0,
    least: float = 1e-6,
) -> SkyMix:
    """Mix that meets a reading; arguments broadcast.

    Parameters
    ----------
    photons : array_like
        In the reading's band, without what only the instrument sees. [photon s-1 cm-2 arcsec-2]
    natural_photons : float
        Of the typical natural sky in that band.
    town_photons : array_like
        Of town light at a luminance of 1 cd/m2 in that band.
    natural : array_like, optional
        What the natural sky is taken for, times the typical one. [-]
    least : float, optional
        No natural sky is fainter. [-]

    Examples
    --------
    Three readings: town light fills up what the natural sky of 2 leaves.

    >>> mix = mix_of([1.0, 2.0, 5.0], 2.0, 0.1)
    >>> mix.natural, mix.town.round(9)
    (array([0.5, 1. , 1. ]), array([ 0.,  0., 30.]))
    """
    taken = np.maximum(natural, least)
    read = np.asarray(photons)
    met = np.maximum(np.minimum(taken, read / natural_photons), least)
    return SkyMix(natural=met, town=np.maximum(read - taken * natural_photons, 0.0) / town_photons)


@cache
def darkest_natural() -> float:
    """Share of the typical natural sky that the darkest sky has. [-]"""
    return 10 ** (-0.4 * (DARKEST_V - vega_magnitude(natural_sky(), "bessell-V")))


@lru_cache(maxsize=256)
def natural_through(curve: Curve) -> float:
    """Photons of the typical natural sky through a curve, kept by the curve. [photon s-1 cm-2 arcsec-2]"""
    return natural_sky().through(curve)


@lru_cache(maxsize=1024)
def lamp_through(lamp: str, curve: Curve) -> float:
    """Photons of a lamp's skyglow through a curve at a luminance of 1 cd/m2, kept by the curve."""
    return lamp_spectrum(lamp).through(curve)


@cache
def _tilt(bluer: float) -> Curve:
    x = np.arange(RANGE_NM[0], RANGE_NM[1] + 5, 5)
    return Curve(x, (x / 550) ** -bluer)


@lru_cache(maxsize=1024)
def lamp_bend(lamp: str, curve: Curve) -> tuple[float, float]:
    r"""How a lamp's light through a curve changes where skyglow is bluer than usual.

    Returns
    -------
    slope, bend : float
        An exponent larger by x changes it by :math:`\exp(\mathrm{slope}\,x + \mathrm{bend}\,x^2)`.

    Notes
    -----
    The logarithm of such an integral is smooth in the exponent (it is a cumulant generating function of the logarithm
    of the wavelength), so that a parabola through three values holds it.
    """
    light, middle = lamp_spectrum(lamp), lamp_through(lamp, curve)
    low, high = (light.through(curve, _tilt(bluer)) for bluer in (-_BLUER, _BLUER))
    if not (low > 0 and middle > 0 and high > 0):
        return 0.0, 0.0
    below, above = math.log(low / middle), math.log(high / middle)
    return (above - below) / (2 * _BLUER), (above + below) / (2 * _BLUER**2)


def bluer_by(lamp: str, curve: Curve, bluer: npt.ArrayLike) -> Any:
    """Factor on a lamp's light through a curve where skyglow's exponent is larger by `bluer`. [-]"""
    if not np.count_nonzero(bluer):  # mostly
        return np.ones(np.shape(bluer)) if np.ndim(bluer) else 1.0
    slope, bend = lamp_bend(lamp, curve)
    return np.exp(np.multiply(bluer, slope + np.multiply(bend, bluer)))


def bluer_spectrum(lamp: str, bluer: float) -> Spectrum:
    """A lamp's skyglow whose exponent is larger by `bluer`, as :func:`lamp_spectrum`."""
    light = lamp_spectrum(lamp)
    if not bluer:
        return light
    tilt = _tilt(bluer)
    return Spectrum(product(light.continuum, tilt), light.line_nm, light.line * tilt(light.line_nm))


@cache
def meter_stars_photons() -> float:
    """What a meter sees of the stars that pixels between them don't. [photon s-1 cm-2 arcsec-2]"""
    return star_field(METER_STARS_S10).through(standard_band("meter"))


@cache
def cd_m2_per_photon() -> float:
    """Luminance of one photon s-1 cm-2 arcsec-2 that the band cie-V counts: the same for every spectrum."""
    natural = natural_sky()
    return luminance_cd_m2(natural) / natural.through(standard_band("cie-V"))


def magnitude(photons: float, band: str) -> float:
    """Magnitude of photons through a standard band, as :func:`expocalc.base.photometry.zero_photons` has its zero."""
    return -2.5 * math.log10(photons / zero_photons(band))
