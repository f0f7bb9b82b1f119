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
from types import MappingProxyType
from typing import Any

from expocalc.base.noun import Noun, factor, field_of, measure, number
from expocalc.budget.practice import NONE, PUBLISHED, Practice, read_practice

__all__ = ["INPUTS", "Doubt"]

INPUTS: Mapping[str, str] = MappingProxyType(
    {
        "sky_reading": "the sky reading",
        "measured_sky": "the measured sky",
        "lamp_mix": "the mix of lamps",
        "lamp_colour": "how much bluer skyglow is than its lamps",
        "lamps_told": "the lamps, as measured rates tell them",
        "natural_sky": "the natural sky",
        "narrow_sky": "the sky's spectrum inside a narrow filter",
        "target": "the target's brightness",
        "efficiency": "efficiency and throughput",
        "extinction": "extinction",
        "dark_current": "dark current",
        "read_noise": "read noise",
        "seeing": "seeing",
        "filter_centre": "where the filter's band lies",
        "filter_width": "how wide the filter's band is",
        "moonlight": "scattered moonlight",
        "flatness": "how even the background stays",
        "practice": "what real sessions lose beside the model",
    }
)
"""Inputs whose doubt is carried to the hours, in plain words; the reading and lamps that rates tell have their own."""


_ONE = "Factor of one standard deviation"


def _factor(default: float, meaning: str, origin: str) -> Any:
    return factor(
        default,
        other='or written as "10 %"',
        meaning=f"{_ONE} {meaning[:1].lower()}{meaning[1:]}",
        origin=origin,
        advanced=True,
    )


class Doubt(Noun):
    """One standard deviation of each input.

    Factors multiply or divide: 1.1, or "10 %", is a tenth either way, 5 is five times as much or a fifth, 1 is no
    doubt. Every default is an assumption, of which some rest on a source.

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

    lamp_mix: float = _factor(
        2.0,
        "On the share of each lamp, before the shares are brought back to a sum of 1; one lamp alone has no doubt, "
        "and lamps from rates have that of their rates.",
        "assumed",
    )
    lamp_colour: float = number(
        0.8,
        minimum=0,
        maximum=5,
        example="0.8",
        meaning="On the exponent by which skyglow is bluer than its lamps.",
        origin="assumed",
        advanced=True,
    )
    natural_sky: float = _factor(
        1.35,
        "On the natural sky.",
        "from memory: a quiet year has some 0.7, an active one 1.35 of the typical light",
    )
    narrow_sky: float = _factor(
        1.25,
        "On the sky in each filter up to 20 nm wide, for lamps and lines that the plan does not name.",
        "this model: at one reading towns of other lamps differ by 0.22 in the logarithm at H-beta, N II and S II",
    )
    target: float = _factor(1.25, "On the brightness of each of the target's lights.", "assumed")
    efficiency: float = _factor(1.1, "On quantum efficiency and throughput together.", "assumed")
    extinction: float = _factor(
        1.25,
        "On the light that the air takes, in magnitudes per airmass.",
        "Green 1992: the seasons lie within two of it, or nearly",
    )
    dark_current: float = _factor(
        5.0,
        "On the dark current; glow has no doubt.",
        "Widenhorn et al. 2002: cameras of one kind differ by more",
    )
    read_noise: float = _factor(1.1, "On the read noise.", "assumed")
    seeing: float = _factor(1.2, "On the width of a star by the air alone; counts for stars.", "assumed")
    filter_centre: Any = measure(
        "nm",
        "0.3 nm",
        minimum=0,
        maximum=50,
        example='"0.3 nm"',
        meaning="Shift of all of a filter's passbands together; a standard band is taken as published.",
        origin="assumed",
        advanced=True,
    )
    filter_width: float = _factor(
        1.05,
        "On the width of a filter's passbands that are given by centre and width.",
        "assumed: makers allow a tenth",
    )
    moonlight: float = _factor(
        1.25,
        "On scattered moonlight.",
        "Krisciunas & Schaefer 1991: 8 to 23 % in V; in the red models differ by more",
    )
    flatness: float = _factor(
        2.0,
        "On how uneven the background stays; where the plan does not say, it is taken as typical, 0.03 %.",
        "assumed",
    )
    measured_sky: float = _factor(
        1.15,
        "On a sky that a test sub measured in a filter, where it takes the place of all doubts of the sky.",
        "from memory: nights differ by some 0.15 mag where nothing changes on the ground",
    )
    practice: Practice = field_of(
        read_practice,
        PUBLISHED,
        kind="number",
        minimum=1,
        maximum=100,
        example="1.6",
        other='or with its range "1.6, 1.2 to 2.3", or "published" or "none"',
        meaning='Factor on the hours at best for what real sessions lose beside the model; "published" is what '
        "instruments really needed.",
        origin="fitted to the depths of 14 surveys in data/practice.ecsv",
        advanced=True,
    )

    @classmethod
    def none(cls) -> Doubt:
        """Everything exactly known."""
        return cls(**dict.fromkeys(_FACTORS, 1.0), lamp_colour=0.0, filter_centre="0 nm", practice=NONE)

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
    "narrow_sky",
    "target",
    "efficiency",
    "extinction",
    "dark_current",
    "read_noise",
    "seeing",
    "filter_width",
    "moonlight",
    "flatness",
    "measured_sky",
)
