"""The camera: pixels, efficiency, and what it adds of its own.

References
----------
.. [bayer] Bayer, B. E. 1976, US Patent 3,971,065: half of a mosaic's pixels are green, a quarter red, a
   quarter blue.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from expocalc.base.curve import Curve, product
from expocalc.base.noun import (
    Noun,
    build,
    choice,
    field_of,
    measure,
    nested,
    number,
    read_text_line,
    suggest,
    text,
    whole,
)
from expocalc.gear.curves import EFFICIENCIES, read_shares, typical_mosaic
from expocalc.gear.dark_current import DarkCurrent
from expocalc.gear.gain import GainSetting

__all__ = ["Camera", "Pattern"]

MONO = ("mono",)
COLOURS = ("R", "G", "B")
COLDEST_DEG_C = -150.0
_SHARES = {
    "none": MappingProxyType({"mono": 1.0}),
    "RGGB": MappingProxyType({"R": 0.25, "G": 0.5, "B": 0.25}),  # [bayer]
}


class Pattern(Noun):
    """What calibration leaves behind in each pixel, the same in every sub. Compared by identity."""

    fixed: Any = measure(
        "electron",
        "0 electron",
        minimum=0,
        maximum=1000,
        example='"0.5 electron"',
        meaning="Part that is the same in every sub and does not depend on the light.",
        origin="a stack of your own darks; 0 is a perfect calibration",
        advanced=True,
    )
    flat: float = number(
        0.0,
        minimum=0,
        below=1,
        example="0.001",
        meaning="Part that grows with the light, as a share of it.",
        origin="a stack of your own flats; 0 is a perfect calibration",
        advanced=True,
    )


def _read_efficiency(name: str, value: Any) -> Curve:
    return read_shares(name, value, EFFICIENCIES)


def _read_mosaic(name: str, value: Any) -> Mapping[str, Curve]:
    if isinstance(value, str) and value == "typical":
        return typical_mosaic()
    if not isinstance(value, Mapping) or set(value) != set(COLOURS):
        msg = f'{name} must be "typical" or have a curve for each of R, G and B, got {str(value)[:60]!r}'
        raise ValueError(msg)
    return MappingProxyType({colour: read_shares(f"{name} {colour}", value[colour]) for colour in COLOURS})


def _read_gains(name: str, value: Any) -> Mapping[str, GainSetting]:
    if not isinstance(value, Mapping) or not value:
        msg = f"{name} must hold one or more named settings, got {str(value)[:60]!r}; write it like [camera.gains.high]"
        raise ValueError(msg)
    names = [read_text_line(f"each name in {name}", key) for key in value]
    return MappingProxyType({key: build(GainSetting, f"{name}.{key}", value[key], key) for key in names})


@lru_cache(maxsize=64)
def _under_mosaic(efficiency: Curve, colour_curve: Curve) -> Curve:
    return product(efficiency, colour_curve)


class Camera(Noun):
    """A camera. Compared by identity; its curves and settings are not changed by others.

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit or is out of range, or `gain` is none of `gains`.

    Examples
    --------
    >>> camera = Camera(
    ...     pixel="3.8 um", columns=6200, rows=4150, quantum_efficiency=0.8, temperature="0 deg_C",
    ...     dark_current={"rate": "0.002 electron/s", "at": "-10 deg_C", "doubles_every": "6 K"},
    ...     gains={"high": {"read_noise": "1.4 e-", "electrons_per_adu": 0.25, "full_well": "15000 e-"}},
    ... )
    >>> camera.setting.read_noise, round(camera.dark_e_s, 4)
    (<Quantity 1.4 electron>, 0.0061)
    """

    pixel: Any = measure(
        "um",
        minimum=0.3,
        maximum=1000,
        example='"3.8 um"',
        meaning="Side of a pixel.",
        origin="the maker's data sheet",
    )
    columns: int = whole(
        minimum=1,
        maximum=200_000,
        example="6200",
        meaning="Pixels along one side of the sensor.",
        origin="the maker's data sheet",
    )
    rows: int = whole(
        minimum=1,
        maximum=200_000,
        example="4150",
        meaning="Pixels along the other side of the sensor.",
        origin="the maker's data sheet",
    )
    mosaic: str = choice(
        tuple(_SHARES),
        "none",
        meaning="Whether colour filters sit on the pixels: none is a mono camera, RGGB any order with two greens.",
        origin="the maker's data sheet",
    )
    mosaic_curves: Mapping[str, Curve] = field_of(
        _read_mosaic,
        "typical",
        kind="curve",
        choices=("typical",),
        other="or a table of R, G and B, each a number or pairs of wavelength in nm and share",
        meaning="Share of the light that the colour filters on the pixels let through; not used by a mono camera.",
        origin="from memory: the typical shape",
        advanced=True,
    )
    quantum_efficiency: Curve = field_of(
        _read_efficiency,
        kind="curve",
        above=0,
        maximum=1,
        choices=tuple(EFFICIENCIES),
        example='"back-lit mono"',
        other="or pairs of wavelength in nm and share",
        meaning="Share of the photons that free an electron in the bare sensor, at each wavelength.",
        origin="the maker's curve, or a named one",
    )
    gain: str | None = text(
        None,
        meaning="Which of the gain settings is used; not needed where there is one.",
        origin="your own choice",
    )
    temperature: Any = measure(
        "deg_C",
        "-10 deg_C",
        minimum=COLDEST_DEG_C,
        maximum=60,
        example='"-10 deg_C"',
        meaning="Temperature at which the sensor is held.",
        origin="your own choice; common practice, no source",
    )
    dark_current: DarkCurrent = nested(
        DarkCurrent,
        meaning="Electrons that warmth sets free, and how they fall as the sensor is cooled.",
        origin="the maker's data sheet, or your own darks",
    )
    glow: Any = measure(
        "electron/s",
        "0 electron/s",
        minimum=0,
        maximum=1e5,
        example='"0.001 electron/s"',
        meaning="Light of the camera's own electronics in a pixel, the same at all temperatures.",
        origin="your own darks; 0 is a camera without glow",
        advanced=True,
    )
    pattern: Pattern = nested(
        Pattern,
        Pattern,
        meaning="What calibration leaves behind in each pixel, the same in every sub.",
        origin="a stack of your own; without it the calibration is perfect",
        advanced=True,
    )
    gains: Mapping[str, GainSetting] = field_of(
        _read_gains,
        kind="tables",
        nouns=(GainSetting,),
        meaning="What the camera does at each gain, by a name of your own.",
        origin="the maker's data sheet",
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.gain is None and len(self.gains) == 1:
            object.__setattr__(self, "gain", next(iter(self.gains)))
        if self.gain not in self.gains:
            got = "none" if self.gain is None else repr(self.gain)
            msg = f"gain must be one of {', '.join(self.gains)}, got {got}{suggest(self.gain, self.gains)}"
            raise ValueError(msg)

    @property
    def setting(self) -> GainSetting:
        """The gain setting in use."""
        return self.gains[str(self.gain)]

    @property
    def colours(self) -> tuple[str, ...]:
        """Kinds of pixel: ("mono",) or ("R", "G", "B")."""
        return MONO if self.mosaic == "none" else COLOURS

    @property
    def colour_share(self) -> Mapping[str, float]:
        """Share of the pixels that each colour has [bayer]_. [-]"""
        return _SHARES[self.mosaic]

    def colour_curves(self, colour: str) -> Mapping[str, Curve]:
        """What a pixel of that colour makes of a photon, factor by factor, by the name of the field.

        Raises
        ------
        ValueError
            If the camera has no such colour.
        """
        if colour not in self.colours:
            msg = f"colour must be one of {', '.join(self.colours)}, got {colour!r}"
            raise ValueError(msg)
        bare = {"quantum_efficiency": self.quantum_efficiency}
        return bare if colour == "mono" else {**bare, f"mosaic_curves {colour}": self.mosaic_curves[colour]}

    def efficiency(self, colour: str) -> Curve:
        """Electrons per photon on a pixel of that colour, its mosaic filter included; cached. [-]"""
        curves = tuple(self.colour_curves(colour).values())
        return curves[0] if len(curves) == 1 else _under_mosaic(*curves)

    @property
    def dark_e_s(self) -> float:
        """Dark current at the sensor's temperature, and glow, per pixel. [electron/s]"""
        return self.dark_current.rate_at(float(self.temperature.value)) + float(self.glow.value)
