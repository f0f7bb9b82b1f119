r"""The image: scale, field and the size of a star.

References
----------
.. [roddier] Roddier, F. 1981, Progress in Optics 19, 281: seeing goes as wavelength^-0.2 and airmass^0.6
   (from memory).
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.gear.camera import Camera
from expocalc.gear.telescope import Telescope

__all__ = ["FWHM_PER_SIGMA", "field_arcmin", "peak_share", "pixel_scale_arcsec", "star_fwhm_arcsec"]

FWHM_PER_SIGMA = math.sqrt(8 * math.log(2))
"""Full width at half maximum of a Gaussian over its sigma: 2.3548. [-]"""

SEEING_NM = 500.0
"""Wavelength at which seeing is quoted: common practice, no source. [nm]"""

_ARCSEC = math.degrees(1) * 3600
_erf = np.frompyfunc(math.erf, 1, 1)


def pixel_scale_arcsec(telescope: Telescope, camera: Camera) -> float:
    """Side of a pixel on the sky. [arcsec]"""
    return float(camera.pixel.value) * 1e-3 / float(telescope.focal_length.value) * _ARCSEC


def field_arcmin(telescope: Telescope, camera: Camera) -> tuple[float, float]:
    """Width and height of the field, along columns and rows. [arcmin]"""
    pixel_mm, focal_mm = float(camera.pixel.value) * 1e-3, float(telescope.focal_length.value)
    width, height = (
        math.degrees(2 * math.atan(count * pixel_mm / (2 * focal_mm))) * 60 for count in (camera.columns, camera.rows)
    )
    return width, height


def star_fwhm_arcsec(
    telescope: Telescope,
    seeing_arcsec: npt.ArrayLike,
    airmass: npt.ArrayLike,
    guiding_rms_arcsec: npt.ArrayLike,
    wavelength_nm: npt.ArrayLike,
) -> Floats:
    """Full width at half maximum of a star's image: air, guiding, diffraction and optics in quadrature.

    Parameters
    ----------
    telescope : Telescope
    seeing_arcsec : array_like
        Full width at half maximum by the air alone, at the zenith and 500 nm; all arguments broadcast.
        [arcsec]
    airmass : array_like
        [-]
    guiding_rms_arcsec : array_like
        Total over both axes, root mean square; each axis has it over the square root of 2. [arcsec]
    wavelength_nm : array_like
        [nm]

    Returns
    -------
    ndarray
        [arcsec]

    Notes
    -----
    Seeing goes as airmass^0.6 wavelength^-0.2 [roddier]_. Quadrature is exact for Gaussians; real seeing
    has wider wings, so that less light falls into the brightest pixel than :func:`peak_share` says.

    Examples
    --------
    >>> telescope = Telescope(aperture="102 mm", focal_length="510 mm")
    >>> round(float(star_fwhm_arcsec(telescope, 2.8, 1.0, 0.8, 500.0)), 2)
    3.28
    """
    given: tuple[Any, ...] = (seeing_arcsec, airmass, guiding_rms_arcsec, wavelength_nm)
    plain = all(isinstance(number, float) for number in given)  # several times faster than arrays of no axis
    seeing, mass, guiding_rms, wavelength = given if plain else map(np.asarray, given)
    air = seeing * mass**0.6 * (wavelength / SEEING_NM) ** -0.2  # [roddier]
    guiding = FWHM_PER_SIGMA * guiding_rms / math.sqrt(2)
    diffraction = telescope.diffraction_fwhm_arcsec(1.0) * wavelength
    return np.asarray(np.sqrt(air**2 + guiding**2 + diffraction**2 + float(telescope.blur.value) ** 2))


def peak_share(fwhm_px: npt.ArrayLike) -> Floats:
    r"""Share of a Gaussian star's light in the pixel on whose middle it falls: the careful choice.

    .. math:: \operatorname{erf}^2\left(\frac{1}{2\sqrt 2\,\sigma}\right)

    Parameters
    ----------
    fwhm_px : array_like
        Full width at half maximum, above 0, any shape. [pixel]

    Returns
    -------
    ndarray
        [-]

    Examples
    --------
    >>> round(float(peak_share(2.0)), 3)
    0.197
    """
    sigma_px = np.asarray(fwhm_px) / FWHM_PER_SIGMA
    return np.asarray(_erf(1 / (2 * math.sqrt(2) * sigma_px)), dtype=float) ** 2
