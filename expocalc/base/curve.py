"""Curves over wavelength and spectra with lines, and their integration.

A curve is a polyline, so the integral of a product of up to three curves is a sum of cubics that Simpson's rule gives
exactly. Lines never go onto a grid: a spectrum keeps them apart, and a passband is asked at their very wavelength.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

__all__ = ["EDGE_NM", "RANGE_NM", "Curve", "Floats", "Spectrum", "integrate", "product"]

Floats = npt.NDArray[np.float64]

RANGE_NM = (300.0, 1100.0)
"""Wavelengths that the model covers. [nm]"""

EDGE_NM = 1e-6
"""Half width of a vertical edge, so that a polyline can hold a box. [nm]"""

_FINEST_NM = 1.0


def _frozen(values: Any) -> Floats:
    array: Floats = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


@dataclass(frozen=True, repr=False, eq=False)
class Curve:
    """A quantity over wavelength: straight lines between nodes, zero outside them.

    Parameters
    ----------
    wavelength_nm : array_like
        Nodes, shape (n,), n >= 2, strictly increasing. [nm]
    value : array_like
        Value at each node, shape (n,).

    Raises
    ------
    ValueError
        If the shapes differ, there are fewer than two nodes, the nodes do not increase, or a number is not finite.

    Examples
    --------
    >>> float(Curve([400, 500], [0.0, 1.0])(450))
    0.5
    """

    wavelength_nm: Floats
    value: Floats

    def __post_init__(self) -> None:
        x, y = _frozen(self.wavelength_nm), _frozen(self.value)
        if x.ndim != 1 or x.shape != y.shape or x.size < 2:
            msg = f"a curve needs two or more pairs of wavelength and value, got shapes {x.shape} and {y.shape}"
            raise ValueError(msg)
        if not (np.isfinite(x).all() and np.isfinite(y).all()):
            msg = "a curve must hold finite numbers only, got NaN or infinity"
            raise ValueError(msg)
        if not (np.diff(x) > 0).all():
            at = float(x[1:][np.diff(x) <= 0][0])
            msg = f"a curve's wavelengths must increase, got {at:g} nm after a longer or equal one"
            raise ValueError(msg)
        object.__setattr__(self, "wavelength_nm", x)
        object.__setattr__(self, "value", y)

    def __call__(self, wavelength_nm: npt.ArrayLike) -> Floats:
        """Value at `wavelength_nm` (any shape), zero outside the nodes."""
        x = np.asarray(wavelength_nm, dtype=np.float64)
        return np.interp(x, self.wavelength_nm, self.value, left=0.0, right=0.0)

    def __mul__(self, factor: float) -> Curve:
        """The curve times a number."""
        return Curve(self.wavelength_nm, self.value * factor)

    @property
    def support_nm(self) -> tuple[float, float]:
        """Shortest and longest wavelength between which the value is not zero. [nm]"""
        nonzero = np.flatnonzero(self.value)
        if not nonzero.size:
            return float(self.wavelength_nm[0]), float(self.wavelength_nm[0])
        first, last = max(nonzero[0] - 1, 0), min(nonzero[-1] + 1, self.value.size - 1)
        return float(self.wavelength_nm[first]), float(self.wavelength_nm[last])

    @classmethod
    def constant(cls, value: float) -> Curve:
        """The same value over the whole range of the model."""
        return cls(np.array(RANGE_NM), np.array([value, value]))

    @classmethod
    def boxes(cls, edges_nm: Sequence[tuple[float, float]], heights: Sequence[float]) -> Curve:
        """Sum of boxes with upright edges, `edges_nm` their (left, right) and `heights` their values."""
        corners = np.array([(a - EDGE_NM, a + EDGE_NM, b - EDGE_NM, b + EDGE_NM) for a, b in edges_nm])
        x = np.unique(np.concatenate((corners.ravel(), RANGE_NM)))
        y = np.zeros_like(x)
        for (_, inner_left, inner_right, _), height in zip(corners, heights, strict=True):
            y[(x >= inner_left) & (x <= inner_right)] += height
        return cls(x, y)


def _nodes(curves: Sequence[Curve], low: float, high: float) -> Floats:
    x = np.concatenate([c.wavelength_nm for c in curves])
    return np.unique(np.concatenate((x[(x > low) & (x < high)], [low, high])))


def _overlap(curves: Sequence[Curve]) -> tuple[float, float]:
    supports = [c.support_nm for c in curves]
    return max(s[0] for s in supports), min(s[1] for s in supports)


def _multiply(curves: Sequence[Curve], x: Floats) -> Floats:
    y = curves[0](x)
    for curve in curves[1:]:
        y = y * curve(x)
    return y


def integrate(*curves: Curve) -> float:
    """Integral over wavelength of the product of curves.

    Parameters
    ----------
    *curves : Curve
        One or more; exact for up to three.

    Returns
    -------
    float
        The product of the curves' units times nm.

    Examples
    --------
    >>> round(integrate(Curve([400, 500], [0, 1]), Curve([300, 600], [2, 2])), 6)
    100.0
    """
    low, high = _overlap(curves)
    if high <= low:
        return 0.0
    x = _nodes(curves, low, high)
    # Simpson's rule on each piece: ends once, middle four times.
    ends = _multiply(curves, x)
    middle = _multiply(curves, (x[1:] + x[:-1]) / 2)
    return float(np.dot(np.diff(x), ends[:-1] + 4 * middle + ends[1:]) / 6)


def product(*curves: Curve) -> Curve:
    """Product of curves as one polyline with nodes at most 1 nm apart where it is not zero.

    Returns
    -------
    Curve
        Zero outside the overlap of all curves.

    Examples
    --------
    >>> float(product(Curve([400, 500], [0, 1]), Curve([300, 600], [2, 2]))(450))
    1.0
    """
    low, high = _overlap(curves)
    if high <= low:
        return Curve(np.array(RANGE_NM), np.zeros(2))
    fine = np.arange(low, high, _FINEST_NM)
    x = np.unique(np.concatenate((_nodes(curves, low, high), fine)))
    return Curve(x, _multiply(curves, x))


@dataclass(frozen=True, repr=False, eq=False)
class Spectrum:
    """Photon radiance: a continuum and lines beside it.

    Parameters
    ----------
    continuum : Curve
        [photon s-1 cm-2 nm-1 arcsec-2]
    line_nm : array_like, optional
        Wavelengths of the lines, shape (m,). [nm]
    line : array_like, optional
        Strength of each line, shape (m,). [photon s-1 cm-2 arcsec-2]
    """

    continuum: Curve
    line_nm: Floats = field(default_factory=lambda: np.zeros(0))
    line: Floats = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        object.__setattr__(self, "line_nm", _frozen(self.line_nm))
        object.__setattr__(self, "line", _frozen(self.line))

    def through(self, *curves: Curve) -> float:
        """Integral of the spectrum times the curves: photons (or what the curves make of them) s-1 cm-2 arcsec-2."""
        lines = float(np.dot(self.line, _multiply(curves, self.line_nm))) if self.line.size else 0.0
        return integrate(self.continuum, *curves) + lines

    def by_node(self, nodes_nm: Floats, *curves: Curve) -> Floats:
        """Parts of :meth:`through` by the nodes of one more curve, whose value there is left open.

        Parameters
        ----------
        nodes_nm : ndarray
            Nodes of that curve, shape (n,), from before to behind all that the spectrum has. [nm]
        *curves : Curve
            None or one; exact as in :func:`integrate`.

        Returns
        -------
        ndarray
            Shape (n,); its dot product with any values at the nodes is the integral with the curve through them.

        Examples
        --------
        >>> light, air = Spectrum(Curve([400, 500], [0.0, 1.0])), Curve([300, 450, 600], [1.0, 0.5, 0.2])
        >>> round(float(light.by_node(air.wavelength_nm) @ air.value), 6), round(light.through(air), 6)
        (23.611111, 23.611111)
        """
        at, share = self.line_nm, self.line * (_multiply(curves, self.line_nm) if curves else 1.0)
        low, high = _overlap((self.continuum, *curves))
        if high > low and self.continuum.value.any():
            x = np.union1d(_nodes((self.continuum, *curves), low, high), nodes_nm[(nodes_nm > low) & (nodes_nm < high)])
            middle, sixth = (x[1:] + x[:-1]) / 2, np.diff(x) / 6
            points = np.concatenate((x[:-1], middle, x[1:]))
            simpson = np.concatenate((sixth, 4 * sixth, sixth))
            at = np.concatenate((at, points))
            share = np.concatenate((share, simpson * _multiply((self.continuum, *curves), points)))
        left = np.clip(np.searchsorted(nodes_nm, at, side="right") - 1, 0, nodes_nm.size - 2)
        way = (at - nodes_nm[left]) / np.diff(nodes_nm)[left]
        count = nodes_nm.size
        return np.asarray(
            np.bincount(left, share * (1 - way), count) + np.bincount(left + 1, share * way, count), float
        )

    def __mul__(self, factor: float) -> Spectrum:
        """The spectrum times a number."""
        return Spectrum(self.continuum * factor, self.line_nm, self.line * factor)

    def __add__(self, other: Spectrum) -> Spectrum:
        """Sum of two spectra."""
        a, b = self.continuum, other.continuum
        x = np.unique(np.concatenate((a.wavelength_nm, b.wavelength_nm)))
        return Spectrum(
            Curve(x, a(x) + b(x)),
            np.concatenate((self.line_nm, other.line_nm)),
            np.concatenate((self.line, other.line)),
        )
