"""A number to turn or type in an experiment, with sane limits and a kind sentence."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from workbook.parts.knob import Knob
from workbook.workshop.numbers import read_number_kindly

__all__ = ["Dial"]

_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "electron": "electrons",
        "mag/arcsec2": "mag/arcsec²",
        "deg": "°",
        "deg_C": "°C",
        "um": "µm",
        "pixel": "pixels",
    }
)
"""How people write what the reader of units spells otherwise."""
_INCHES = re.compile(r"(.*\d[.,]?)\s*(?:in|inch|inches|\"|″|”|'')\.?", re.I | re.S)
_INCH_MM = 25.4


@dataclass(frozen=True, kw_only=True)
class Dial(Knob):
    """A knob that knows where it starts and keeps to its reach; a bare number is in the unit that its label shows.

    Attributes
    ----------
    start : float
        Where it stands first. [unit]

    Examples
    --------
    >>> dial = Dial(label="Read noise", unit="electron", low=0, high=10, step=0.1, start=1.4)
    >>> dial.read("0,8"), dial.say(1.4)
    (0.8, '1.4 electrons')
    >>> Dial(label="Aperture", unit="mm", low=30, high=400, step=1, start=102).read("4 inches")
    101.6
    >>> dial.read("80")
    Traceback (most recent call last):
    ...
    ValueError: Read noise: from 0 to 10 electrons here, so 80 is too much; try 1.4.
    """

    start: float

    def read(self, text: str) -> float:
        """Number of a typed text, inside the reach."""
        inches = _INCHES.fullmatch(text.strip()) if self.unit == "mm" else None
        if inches:
            value = float(f"{_INCH_MM * read_number_kindly(inches[1]):.6g}")
        else:
            value = read_number_kindly(text.strip().removesuffix(self._said or " "), self.unit)
        if not self.low <= value <= self.high:
            side = "little" if value < self.low else "much"
            msg = (
                f"{self.label}: from {self.low:g} to {self.high:g}{self._tail} here, so {value:.10g} is "
                f"too {side}; try {self.start:g}."
            )
            raise ValueError(msg)
        return value

    @property
    def _said(self) -> str:
        return _WORDS.get(self.unit, self.unit)

    @property
    def _tail(self) -> str:
        return f"{'' if self._said == '°' else ' '}{self._said}".rstrip()

    def say(self, value: float | None) -> str:
        """The value as it stands in the box."""
        shown = float(f"{self.start if value is None else value:.4g}")
        return f"{shown:g}{self._tail}"
