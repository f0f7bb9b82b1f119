"""How the sky brightens away from the zenith: all around alike, or towards a town."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import astropy.units as u
import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.base.noun import Noun, build, measure

__all__ = ["Gradient", "read_gradient"]


class Gradient(Noun):
    """Brightening of the sky from the zenith down.

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit, or is out of range.

    Examples
    --------
    >>> Gradient(at_45deg="0.6 mag", toward_azimuth="250 deg").mag([250, 160, 70]).round(3)
    array([0.6, 0.3, 0. ])
    """

    at_45deg: u.Quantity = measure(
        "mag",
        minimum=0,
        maximum=3,
        example='"0.4 mag"',
        meaning="How much brighter the sky is at 45 degrees of altitude than overhead, at its brightest side.",
        origin="two readings of your own",
    )
    toward_azimuth: u.Quantity | None = measure(
        "deg",
        None,
        minimum=0,
        maximum=360,
        example='"250 deg"',
        meaning="Direction of the town, from north by east; left out where the sky brightens alike all around.",
        origin="a map",
    )

    def mag(self, azimuth_deg: npt.ArrayLike | None = None) -> Floats:
        """Gradient in a direction; without one the largest. [mag]

        Notes
        -----
        Between the town's direction, which has all of it, and the opposite one, which has none, it goes with the cosine
        of the angle: an assumption, since no law is common to all towns (Duriscoe 2013, JQSRT 128, 20, from memory).
        """
        full = float(self.at_45deg.value)
        if self.toward_azimuth is None or azimuth_deg is None:
            return np.full(np.shape(azimuth_deg) if azimuth_deg is not None else (), full)
        apart = np.radians(np.asarray(azimuth_deg, dtype=float) - float(self.toward_azimuth.value))
        return full * (1 + np.cos(apart)) / 2


def read_gradient(name: str, value: Any) -> Gradient:
    """Check a gradient: one brightening in mag, or a table of it and the town's azimuth.

    Raises
    ------
    TypeError, ValueError
        If it is something else, has an unknown key or a value out of range.

    Examples
    --------
    >>> read_gradient("gradient", "0,4 mag").at_45deg
    <Quantity 0.4 mag>
    """
    if not isinstance(value, Mapping | Gradient):
        try:
            return Gradient(at_45deg=value)
        except (TypeError, ValueError) as error:
            raise type(error)(str(error).replace("at_45deg", name, 1)) from None
    return build(Gradient, name, value)
