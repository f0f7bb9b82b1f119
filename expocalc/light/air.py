r"""The air above: what it takes of a star's light.

References
----------
.. [hayes] Hayes, D. S. & Latham, D. W. 1975, ApJ 197, 593: extinction by molecules and dust.
.. [green] Green, D. W. E. 1992, International Comet Quarterly 14, 55: [hayes]_ made practical; average dust
   0.05, 0.03 in a dry winter to 0.12 in a humid summer.
.. [bird] Bird, R. E. & Riordan, C. 1986, J. Climate Appl. Meteorol. 25, 87: absorption by ozone, table 1.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import RANGE_NM, Curve, Floats
from expocalc.base.noun import suggest
from expocalc.base.photometry import V_NM
from expocalc.base.quantity import read_number
from expocalc.base.table import DATA, read_table

__all__ = [
    "EXTINCTIONS",
    "dust_mag",
    "extinction_curve",
    "extinction_in_v",
    "ozone_mag",
    "rayleigh_mag",
    "read_extinction",
    "transmission",
]

EXTINCTIONS = MappingProxyType({"town": 0.06, "country": 0.05})
"""Named extinctions: their dust at 1 um and sea level; 0.05 is the average of [green]_, 0.06 an assumption.
[mag/airmass]
"""

OZONE_ATM_CM = 0.3
"""Usual amount of ozone. [atm-cm] [bird]_"""

_MAG = 2.5 / math.log(10)
STEEPEST = 10.0

Extinction = str | float | tuple[tuple[float, float], ...]


def rayleigh_mag(wavelength_um: npt.ArrayLike, height_km: float = 0.0) -> Floats:
    """Extinction by molecules [hayes]_ as in [green]_ (coefficients from memory). [mag/airmass].

    Parameters
    ----------
    wavelength_um : array_like
        Any shape. [um]
    height_km : float
        Height above the sea. [km]

    Examples
    --------
    >>> float(rayleigh_mag(0.55).round(4))
    0.1066
    """
    w2 = np.asarray(wavelength_um, dtype=np.float64) ** -2
    n = 0.23465 + 107.6 / (146 - w2) + 0.93161 / (41 - w2)
    return 9.4977e-3 * w2**2 * n**2 * math.exp(-height_km / 7.996)


def dust_mag(wavelength_um: npt.ArrayLike, height_km: float = 0.0, dust: float = 0.05) -> Floats:
    """Extinction by dust and haze [green]_ (coefficients from memory). [mag/airmass].

    Parameters
    ----------
    wavelength_um : array_like
        Any shape. [um]
    height_km : float
        Height above the sea. [km]
    dust : float
        Extinction at 1 um at the sea. [mag/airmass]

    Examples
    --------
    >>> float(dust_mag(1.0, dust=0.06))
    0.06
    """
    return dust * np.asarray(wavelength_um, dtype=np.float64) ** -1.3 * math.exp(-height_km / 1.5)


def ozone_mag(wavelength_um: npt.ArrayLike) -> Floats:
    """Extinction by 0.3 atm-cm of ozone [bird]_. [mag/airmass].

    Parameters
    ----------
    wavelength_um : array_like
        Any shape. [um]

    Examples
    --------
    >>> float(ozone_mag(0.6).round(3))
    0.039
    """
    table = read_table(DATA / "ozone.ecsv")
    nm = np.asarray(wavelength_um, dtype=np.float64) * 1000
    return _MAG * OZONE_ATM_CM * np.interp(nm, table["wavelength"], table["absorption"])


def read_extinction(name: str, value: Any) -> Extinction:
    """Check an extinction: a name of :data:`EXTINCTIONS`, a number, or rows of wavelength and number.

    Parameters
    ----------
    name : str
        The field's name, for the error message.
    value : str, float or sequence of pairs
        A number or the rows' second column is in mag/airmass, the first column in nm.

    Raises
    ------
    TypeError, ValueError
        If it is something else, negative, above 10, or the wavelengths don't increase.

    Examples
    --------
    >>> read_extinction("extinction", [[400, 0.5], [700, 0.1]])
    ((400.0, 0.5), (700.0, 0.1))
    """
    if isinstance(value, str):
        if value not in EXTINCTIONS:
            names = ", ".join(EXTINCTIONS)
            msg = (
                f"{name} must be one of {names}, a number in mag/airmass or rows of [nm, mag/airmass], "
                f"got {value!r}{suggest(value, EXTINCTIONS)}"
            )
            raise ValueError(msg)
        return value
    if not isinstance(value, Iterable):
        return read_number(name, value, minimum=0, maximum=STEEPEST, example="0.25")
    rows = [tuple(row) if isinstance(row, Iterable) and not isinstance(row, str) else (row,) for row in value]
    if len(rows) < 2 or any(len(row) != 2 for row in rows):
        msg = (
            f"{name} must have two or more rows of [nm, mag/airmass], got {value!r}; "
            "write it like [[400, 0.5], [700, 0.1]]"
        )
        raise ValueError(msg)
    checked = tuple(
        (
            read_number(f"{name}'s wavelength in nm", nm, above=0),
            read_number(f"{name} in mag/airmass", mag, minimum=0, maximum=STEEPEST),
        )
        for nm, mag in rows
    )
    if any(b[0] <= a[0] for a, b in pairwise(checked)):
        msg = f"{name} must have rows of increasing wavelength, got {[row[0] for row in checked]} nm"
        raise ValueError(msg)
    return checked


@lru_cache(maxsize=64)
def _curve(extinction: Extinction, elevation_m: float) -> Curve:
    if isinstance(extinction, tuple):
        nm, mag = np.array(extinction).T
        # the first and the last row hold beyond the table's ends
        x = np.union1d(nm, RANGE_NM)
        return Curve(x, np.interp(x, nm, mag))
    if isinstance(extinction, str):
        x = np.union1d(np.arange(RANGE_NM[0], RANGE_NM[1] + 5, 5), read_table(DATA / "ozone.ecsv")["wavelength"])
        um, km = x / 1000, elevation_m / 1000
        return Curve(x, rayleigh_mag(um, km) + dust_mag(um, km, EXTINCTIONS[extinction]) + ozone_mag(um))
    return Curve.constant(extinction)


def extinction_curve(extinction: Any = "town", elevation_m: float = 0.0) -> Curve:
    """Extinction over wavelength. [mag/airmass].

    Parameters
    ----------
    extinction : str, float or sequence of pairs
        As in :func:`read_extinction`. A name is computed for the elevation; a number or a table is taken as
        it is, and a table's first and last value hold beyond its ends.
    elevation_m : float
        Height of the place above the sea. [m]

    Examples
    --------
    >>> float(extinction_curve("town")(550).round(2))
    0.26
    """
    return _curve(read_extinction("extinction", extinction), elevation_m)


@lru_cache(maxsize=64)
def extinction_in_v(extinction: Curve) -> float:
    """Extinction in V, as at :data:`expocalc.base.photometry.V_NM`. [mag/airmass].

    Examples
    --------
    >>> round(extinction_in_v(extinction_curve("town")), 2)
    0.26
    """
    return float(extinction(V_NM))


@lru_cache(maxsize=64)
def transmission(extinction: Curve, airmass: float) -> Curve:
    """Share of a star's light that the air lets through.

    Parameters
    ----------
    extinction : Curve
        [mag/airmass]
    airmass : float
        At least 1 above the horizon.

    Examples
    --------
    >>> float(transmission(extinction_curve(0.2), 2.0)(550).round(3))
    0.692
    """
    return Curve(extinction.wavelength_nm, 10 ** (-0.4 * airmass * extinction.value))
