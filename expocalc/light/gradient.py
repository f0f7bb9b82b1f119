"""How the sky brightens away from the zenith: all around alike, or towards a town."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import astropy.units as u
import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.base.noun import Noun, measure, suggest

__all__ = ["Gradient", "read_gradient"]

_EXAMPLE = '"0.4 mag" or { at_45deg = "0.6 mag", toward_azimuth = "250 deg" }'
_KEYS = ("at_45deg", "toward_azimuth")


@dataclass(frozen=True, eq=False, kw_only=True)
class Gradient(Noun):
    """Brightening of the sky from the zenith down.

    Parameters
    ----------
    at_45deg : Quantity or str
        How much brighter the sky is at 45 degrees of altitude than at the zenith, towards the town if one direction is
        given. [mag]
    toward_azimuth : Quantity or str, optional
        Direction of the town, from north by east; left out where the sky brightens alike all around. [deg]

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit, or is out of range.

    Examples
    --------
    >>> Gradient(at_45deg="0.6 mag", toward_azimuth="250 deg").mag([250, 160, 70]).round(3)
    array([0.6, 0.3, 0. ])
    """

    at_45deg: u.Quantity = measure("mag", minimum=0, maximum=3, example='"0.4 mag"')
    toward_azimuth: u.Quantity | None = measure("deg", None, minimum=0, maximum=360, example='"250 deg"')

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
    if isinstance(value, Gradient):
        return value
    if not isinstance(value, Mapping):
        try:
            return Gradient(at_45deg=value)
        except (TypeError, ValueError, u.UnitsError) as error:
            msg = str(error).replace("at_45deg", name, 1)
            raise type(error)(msg) from None
    for key in value:
        if key not in _KEYS:
            msg = f"{name} has no key {str(key)[:60]!r}{suggest(key, _KEYS)}; write it like {_EXAMPLE}"
            raise ValueError(msg)
    if "at_45deg" not in value:
        msg = f"{name} must have at_45deg; write it like {_EXAMPLE}"
        raise ValueError(msg)
    try:
        return Gradient(**value)
    except (TypeError, ValueError, u.UnitsError) as error:
        msg = f"{name} {error}"
        raise type(error)(msg) from None
