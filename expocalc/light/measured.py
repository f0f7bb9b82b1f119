"""Sky that a test sub measured: what replaces the model in a filter."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

from expocalc.base.quantity import parse_quantity, read_quantity

__all__ = ["MeasuredSky", "read_measured"]


class MeasuredSky(NamedTuple):
    """Sky that a test sub measured in one filter: one of the three, the others are None.

    Parameters
    ----------
    electron_s : float, optional
        Per pixel, without dark current. [electron/s]
    mag_ab : float, optional
        Mean over the filter's passband. [mag/arcsec2, AB]
    colours : mapping of str to float, optional
        Per pixel of each colour of a mosaic, without dark current. [electron/s]
    """

    electron_s: float | None = None
    mag_ab: float | None = None
    colours: Mapping[str, float] | None = None


_RATE = '"0.11 electron/s"'


def _measured(name: str, value: Any) -> MeasuredSky:
    if isinstance(value, MeasuredSky):
        return value
    if isinstance(value, Mapping):
        if not value or not set(value) <= {"R", "G", "B"}:
            msg = f"{name} must hold electron/s for R, G and B, got {', '.join(map(str, value)) or 'nothing'}"
            raise ValueError(msg)
        rates = {
            colour: read_quantity(f"{name} {colour}", rate, "electron/s", minimum=0, example=_RATE)
            for colour, rate in value.items()
        }
        return MeasuredSky(colours=MappingProxyType(rates))
    if isinstance(value, str):
        unit = parse_quantity(name, value, example=_RATE)[1]
    else:
        unit = getattr(value, "unit", None)
    if unit is not None and unit.is_equivalent("mag/arcsec2"):
        return MeasuredSky(mag_ab=read_quantity(name, value, "mag/arcsec2", minimum=0, maximum=30))
    return MeasuredSky(electron_s=read_quantity(name, value, "electron/s", minimum=0, example=_RATE))


def read_measured(name: str, value: Any) -> Mapping[str, MeasuredSky]:
    """Check what test subs measured, by filter.

    Parameters
    ----------
    name : str
        The field's name, for the error message.
    value : mapping of str to str, Quantity, mapping or MeasuredSky
        "0.11 electron/s", "20.9 mag/arcsec2", or a mapping of R, G, B to electron/s.

    Raises
    ------
    TypeError, ValueError, astropy.units.UnitsError
        If it is no mapping, or a value has another unit, is negative or not finite.

    Examples
    --------
    >>> read_measured("measured", {"Ha 5 nm": "0.11 electron/s"})["Ha 5 nm"].electron_s
    0.11
    """
    if not isinstance(value, Mapping):
        msg = f"{name} must map filters to what was measured, got {value!r}; write it like {{'Ha 5 nm': {_RATE}}}"
        raise TypeError(msg)
    return MappingProxyType({str(key): _measured(f"{name} {key}", item) for key, item in value.items()})
