"""What a plan's numbers may be off by: one standard deviation of each input that is not exactly known.

References
----------
.. [green] Green, D. W. E. 1992, International Comet Quarterly 14, 55: dust at 1 um of 0.03 mag/airmass in a dry winter
   to 0.12 in a humid summer, 0.05 on average; the whole extinction at 550 nm is then 0.20 to 0.40, 0.25 on average.
.. [widenhorn] Widenhorn, R. et al. 2002, Proc. SPIE 4669, 193: dark current differs between pixels and cameras.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from expocalc.base.noun import Noun, field_of, measure, number
from expocalc.base.quantity import read_number
from expocalc.budget.practice import Practice, read_practice

__all__ = ["INPUTS", "Doubt"]

INPUTS: Mapping[str, str] = MappingProxyType(
    {
        "sky_reading": "the sky reading",
        "measured_sky": "the measured sky",
        "lamp_mix": "the mix of lamps",
        "lamp_colour": "how much bluer skyglow is than its lamps",
        "natural_sky": "the natural sky",
        "target": "the target's brightness",
        "efficiency": "efficiency and throughput",
        "extinction": "extinction",
        "dark_current": "dark current",
        "read_noise": "read noise",
        "seeing": "seeing",
        "filter_centre": "where the filter's band lies",
        "practice": "what real sessions lose beside the model",
    }
)
"""Inputs whose doubt is carried to the hours, in plain words; the sky reading's own error belongs to the sky."""


def _read_factor(name: str, value: Any) -> float:
    """Factor of one standard deviation; a text with a percent sign says how far above 1."""
    if isinstance(value, str) and value.rstrip().endswith("%"):
        return 1 + read_number(name, value, minimum=0, maximum=1000)
    return read_number(name, value, minimum=1, maximum=1000, example='"10 %" or the factor 1.1')


def _factor(default: float) -> Any:
    return field_of(_read_factor, default)


@dataclass(frozen=True, eq=False, kw_only=True)
class Doubt(Noun):
    """One standard deviation of each input.

    Factors multiply or divide: 1.1, or "10 %", is a tenth either way, 5 is five times as much or a fifth, 1 is no
    doubt. Every default is an assumption, of which some rest on a source.

    Parameters
    ----------
    lamp_mix : float or str
        Factor on the share of each lamp, before the shares are brought back to a sum of 1. One lamp alone has no doubt.
        [-]
    lamp_colour : float
        On the exponent 1.7 by which skyglow is bluer than its lamps (:data:`expocalc.light.lamps.BLUER_BY`). [-]
    natural_sky : float or str
        Factor on the natural sky: a quiet year has some 0.7, an active one 1.35 of the typical light. [-]
    target : float or str
        Factor on the brightness of each of the target's lights. [-]
    efficiency : float or str
        Factor on quantum efficiency and throughput together. [-]
    extinction : float or str
        Factor on magnitudes per airmass: the seasons of [green]_ lie within two of the default, or nearly. [-]
    dark_current : float or str
        Factor; cameras of one kind differ by more than 5 [widenhorn]_. Glow has no doubt. [-]
    read_noise : float or str
        Factor. [-]
    seeing : float or str
        Factor on the width of a star by the air alone; counts for stars. [-]
    filter_centre : Quantity or str
        Shift of all of a filter's passbands together; a standard band is taken as published. [nm]
    measured_sky : float or str
        Factor on a sky that a test sub measured in a filter, where it takes the place of all doubts of the sky: nights
        differ by some 0.15 mag even where nothing changes on the ground (from memory). [-]
    practice : float or str
        Factor on the hours at best: "published" for what instruments really needed
        (:data:`expocalc.budget.practice.PUBLISHED`), "none", or one's own from nights that are over. [-]

    Raises
    ------
    TypeError, ValueError
        If a factor is below 1, a width is negative or has no unit.

    Examples
    --------
    >>> doubt = Doubt(dark_current=2, read_noise="5 %", filter_centre="0 nm")
    >>> doubt.read_noise, doubt.shown["dark_current"], doubt.shown["efficiency"]
    (1.05, 'factor 2', '10 %')
    """

    lamp_mix: float = _factor(2.0)
    lamp_colour: float = number(0.8, minimum=0, maximum=5, example="0.8")
    natural_sky: float = _factor(1.35)
    target: float = _factor(1.25)
    efficiency: float = _factor(1.1)
    extinction: float = _factor(1.25)
    dark_current: float = _factor(5.0)
    read_noise: float = _factor(1.1)
    seeing: float = _factor(1.2)
    filter_centre: Any = measure("nm", "0.3 nm", minimum=0, maximum=50, example='"0.3 nm"')
    measured_sky: float = _factor(1.15)
    practice: Practice = field_of(read_practice, "published")

    @classmethod
    def none(cls) -> Doubt:
        """Everything exactly known."""
        return cls(**dict.fromkeys(_FACTORS, 1.0), lamp_colour=0.0, filter_centre="0 nm", practice="none")

    def log_sd(self, name: str) -> float:
        """Standard deviation of the logarithm of the input whose doubt is the factor `name`. [-]"""
        return math.log(getattr(self, name))

    def size(self, name: str) -> float:
        """Standard deviation of an input: of its logarithm, of the exponent, or in nm; 0 is no doubt."""
        if name == "filter_centre":
            return float(self.filter_centre.value)
        if name == "practice":
            return self.practice.log_sd
        return self.lamp_colour if name == "lamp_colour" else self.log_sd(name)

    @property
    def shown(self) -> Mapping[str, str]:
        """Size of each doubt as a person says it, by the field's name."""
        factors = {name: float(getattr(self, name)) for name in _FACTORS}
        said = {name: f"{100 * (f - 1):.3g} %" if f < 1.5 else f"factor {f:.3g}" for name, f in factors.items()}
        said |= {"lamp_colour": f"{self.lamp_colour:g}", "filter_centre": f"{self.filter_centre.value:g} nm"}
        said["practice"] = self.practice.words
        return MappingProxyType({name: said[name] for name in INPUTS if name in said})


_FACTORS = (
    "lamp_mix",
    "natural_sky",
    "target",
    "efficiency",
    "extinction",
    "dark_current",
    "read_noise",
    "seeing",
    "measured_sky",
)
