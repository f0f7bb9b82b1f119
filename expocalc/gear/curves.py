"""Curves that people give: a share of the light over wavelength, as a name, a number, pairs or a file.

Equal input gives the same object, so that what is computed from it is found again in a cache.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from expocalc.base.curve import RANGE_NM, Curve
from expocalc.base.noun import suggest
from expocalc.base.quantity import read_number
from expocalc.base.table import DATA, read_table

__all__ = ["EFFICIENCIES", "constant", "named_efficiency", "read_file", "read_shares", "typical_mosaic"]

EFFICIENCIES = MappingProxyType({"back-lit mono": "qe_back-lit.ecsv", "back-lit colour": "qe_back-lit.ecsv"})
"""Named efficiency curves and their files. The silicon is the same; a mosaic takes its share beside."""

_EXAMPLE = "[[400, 0.7], [700, 0.6]]"


@lru_cache(maxsize=256)
def constant(share: float) -> Curve:
    """The same share at all wavelengths; one object per number."""
    return Curve.constant(share)


@cache
def named_efficiency(name: str) -> Curve:
    """Quantum efficiency by a name of :data:`EFFICIENCIES`: electrons per photon on a bare sensor.

    Examples
    --------
    >>> 0.5 < float(named_efficiency("back-lit mono")(656.3)) < 0.9
    True
    """
    return _columns(EFFICIENCIES[name], "efficiency")


@cache
def typical_mosaic() -> Mapping[str, Curve]:
    """Share of the light that the mosaic's R, G and B each pass: the typical shape, from memory."""
    return MappingProxyType({colour: _columns("mosaic_typical.ecsv", colour) for colour in "RGB"})


def _columns(file: str, column: str) -> Curve:
    table = read_table(DATA / file)
    return Curve(table["wavelength"], table[column])


def read_shares(name: str, value: Any, names: Mapping[str, str] = MappingProxyType({})) -> Curve:
    """Curve of shares between 0 and 1.

    Parameters
    ----------
    name : str
        The field's name, for the error messages.
    value : Curve, number, str or sequence
        A curve, one share ("92 %" as well), [wavelength in nm, share] pairs, or a name.
    names : mapping of str to str, optional
        Names of shipped efficiency curves that are allowed.

    Returns
    -------
    Curve

    Raises
    ------
    TypeError
        If it is none of these.
    ValueError
        If a share is not between 0 and 1, the wavelengths do not increase or leave the range of the model.

    Examples
    --------
    >>> float(read_shares("throughput", [[400, 0.8], [600, 0.9]])(500))
    0.85
    """
    if isinstance(value, Curve):
        return _check(name, value)
    if isinstance(value, str) and value[:1].isalpha() and names:
        if value not in names:
            msg = (
                f"{name} must be one of {', '.join(names)}, a share between 0 and 1, or pairs such as "
                f"{_EXAMPLE}, got {value[:60]!r}{suggest(value, names)}"
            )
            raise ValueError(msg)
        return named_efficiency(value)
    if isinstance(value, Sequence | np.ndarray) and not isinstance(value, str):
        return _pairs(name, tuple(_pair(name, pair) for pair in value))
    return constant(read_number(name, value, above=0, maximum=1, example="0.9"))


def read_file(name: str, path: Path) -> Curve:
    """Curve of shares from a file with two columns, wavelength in nm and share.

    Raises
    ------
    ValueError
        If the file cannot be read, has not two columns, or holds no curve of shares.
    """
    table = read_table(path)
    if len(table) != 2:
        msg = f"{name} must be a file of two columns, wavelength in nm and share, got {len(table)} in {path.name}"
        raise ValueError(msg)
    wavelength_nm, share = table.values()
    try:
        return _check(name, Curve(wavelength_nm, share))
    except ValueError as error:
        msg = f"{error} (in the file {path.name})"
        raise ValueError(msg) from None


def _pair(name: str, pair: Any) -> tuple[float, float]:
    if not isinstance(pair, Sequence | np.ndarray) or isinstance(pair, str) or len(pair) != 2:
        msg = f"{name} must hold pairs of wavelength in nm and share, got {str(pair)[:60]!r}; write it like {_EXAMPLE}"
        raise ValueError(msg)
    return read_number(f"{name} wavelength", pair[0], above=0), read_number(f"{name} share", pair[1])


@lru_cache(maxsize=256)
def _pairs(name: str, pairs: tuple[tuple[float, float], ...]) -> Curve:
    if len(pairs) < 2:
        msg = f"{name} must hold two or more pairs of wavelength in nm and share; write it like {_EXAMPLE}"
        raise ValueError(msg)
    try:
        curve = Curve(*np.array(pairs).T)
    except ValueError as error:
        msg = f"{name}: {error}"
        raise ValueError(msg) from None
    return _check(name, curve)


def _check(name: str, curve: Curve) -> Curve:
    low, high = float(curve.value.min()), float(curve.value.max())
    if low < 0 or high > 1:
        msg = f"{name} must hold shares between 0 and 1, got {low if low < 0 else high:g}; write 92 % as 0.92"
        raise ValueError(msg)
    if high == 0:
        msg = f"{name} must pass some light, got 0 at all wavelengths"
        raise ValueError(msg)
    first, last = float(curve.wavelength_nm[0]), float(curve.wavelength_nm[-1])
    if last <= RANGE_NM[0] or first >= RANGE_NM[1]:
        msg = f"{name} must cover a part of {RANGE_NM[0]:g} to {RANGE_NM[1]:g} nm, got {first:g} to {last:g} nm"
        raise ValueError(msg)
    return curve
