"""The telescope: how much light it takes in and how sharply.

References
----------
.. [expansion] Expansion of materials in parts in a million per kelvin (from memory): aluminium 23, steel 12,
   carbon-fibre tubes about 1.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cached_property
from types import MappingProxyType
from typing import Any

from expocalc.base.curve import Curve
from expocalc.base.noun import Noun, choice, field_of, measure, number
from expocalc.base.quantity import read_number
from expocalc.gear.curves import constant, read_shares

__all__ = ["EXPANSION_PER_K", "Telescope"]

EXPANSION_PER_K: Mapping[str, float] = MappingProxyType({"aluminium": 23e-6, "steel": 12e-6, "carbon fibre": 1e-6})
"""Growth of a tube by its material. [K-1] [expansion]_"""

_FASTEST, _SLOWEST = 0.5, 1000.0
_SHARE: Mapping[str, Any] = MappingProxyType({"above": 0, "maximum": 1, "example": "0.9"})

AIRY_FWHM = 1.029
"""Full width at half maximum of an Airy disc over wavelength / aperture: twice the root 1.6163 of
2 J1(x)/x = 1/sqrt(2), over pi. [-]"""


def _read_throughput(name: str, value: Any) -> float | Curve:
    if isinstance(value, Curve | list | tuple):
        return read_shares(name, value)
    return read_number(name, value, **_SHARE)


class Telescope(Noun):
    """A telescope or lens. Compared by identity.

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit or is out of range, if the obstruction is not smaller
        than the aperture, or if the focal ratio is below f/0.5 or above f/1000.

    Examples
    --------
    >>> telescope = Telescope(aperture="102 mm", focal_length="510 mm")
    >>> telescope.focal_ratio, round(telescope.area_cm2, 1)
    (5.0, 81.7)
    """

    aperture: Any = measure(
        "mm",
        above=0,
        maximum=100_000,
        example='"102 mm"',
        meaning="Diameter of the lens or mirror that collects the light.",
        origin="the maker's data sheet",
    )
    focal_length: Any = measure(
        "mm",
        above=0,
        maximum=1_000_000,
        example='"510 mm"',
        meaning="Focal length of the telescope with its reducer or extender; with the pixel it sets the scale.",
        origin="the maker's data sheet",
    )
    reducer: float = number(
        1.0,
        minimum=0.1,
        maximum=10,
        example="0.8",
        meaning="Factor of a reducer (below 1) or extender (above 1) that focal_length already contains.",
        origin="the maker's data sheet; 1 is none",
    )
    obstruction: Any = measure(
        "mm",
        "0 mm",
        minimum=0,
        example='"35 mm"',
        meaning="Diameter of what stands in the way in the middle, such as a secondary mirror; 0 for a lens.",
        origin="the maker's data sheet; 0 is a refractor",
    )
    throughput: float | Curve = field_of(
        _read_throughput,
        0.9,
        kind="curve",
        **_SHARE,
        other="or pairs of wavelength in nm and share",
        meaning="Share of the light that glass and mirrors let through, without obstruction and filter.",
        origin="assumed: some coated surfaces of 1 to 2 % loss each",
        advanced=True,
    )
    blur: Any = measure(
        "arcsec",
        "0 arcsec",
        minimum=0,
        maximum=60,
        example='"1.5 arcsec"',
        meaning="Width of a star at half its height from the optics alone, beside diffraction.",
        origin="a spot diagram of the maker; 0 is a perfect lens",
        advanced=True,
    )
    tube: str = choice(
        EXPANSION_PER_K,
        "aluminium",
        meaning="What the tube is made of: it sets how much colder the air may become before you focus again.",
        origin="assumed; the maker's data sheet",
        advanced=True,
    )
    vignetting: float = number(
        0.0,
        minimum=0,
        below=1,
        example="0.3",
        meaning="Share of the light that is lost at the target's place in the field, dust included: 0.3 in the corner "
        "of a fast lens.",
        origin="a flat: its level there over that of its middle, from 1; 0 is the middle of a clean field",
        advanced=True,
    )
    field_angle: Any = measure(
        "deg",
        "0 deg",
        minimum=0,
        maximum=45,
        example='"3 deg"',
        meaning="Angle at which the middle of the beam meets a filter at the target's place in the field.",
        origin="the maker's data sheet; half the field's angle for a lens that is not telecentric",
        advanced=True,
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        aperture, obstruction = float(self.aperture.value), float(self.obstruction.value)
        if obstruction >= aperture:
            msg = (
                f"obstruction must be smaller than the aperture of {aperture:g} mm, got {obstruction:g} mm; "
                "it is a diameter"
            )
            raise ValueError(msg)
        if not _FASTEST <= self.focal_ratio <= _SLOWEST:
            msg = (
                f"focal_length must be {_FASTEST:g} to {_SLOWEST:g} times the aperture of {aperture:g} mm, "
                f"got {self.focal_length.value:g} mm"
            )
            raise ValueError(msg)

    @cached_property
    def area_cm2(self) -> float:
        """Area that collects light, the obstruction taken off. [cm2]"""
        return math.pi / 400 * float(self.aperture.value**2 - self.obstruction.value**2)

    @cached_property
    def focal_ratio(self) -> float:
        """Focal length over aperture. [-]"""
        return float(self.focal_length.value / self.aperture.value)

    @cached_property
    def obstruction_share(self) -> float:
        """Diameter of the obstruction over the aperture. [-]"""
        return float(self.obstruction.value / self.aperture.value)

    @cached_property
    def cone(self) -> tuple[float, float, float]:
        """What a filter's band depends on: focal ratio, share of the obstruction, angle of the beam [deg]."""
        return self.focal_ratio, self.obstruction_share, float(self.field_angle.value)

    @cached_property
    def throughput_curve(self) -> Curve:
        """Throughput over wavelength at the target's place in the field. [-]"""
        left = 1 - self.vignetting
        if isinstance(self.throughput, Curve):
            return self.throughput * left if self.vignetting else self.throughput
        return constant(self.throughput * left)

    def diffraction_fwhm_arcsec(self, wavelength_nm: float) -> float:
        """Full width at half maximum of the Airy disc of an open aperture. [arcsec]

        Examples
        --------
        >>> round(Telescope(aperture="100 mm", focal_length="500 mm").diffraction_fwhm_arcsec(550.0), 2)
        1.17
        """
        return AIRY_FWHM * wavelength_nm * 1e-6 / float(self.aperture.value) * math.degrees(1) * 3600
