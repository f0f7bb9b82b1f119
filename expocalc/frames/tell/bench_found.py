"""What a camera's bench finds: numbers with their intervals, and what they were read from."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from expocalc.frames.measure.activation import Activation
from expocalc.frames.measure.darks import DarkPoint, DarkRate
from expocalc.frames.measure.transfer import Line

__all__ = ["Bench", "Value"]


@dataclass(frozen=True, kw_only=True)
class Value:
    """A number and the interval that holds it in 68 cases of 100; `value` is None where frames do not tell it."""

    value: float | None = None
    low: float | None = None
    high: float | None = None

    @classmethod
    def of(cls, found: tuple[float, float, float]) -> Value:
        """From a value and the ends of its interval."""
        return cls(value=found[0], low=found[1], high=found[2])

    @classmethod
    def around(cls, value: float, error: float, least: float = -math.inf) -> Value:
        """From a standard error."""
        return cls(value=value, low=max(value - error, least), high=value + error)

    @classmethod
    def root(cls, square: float, error: float, scale: float = 1.0) -> Value:
        """Square root of a measured square, not below 0, times `scale`."""
        ends = (math.sqrt(max(x, 0.0)) * scale for x in (square, square - error, square + error))
        value, low, high = ends
        return cls(value=value, low=low, high=high)


@dataclass(frozen=True, eq=False, kw_only=True)
class Bench:
    """What biases, flats and darks tell; the names are those of the JSON.

    Attributes
    ----------
    values : mapping of str to Value
    lines : mapping of str to Line
        Photon transfer of each colour; all share `electrons_per_adu`.
    darks : tuple of DarkRate
    dark_points : tuple of DarkPoint
    law : Activation or None
    bias_adu : float
        [ADU]
    quantisation_share : float
        Of the read noise squared. [-]
    warnings : tuple of str
    section : mapping
        Of a plan file.
    """

    values: Mapping[str, Value]
    line: Line
    darks: tuple[DarkRate, ...] = ()
    dark_points: tuple[DarkPoint, ...] = ()
    law: Activation | None = None
    bias_adu: float
    quantisation_share: float
    warnings: tuple[str, ...] = ()
    section: Mapping[str, Any] = field(default_factory=dict)
