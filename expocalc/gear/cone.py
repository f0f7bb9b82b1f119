r"""An interference filter in a converging beam.

In tilted light the layers' path differences shrink: the filter's curve moves to shorter wavelengths. A
telescope's beam holds all angles from the rim of the obstruction to the rim of the aperture at once, so the
filter shows the mean of its moved curves over the pupil. Moving the curve by the mean angle instead is wrong
by a factor of two and more for narrow filters in fast beams.

References
----------
.. [lissberger] Lissberger, P. H. & Wilcock, W. L. 1959, J. Opt. Soc. Am. 49, 126: shift with angle (from
   memory).
.. [macleod] Macleod, H. A., Thin-Film Optical Filters, chapter on band-pass filters (from memory).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import RANGE_NM, Curve, Floats

__all__ = ["beam", "centring_factor", "pupil_average", "rim", "shifted_nm"]

_RINGS = 32
"""Rings of equal light that stand for a tilted cone."""


def shifted_nm(wavelength_nm: npt.ArrayLike, angle_deg: npt.ArrayLike, index: float) -> Floats:
    r"""Wavelength to which a feature of the curve moves at an angle.

    .. math:: \lambda_\theta = \lambda_0 \sqrt{1 - \sin^2\theta / n^2}

    Parameters
    ----------
    wavelength_nm : array_like
        At normal incidence, any shape. [nm]
    angle_deg : array_like
        Between the light and the filter's normal, broadcasts. [deg]
    index : float
        Effective index of the layers. [-]

    Returns
    -------
    ndarray
        [nm]

    Notes
    -----
    Good for single-mode band-pass filters up to some 20 degrees [lissberger]_, [macleod]_.

    Examples
    --------
    >>> round(float(shifted_nm(656.28, 14.036, 2.0)), 2)
    651.44
    """
    return np.asarray(wavelength_nm * np.sqrt(1 - np.sin(np.radians(angle_deg)) ** 2 / index**2))


def rim(focal_ratio: float, part: float = 1.0) -> float:
    """Squared sine of the angle at the rim of a cone, or at a part of the way to it in the pupil. [-]

    The tangent is part / (2 focal_ratio).

    Examples
    --------
    >>> round(rim(2.0), 5)
    0.05882
    """
    tangent2 = (part / (2 * focal_ratio)) ** 2
    return tangent2 / (1 + tangent2)


def beam(focal_ratio: float, obstruction_share: float, tilt_deg: float = 0.0) -> Floats:
    r"""Angles in a beam, as limits of rings of equal light.

    Parameters
    ----------
    focal_ratio : float
        Focal length over aperture. [-]
    obstruction_share : float
        Diameter of the central obstruction over the aperture. [-]
    tilt_deg : float, optional
        Angle of the beam's axis to the filter's normal. [deg]

    Returns
    -------
    ndarray
        Increasing :math:`\sin^2` of the angle; between neighbours it is spread evenly. Shape (2,) without
        tilt.

    Notes
    -----
    The pupil is evenly bright in :math:`\sin^2`, as that of an optical system without coma is. A tilted
    cone is cut into 32 rings, by sorting an even sample of its directions.

    Examples
    --------
    >>> beam(2.0, 0.0)
    array([0.   , 0.059])
    """
    inner, outer = rim(focal_ratio, obstruction_share), rim(focal_ratio)
    if tilt_deg == 0:
        return np.array([inner, outer])
    own = inner + (outer - inner) * (np.arange(200)[:, None] + 0.5) / 200
    azimuth = np.pi * (np.arange(128) + 0.5) / 128
    tilt = np.radians(tilt_deg)
    cosine = np.cos(tilt) * np.sqrt(1 - own) - np.sin(tilt) * np.sqrt(own) * np.cos(azimuth)
    return np.unique(np.quantile(1 - cosine**2, np.linspace(0, 1, _RINGS + 1)))


def centring_factor(focal_ratio: float, index: float) -> float:
    r"""Factor by which a maker stretches a curve so that it comes out centred in an open cone.

    With :math:`v = \sqrt{1 - \sin^2\theta/n^2}` the centre of the mean curve lies at
    :math:`\langle v^2\rangle / \langle v\rangle` times that of the curve; this is the inverse.

    Examples
    --------
    >>> round(656.28 * (centring_factor(2.0, 2.0) - 1), 2)
    2.42
    """
    most = rim(focal_ratio) / index**2
    mean = 2 / (3 * most) * (1 - (1 - most) ** 1.5)
    return float(mean / (1 - most / 2))


def pupil_average(curve: Curve, rings: Floats, index: float) -> Curve:
    r"""Mean over a beam of the moved curves of a filter, without sampling error at its nodes.

    .. math:: \bar T(\lambda) = \frac{2 n^2 \lambda^2}{u_2 - u_1} \int_{x_1}^{x_2} \frac{T(x)}{x^3}\,dx,
              \qquad x_i = \lambda / \sqrt{1 - u_i/n^2}

    which is the mean over :math:`u = \sin^2\theta` after the substitution
    :math:`x = \lambda/\sqrt{1 - u/n^2}`. For a polyline T, T(x)/x is a straight line in 1/x, so the
    trapezoid rule in 1/x is exact.

    Parameters
    ----------
    curve : Curve
        Transmission at normal incidence.
    rings : ndarray
        Limits of :math:`\sin^2` of the angle, from :func:`beam`.
    index : float
        Effective index of the layers. [-]

    Returns
    -------
    Curve
        Nodes where the mean has corners (each node of `curve` seen at both rims) and some between; 0 where all of it
        has left the range of the model.

    Examples
    --------
    A box of 3 nm at f/2 passes H-alpha over a third of the pupil only:

    >>> box = Curve.boxes([(654.8, 657.8)], [1.0])
    >>> round(float(pupil_average(box, beam(2.0, 0.0), 2.0)(656.28)), 2)
    0.31
    """
    v = np.sqrt(1 - rings / index**2)
    if curve.wavelength_nm[-1] * v[0] <= RANGE_NM[0] or curve.wavelength_nm[0] * v[-1] >= RANGE_NM[1]:
        return Curve.constant(0.0)
    x = _corners(curve.wavelength_nm, v)
    upto = _integral_to(curve, x[:, None] / v)
    return Curve(x, np.mean(2 * index**2 * x[:, None] ** 2 / np.diff(rings) * np.diff(upto, axis=1), axis=1))


def _integral_to(curve: Curve, at: Floats) -> Floats:
    """Integral of T(x)/x³ from the curve's first node to `at`, by trapezoids in 1/x."""
    nodes = curve.wavelength_nm
    inverse, over = 1 / nodes, curve.value / nodes
    whole = np.concatenate(([0.0], np.cumsum(-np.diff(inverse) * (over[1:] + over[:-1]) / 2)))
    inside = np.clip(at, nodes[0], nodes[-1])
    k = np.clip(np.searchsorted(nodes, inside, side="right") - 1, 0, nodes.size - 2)
    return np.asarray(whole[k] + (inverse[k] - 1 / inside) * (over[k] + curve(inside) / inside) / 2)


def _corners(nodes: Floats, v: Floats) -> Floats:
    """Wavelengths where a node of the curve is met at the inner or the outer rim, and some between them."""
    nearest, farthest = float(v[0]), float(v[-1])
    corners = np.concatenate((nodes * farthest, nodes * nearest))
    low, high = max(RANGE_NM[0], corners.min()), min(RANGE_NM[1], corners.max())
    corners = np.unique(np.concatenate((corners[(corners > low) & (corners < high)], [low, high])))
    gaps, width = np.diff(corners), corners[1:] * (nearest - farthest)
    # Where the whole beam sees one straight piece of the curve, its mean is straight: no nodes needed.
    pieces = np.where(gaps > 1.1 * width, 1, np.ceil(max(4, v.size) * gaps / width)).astype(int)
    start = np.repeat(np.arange(gaps.size), pieces)
    step = np.arange(start.size) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    return np.unique(np.append(corners[start] + gaps[start] * step / pieces[start], high))
