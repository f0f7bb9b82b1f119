r"""What mount and optics hold: how long a sub may be, and when to focus again.

References
----------
.. [hook] Hook, R. N. 1989, J. Br. Astron. Assoc. 99, 19: polar axis alignment requirements for astronomical
   photography (from memory): an axis that misses the pole by e makes stars drift at up to e times the sky's rate, and
   the field turn about the guide star at e over the cosine of the declination times that rate.
.. [born] Born, M. & Wolf, E. 1999, Principles of Optics, 7th ed., sec. 8.8: a defocus of 2 wavelengths times the focal
   ratio squared is a quarter of a wave at the edge of the aperture.
.. [expansion] Expansion of aluminium, 23 parts in a million per kelvin, of carbon-fibre tubes about 1 (from memory).
"""

from __future__ import annotations

import math

__all__ = ["ALUMINIUM_PER_K", "drift_sub_s", "focus_depth_um", "refocus_kelvin", "rotation_sub_s"]

SKY_RATE_RAD_S = 7.2921159e-5
"""Turn of the Earth. [rad s-1]"""
ALUMINIUM_PER_K = 23e-6
"""[K-1] [expansion]_"""
_ARCMIN = math.pi / 180 / 60
_ARCSEC = _ARCMIN / 60


def drift_sub_s(polar_error_arcmin: float, allowed_arcsec: float) -> float:
    """Longest sub without guiding: the drift in declination stays within what is allowed [hook]_. [s]

    Parameters
    ----------
    polar_error_arcmin : float
        How far the axis misses the pole. [arcmin]
    allowed_arcsec : float
        Drift in one sub, for example one pixel. [arcsec]

    Notes
    -----
    The worst hour angle; what the drive itself errs by comes on top.

    Examples
    --------
    5' off and 1.5" allowed: a minute.

    >>> round(drift_sub_s(5.0, 1.5))
    69
    """
    rate = polar_error_arcmin * _ARCMIN * SKY_RATE_RAD_S / _ARCSEC
    return allowed_arcsec / rate if rate else math.inf


def rotation_sub_s(
    polar_error_arcmin: float, declination_deg: float, from_guide_star_arcmin: float, allowed_arcsec: float
) -> float:
    """Longest guided sub: the field turns about the guide star, most where that is farthest [hook]_. [s]

    Parameters
    ----------
    polar_error_arcmin : float
        [arcmin]
    declination_deg : float
        Of the field. [deg]
    from_guide_star_arcmin : float
        From the guide star to the farthest corner of the picture. [arcmin]
    allowed_arcsec : float
        Trail at that corner in one sub. [arcsec]

    Examples
    --------
    >>> round(rotation_sub_s(5.0, 60.0, 60.0, 1.5))
    1964
    """
    cosine = max(math.cos(math.radians(declination_deg)), 1e-6)
    turn = polar_error_arcmin * _ARCMIN * SKY_RATE_RAD_S / cosine
    trail = turn * from_guide_star_arcmin * 60
    return allowed_arcsec / trail if trail else math.inf


def focus_depth_um(focal_ratio: float, wavelength_nm: float = 550.0) -> float:
    """How far the sensor may stand from focus on either side [born]_. [um]

    Examples
    --------
    >>> round(focus_depth_um(5.0, 656.3), 1)
    32.8
    """
    return 2 * wavelength_nm / 1000 * focal_ratio**2


def refocus_kelvin(
    focal_length_mm: float, focal_ratio: float, wavelength_nm: float = 550.0, expansion_per_k: float = ALUMINIUM_PER_K
) -> float:
    """Change of temperature after which the tube's length has moved by the depth of focus. [K]

    Parameters
    ----------
    focal_length_mm : float
        Stands for the length of the tube. [mm]
    focal_ratio : float
        [-]
    wavelength_nm : float
        [nm]
    expansion_per_k : float
        Of the tube. [K-1]

    Notes
    -----
    The glass changes too, and may do so the other way: a tube that was measured is better than this.

    Examples
    --------
    >>> round(refocus_kelvin(510.0, 5.0), 1)
    2.3
    """
    return focus_depth_um(focal_ratio, wavelength_nm) / (focal_length_mm * 1000 * expansion_per_k)
