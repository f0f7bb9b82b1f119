"""One range of wavelengths that a filter passes, at normal incidence and in the telescope's cone."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cached_property, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from expocalc.base.curve import RANGE_NM, Curve
from expocalc.base.noun import Noun, choice, field_of, measure, number
from expocalc.base.photometry import BANDS, standard_band
from expocalc.base.quantity import read_number
from expocalc.gear.cone import beam, centring_factor, pupil_average
from expocalc.gear.curves import read_file, read_shares
from expocalc.gear.shapes import SHAPES, stated

__all__ = ["NARROW_NM", "Passband", "in_cone", "reach_nm"]

_RATIO: Mapping[str, Any] = MappingProxyType({"minimum": 0.5, "maximum": 1000, "example": '"f/2"'})
_FOCAL_RATIO = r"\s*[fF]\s*/\s*(\d+(?:[.,]\d+)?)\s*"
NARROW_NM = 20.0
"""Filters up to this width have the slopes of a stack of cavities where a plan names no shape. [nm]"""
_SUSPECT = 0.01
"""Light below this share of the peak does not count as reaching somewhere."""


def _read_designed_for(name: str, value: Any) -> float:
    if isinstance(value, str):
        match = re.fullmatch(_FOCAL_RATIO, value)
        if match is None:
            msg = f'{name} must be a focal ratio, got {value[:60]!r}; write it like "f/2"'
            raise ValueError(msg)
        value = float(match[1].replace(",", "."))
    return read_number(name, value, **_RATIO)


def _read_table(name: str, value: Any) -> Curve:
    if isinstance(value, str | Path):
        return read_file(name, Path(value))
    return read_shares(name, value)


def reach_nm(curve: Curve) -> tuple[float, float]:
    """Shortest and longest wavelength at which a curve has more than 1 % of its peak. [nm]"""
    passed = curve.wavelength_nm[curve.value > _SUSPECT * curve.value.max()]
    return float(passed[0]), float(passed[-1])


class Passband(Noun):
    r"""One range of wavelengths that a filter passes. Compared by identity.

    Either `centre` and `width`, or `table`, or `standard` says which.

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit or is out of range, if not exactly one of the three
        ways is used, or if the passband reaches outside 300 to 1100 nm.

    Examples
    --------
    >>> float(Passband(centre="656.3 nm", width="5 nm", peak=0.88).curve(656.28))
    0.88
    """

    centre: Any = measure(
        "nm",
        None,
        minimum=RANGE_NM[0],
        maximum=RANGE_NM[1],
        example='"656.3 nm"',
        meaning="Wavelength in the middle of what passes, for light that falls straight onto the filter.",
        origin="the maker's data sheet",
    )
    width: Any = measure(
        "nm",
        None,
        minimum=0.05,
        maximum=800,
        example='"5 nm"',
        meaning="Width of what passes, between the wavelengths where half of the peak passes.",
        origin="the maker's data sheet",
    )
    peak: float | None = number(
        None,
        above=0,
        maximum=1,
        example="0.9",
        meaning="Largest share of the light that passes; 0.9 unless given, 1 for a standard band, not beside a table.",
        origin="the maker's data sheet; 0.9 is assumed",
    )
    shape: str | None = choice(
        SHAPES,
        None,
        meaning="How the edges fall: as those of three cavities, which filters up to 20 nm wide have unless another "
        "shape is named; upright as of a box, which wider ones have; or as a Gaussian's.",
        origin="Macleod, Thin-Film Optical Filters, from memory",
        advanced=True,
    )
    table: Curve | None = field_of(
        _read_table,
        None,
        kind="curve",
        example="[[650, 0.1], [656, 0.9], [662, 0.1]]",
        other='a file such as "filter.ecsv" beside the plan or pairs, of wavelength in nm and share that passes',
        meaning="Measured share of the light that passes at each wavelength, in place of centre and width.",
        origin="the maker's curve",
        advanced=True,
    )
    standard: str | None = choice(
        BANDS,
        None,
        meaning="Name of a standard band, in place of centre and width; used as published in every telescope.",
        origin="the papers named in the band's table",
        advanced=True,
    )
    index: float = number(
        2.0,
        minimum=1.2,
        maximum=4,
        example="2.0",
        meaning="Effective index of the filter's thin layers, which says how far a slanted ray moves the band.",
        origin="assumed",
        advanced=True,
    )
    designed_for: float | None = field_of(
        _read_designed_for,
        None,
        kind="number",
        **_RATIO,
        other='written as "f/2" or 2',
        meaning="Focal ratio for which the maker moved the band to longer wavelengths, so that it is centred there.",
        origin="the maker's data sheet",
        advanced=True,
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        banded = self.centre is not None or self.width is not None
        if (self.centre is None) != (self.width is None):
            missing = "centre" if self.centre is None else "width"
            msg = f"passband must have both centre and width, {missing} is missing"
            raise ValueError(msg)
        if banded + (self.table is not None) + (self.standard is not None) != 1:
            msg = (
                "passband must have exactly one of centre and width, table, or standard; "
                'write it like { centre = "656.3 nm", width = "5 nm" }'
            )
            raise ValueError(msg)
        if not banded and self.shape is not None:
            beside = "standard" if self.table is None else "table"
            msg = f"passband must have no shape beside a {beside}, got {self.shape!r}"
            raise ValueError(msg)
        if self.table is not None and self.peak is not None:
            msg = f"passband must have no peak beside a table, which holds its own, got {self.peak:g}"
            raise ValueError(msg)
        if self.standard is not None and self.designed_for is not None:
            msg = f"passband must have no designed_for beside a standard, got f/{self.designed_for:g}"
            raise ValueError(msg)
        if self.peak is None and self.table is None:
            object.__setattr__(self, "peak", 0.9 if banded else 1.0)
        if banded and self.shape is None:
            object.__setattr__(self, "shape", "cavities" if self.width.value <= NARROW_NM else "box")
        self._check_range()

    def _check_range(self) -> None:
        if self.centre is not None:
            half = float(self.width.value) / 2
            low, high = float(self.centre.value) - half, float(self.centre.value) + half
        elif self.table is not None:
            low, high = reach_nm(self.table)
        else:
            return
        if low < RANGE_NM[0] or high > RANGE_NM[1]:
            msg = (
                f"passband must lie within {RANGE_NM[0]:g} to {RANGE_NM[1]:g} nm, which the model covers, "
                f"got {low:g} to {high:g} nm"
            )
            raise ValueError(msg)

    @cached_property
    def curve(self) -> Curve:
        """Transmission at normal incidence, moved if it was designed for a cone. [-]"""
        if self.standard is not None:
            return standard_band(self.standard) * float(self.peak or 1)
        if self.table is not None:
            curve = self.table
        else:
            centre, width, peak = float(self.centre.value), float(self.width.value), float(self.peak or 1)
            curve = stated(str(self.shape), centre, width, peak)
        if self.designed_for is None:
            return curve
        return Curve(curve.wavelength_nm * centring_factor(self.designed_for, self.index), curve.value)


@lru_cache(maxsize=128)
def in_cone(
    passband: Passband, focal_ratio: float, obstruction_share: float = 0.0, field_angle_deg: float = 0.0
) -> Curve:
    """Transmission of a passband in a telescope's beam.

    Parameters
    ----------
    passband : Passband
    focal_ratio : float
        Focal length over aperture. [-]
    obstruction_share : float, optional
        Diameter of the central obstruction over the aperture. [-]
    field_angle_deg : float, optional
        Angle of the beam's axis to the filter's normal: 0 at the centre of the field, and everywhere in a
        telecentric beam. [deg]

    Returns
    -------
    Curve
        Mean over the pupil; a standard band as published. [-]

    Raises
    ------
    ValueError
        If all of the passband leaves the range of the model in that beam.

    Examples
    --------
    >>> narrow = Passband(centre="656.3 nm", width="3 nm", peak=1)
    >>> f"{float(in_cone(narrow, 2.8)(656.28)):.2f}"
    '0.62'
    """
    if passband.standard is not None:
        return passband.curve
    rings = beam(focal_ratio, obstruction_share, field_angle_deg)
    found = pupil_average(passband.curve, rings, passband.index)
    if not (found.value > 0).any():
        low, high = reach_nm(passband.curve)
        msg = (
            f"a passband must stay within {RANGE_NM[0]:g} to {RANGE_NM[1]:g} nm, which the model covers, in the "
            f"telescope's cone as well, got one of {low:.5g} to {high:.5g} nm that leaves it at f/{focal_ratio:g}"
        )
        raise ValueError(msg)
    return found
