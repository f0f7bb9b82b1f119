r"""What mount and optics hold: how long a sub may be before stars are trails, and when to focus again.

A sub in which stars wander evenly by a trail L makes them longer than wide. A trail's second moment is L²/12, that of
a star of full width F is F²/(8 ln 2); they add, so that stars stay within a share e of round while

.. math:: L \le F \sqrt{\frac{12\,((1 + e)^2 - 1)}{8 \ln 2}}

F holds the air, the guiding, the optics and the pixel. Three things make the trail: without guiding an axis that misses
the pole; with guiding the turn of the field about the guide star, and whatever moves the camera against the guide star.
The error of guiding itself does not grow with the sub: it widens F alone.

References
----------
.. [hook] Hook, R. N. 1989, J. Br. Astron. Assoc. 99, 19: polar axis alignment requirements for astronomical
   photography (from memory): an axis that misses the pole by e makes stars drift at up to e times the sky's rate, and
   the field turn about the guide star at e over the cosine of the declination times that rate.
.. [born] Born, M. & Wolf, E. 1999, Principles of Optics, 7th ed., sec. 8.8: a defocus of 2 wavelengths times the focal
   ratio squared is a quarter of a wave at the edge of the aperture.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

from expocalc.budget.case import Case
from expocalc.budget.routine import Routine
from expocalc.gear.camera import Camera
from expocalc.gear.image import FWHM_PER_SIGMA, field_arcmin, pixel_scale_arcsec, star_fwhm_arcsec
from expocalc.gear.telescope import EXPANSION_PER_K, Telescope
from expocalc.light.site import Site
from expocalc.light.target import Target

__all__ = [
    "Held",
    "allowed_trail_arcsec",
    "drift_sub_s",
    "end_of_sub",
    "focus_depth_um",
    "held_by",
    "longest_held_s",
    "refocus_kelvin",
    "rotation_sub_s",
]

SKY_RATE_RAD_S = 7.2921159e-5
"""Turn of the Earth. [rad s-1]"""
_ARCMIN = math.pi / 180 / 60
_ARCSEC = _ARCMIN / 60
_MIDDLE_NM = 550.0


class Held(NamedTuple):
    """Longest sub by each thing that makes trails of stars, infinite where the plan does not say.

    Attributes
    ----------
    drift_s, rotation_s, flexure_s : float
        By the polar error without guiding, by the turn of the field at the farthest corner, by what guiding does not
        see. [s]
    trail_arcsec : float
        Trail at which stars are as long as the plan allows. [arcsec]
    """

    drift_s: float
    rotation_s: float
    flexure_s: float
    trail_arcsec: float

    @property
    def reckoned(self) -> Mapping[str, float]:
        """Limits by name. [s]"""
        return MappingProxyType({"drift": self.drift_s, "rotation": self.rotation_s, "flexure": self.flexure_s})


def _whole(sub_s: float) -> float:
    """Rounded down to two figures: no mount is known better."""
    if not math.isfinite(sub_s) or not sub_s:
        return sub_s
    step = 10 ** (math.floor(math.log10(sub_s)) - 1)
    return math.floor(sub_s / step + 1e-9) * step


def held_by(case: Case) -> Held:
    """What follows from the plan's mount, whatever limit of its own the plan sets."""
    return _held_by(case.routine, case.telescope, case.camera, case.site, case.target)


def end_of_sub(case: Case) -> tuple[str, float]:
    """What of the mount ends a sub, and the longest one: the plan's own limit, which wins, or what follows.

    Returns
    -------
    name : str
        "own", "drift", "rotation" or "flexure".
    longest_s : float
        Infinite where nothing limits it. [s]

    Examples
    --------
    A polar error of 5' and the guide star in the middle, far from the longest sub that the user knows to work:

    >>> from expocalc.plan import Plan
    >>> demo = Plan.read("notebooks/plans/mono-single-lines.toml")
    >>> case = demo.with_values({("routine", "polar_error"): "5 arcmin"}).case
    >>> end_of_sub(case), round(held_by(case).rotation_s)
    (('own', 300.0), 3500)
    """
    own = case.routine.longest_sub
    if own is not None:
        return "own", float(own.value)
    return min(held_by(case).reckoned.items(), key=lambda limit: limit[1])


def longest_held_s(case: Case) -> float:
    """Longest sub that the mount holds, infinite where nothing limits it. [s]"""
    return end_of_sub(case)[1]


@lru_cache(maxsize=64)  # most changes of a plan leave the mount as it was
def _held_by(routine: Routine, telescope: Telescope, camera: Camera, site: Site, target: Target) -> Held:
    scale = pixel_scale_arcsec(telescope, camera)
    seeing, guiding = float(site.seeing.value), float(routine.guiding.value)
    width = float(star_fwhm_arcsec(telescope, seeing, 1.0, guiding, _MIDDLE_NM))  # at the zenith: the smallest stars
    trail = allowed_trail_arcsec(math.hypot(width, FWHM_PER_SIGMA * scale / math.sqrt(12)), routine.stretch)
    error = 0.0 if routine.polar_error is None else float(routine.polar_error.value)
    guided = routine.guide_star is not None
    rotation = flexure = math.inf
    if guided:
        corner = math.hypot(*field_arcmin(telescope, camera)) / 2 + float(routine.guide_star.value)
        north = 0.0 if target.declination is None else float(target.declination.value)
        rotation = rotation_sub_s(error, north, corner, trail)
        flexure = math.inf if routine.flexure is None else trail / float(routine.flexure.value) * 3600
    return Held(
        drift_s=math.inf if guided else _whole(drift_sub_s(error, trail)),
        rotation_s=_whole(rotation),
        flexure_s=_whole(flexure),
        trail_arcsec=trail,
    )


def allowed_trail_arcsec(fwhm_arcsec: float, stretch: float) -> float:
    """Trail that makes stars longer than wide by a share.

    Parameters
    ----------
    fwhm_arcsec : float
        Full width of a still star at half its height, pixel in it. [arcsec]
    stretch : float
        0.1 for a tenth longer than wide. [-]

    Examples
    --------
    >>> round(allowed_trail_arcsec(3.0, 0.1), 2)
    2.02
    """
    return fwhm_arcsec / FWHM_PER_SIGMA * math.sqrt(12 * ((1 + stretch) ** 2 - 1))


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


def refocus_kelvin(case: Case) -> float:
    """Change of temperature after which focus must be redone: the plan's own, else that which uses up the depth. [K]

    Notes
    -----
    The focal length stands for the length of the tube, whose material the plan names. The glass changes too, and may do
    so the other way: a change that was measured is better than this.

    Examples
    --------
    >>> from expocalc.plan import Plan
    >>> round(refocus_kelvin(Plan.read("notebooks/plans/mono-single-lines.toml").case), 1)
    2.3
    """
    if case.night.refocus_after is not None:
        return float(case.night.refocus_after.value)
    telescope = case.telescope
    moved_um = float(telescope.focal_length.value) * 1000 * EXPANSION_PER_K[telescope.tube]
    return focus_depth_um(telescope.focal_ratio, _MIDDLE_NM) / moved_um
