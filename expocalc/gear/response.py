"""The whole gear: electrons per photon at the aperture."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from expocalc.base.curve import Curve, product
from expocalc.gear.camera import Camera
from expocalc.gear.filter import Filter
from expocalc.gear.passband import reach_nm
from expocalc.gear.telescope import Telescope

__all__ = ["brightest", "brightest_response", "response"]

_NEAR_NM = 0.01
"""A curve may end this much inside a passband: edges are rounded."""


def response(
    telescope: Telescope, filter_: Filter, camera: Camera, colour: str = "mono", shift_nm: float = 0.0
) -> Curve:
    """Electrons in pixels of one colour per photon at the aperture.

    Parameters
    ----------
    telescope : Telescope
    filter_ : Filter
    camera : Camera
    colour : str, optional
        One of `camera.colours`.
    shift_nm : float, optional
        How far all of the filter's passbands lie from where they should; what leaves the other tables is lost. [nm]

    Returns
    -------
    Curve
        Filter in the telescope's cone, throughput, mosaic and quantum efficiency multiplied. For a mosaic
        it is that of a pixel of the colour; how many there are stands in `camera.colour_share`.
        [electron/photon]

    Raises
    ------
    ValueError
        If the filter passes light where the table of another part says nothing.

    Notes
    -----
    Cached on the filter (by identity), the telescope's cone and the curves, so that moving the
    sensor's temperature or the gain computes nothing anew.

    Examples
    --------
    >>> telescope = Telescope(aperture="100 mm", focal_length="500 mm", throughput=0.9)
    >>> camera = Camera(
    ...     pixel="3.8 um", columns=6200, rows=4150, quantum_efficiency=0.8,
    ...     dark_current={"rate": "0.002 electron/s", "at": "-10 deg_C", "doubles_every": "6 K"},
    ...     gains={"high": {"read_noise": "1.4 e-", "electrons_per_adu": 0.25, "full_well": "15000 e-"}},
    ... )
    >>> wide = Filter(name="wide", passbands=[{"centre": "650 nm", "width": "100 nm", "peak": 0.9}])
    >>> round(float(response(telescope, wide, camera)(656.3)), 3)
    0.648
    """
    parts = {"throughput": telescope.throughput_curve, **camera.colour_curves(colour)}
    return _response(filter_, telescope.cone, tuple(parts.items()), shift_nm)


def brightest_response(telescope: Telescope, filter_: Filter, camera: Camera) -> Curve:
    """Response of the colour that passes most at its peak. [electron/photon]"""
    return brightest([response(telescope, filter_, camera, colour) for colour in camera.colours])


def brightest(curves: Sequence[Curve]) -> Curve:
    """The one that passes most at its peak, the first of equal ones."""
    return max(curves, key=lambda curve: float(curve.value.max()))


@lru_cache(maxsize=1024)
def _response(
    filter_: Filter, cone: tuple[float, float, float], parts: tuple[tuple[str, Curve], ...], shift_nm: float
) -> Curve:
    passed = filter_.curve_in_cone(*cone)
    curves = [curve for _, curve in parts]
    if shift_nm:
        return product(Curve(passed.wavelength_nm + shift_nm, passed.value), *curves)
    low, high = reach_nm(passed)
    for name, curve in parts:
        first, last = float(curve.wavelength_nm[0]), float(curve.wavelength_nm[-1])
        if low < first - _NEAR_NM or high > last + _NEAR_NM:
            msg = (
                f'{name} must cover all that the filter "{filter_.name}" passes, {low:.5g} to {high:.5g} nm, '
                f"got a table from {first:g} to {last:g} nm; extend it, with 0 where nothing passes"
            )
            raise ValueError(msg)
    return product(passed, *curves)
