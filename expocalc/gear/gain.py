"""A gain setting: what reading the sensor adds, and how far it counts.

References
----------
.. [emva] EMVA Standard 1288, Release 4.0, 2021: the variance of quantisation is 1/12 step squared, and the
   read noise stated by it has that taken off; a read noise measured from bias frames still holds it.
"""

from __future__ import annotations

from typing import Any

from expocalc.base.noun import Noun, choice, measure, number, whole

__all__ = ["GainSetting"]


class GainSetting(Noun):
    """What a camera does at one gain. Compared by identity.

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit or is out of range, or the bias level fills the
        converter.

    Examples
    --------
    >>> setting = GainSetting(
    ...     read_noise="1.4 electron", electrons_per_adu=0.25, full_well="50000 electron", bias_level=500
    ... )
    >>> setting.saturation_e
    16258.75
    """

    read_noise: Any = measure(
        "electron",
        minimum=0,
        maximum=1000,
        example='"1.4 electron"',
        meaning="Noise that reading the sensor adds to each pixel of each sub, root mean square over the pixels.",
        origin="the maker's data sheet at this gain, or a pair of your own biases",
    )
    electrons_per_adu: float = number(
        above=0,
        maximum=1000,
        example="0.25",
        meaning="Electrons that raise a pixel of the stored picture by one count.",
        origin="the maker's data sheet at this gain, or a pair of your own flats",
    )
    native_step: int = whole(
        1,
        minimum=1,
        maximum=65536,
        example="1",
        meaning="Counts between neighbouring stored values: 4 or 16 where 14 or 12 bits are stored in 16.",
        origin="common practice, no source; your own subs show it",
        advanced=True,
    )
    bias_level: float | None = number(
        None,
        minimum=0,
        example="500",
        meaning="Mean of a sub of no length, in stored counts, which the camera adds to every sub.",
        origin="your own biases",
        advanced=True,
    )
    full_well: Any = measure(
        "electron",
        above=0,
        maximum=1e8,
        example='"15000 electron"',
        meaning="Electrons that fill a pixel at this gain; a brighter star is cut off.",
        origin="the maker's data sheet at this gain",
    )
    bits: int = whole(
        16,
        minimum=8,
        maximum=32,
        example="16",
        meaning="Bits of the camera's converter.",
        origin="the maker's data sheet",
        advanced=True,
    )
    read_noise_kind: str = choice(
        ("bias", "emva"),
        "bias",
        meaning="How the read noise was found: from bias frames, or by EMVA 1288, without the converter's steps.",
        origin="EMVA Standard 1288, Release 4.0, 2021",
        advanced=True,
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.bias_level is not None and self.bias_level >= self._highest_adu:
            msg = (
                f"bias_level must be below {self._highest_adu:g} ADU, the most that {self.bits} bits hold, "
                f"got {self.bias_level:g} ADU"
            )
            raise ValueError(msg)

    @property
    def _highest_adu(self) -> float:
        return float((2**self.bits - 1) * self.native_step)

    @property
    def native_step_e(self) -> float:
        """One step of the converter. [electron]"""
        return self.native_step * self.electrons_per_adu

    @property
    def saturation_e(self) -> float:
        """Electrons above the bias that fill the well or the converter, whichever is first. [electron]"""
        converter = (self._highest_adu - (self.bias_level or 0.0)) * self.electrons_per_adu
        return min(float(self.full_well.value), converter)

    @property
    def quantisation_variance_e2(self) -> float:
        """Noise of the converter's steps that the read noise does not hold. [electron2]

        A twelfth of a step squared for an EMVA read noise [emva]_, 0 for one from bias frames.
        """
        return self.native_step_e**2 / 12 if self.read_noise_kind == "emva" else 0.0

    @property
    def read_variance_e2(self) -> float:
        """All that reading adds to one pixel of one sub: read noise squared and quantisation. [electron2]"""
        return float(self.read_noise.value) ** 2 + self.quantisation_variance_e2
