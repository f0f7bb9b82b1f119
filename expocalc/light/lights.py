"""Light of a target as it is above the air: in lines, in a continuum, or from a star."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from types import MappingProxyType
from typing import Any

import astropy.units as u
import numpy as np

from expocalc.base.curve import Curve, Spectrum
from expocalc.base.field import fields_of, place_of, within
from expocalc.base.noun import Noun, choice, factor, field_of, measure, number, suggest
from expocalc.base.photometry import (
    BANDS,
    RAYLEIGH,
    ab_continuum,
    ab_magnitude,
    standard_band,
    vega_magnitude,
)
from expocalc.base.quantity import parse_quantity, read_number, read_quantity
from expocalc.light.emission import LINES
from expocalc.light.natural import sun_photons

__all__ = ["LIGHT_EXAMPLE", "ContinuumLight", "Light", "LineLight", "StarLight", "read_light"]

_LINE_EXAMPLE = '"12 R" or "4e-18 erg/(s cm2 arcsec2)"'
LIGHT_EXAMPLE = "{'line': 'H-alpha', 'brightness': '12 R'}"
_ENERGY = "erg/(s cm2 arcsec2)"


def _read_brightness(name: str, value: Any) -> u.Quantity:
    """Brightness in rayleigh, or as energy, which only the line can turn into photons."""
    unit = getattr(value, "unit", None)
    if isinstance(value, str):
        unit = parse_quantity(name, value, example=_LINE_EXAMPLE)[1]
    wanted = _ENERGY if unit is not None and unit.is_equivalent(_ENERGY) else "R"
    return u.Quantity(read_quantity(name, value, wanted, minimum=0, example=_LINE_EXAMPLE), wanted)


def _companions(name: str, value: Any) -> Mapping[str, float]:
    if not isinstance(value, Mapping):
        msg = (
            f"{name} must map lines to their brightness over the line's own, got {value!r}; "
            "write it like {'N II': 0.3}"
        )
        raise TypeError(msg)
    for line in value:
        if line not in LINES:
            msg = f"{name} must be of {', '.join(LINES)}, got {line!r}{suggest(line, LINES)}"
            raise ValueError(msg)
    return MappingProxyType({k: read_number(f"{name} {k}", v, minimum=0, maximum=100) for k, v in value.items()})


def _own_snr() -> Any:
    meaning = "Signal over noise that this light must reach; left out, it is the goal's."
    return number(None, above=0, maximum=1e6, example="5", meaning=meaning, origin="your own choice", advanced=True)


def _own_patch() -> Any:
    meaning = "Side of the smallest square of this light that has to show; left out, it is the target's patch."
    return measure(
        "arcsec",
        None,
        above=0,
        maximum=36000,
        example='"60 arcsec"',
        meaning=meaning,
        origin="your own choice: the finest detail of it that you want to see",
        advanced=True,
    )


def _doubt() -> Any:
    return factor(
        None,
        other='or written as "25 %"',
        meaning="Factor of one standard deviation on this brightness; left out, the one of [doubt] holds.",
        origin="the range or the error that the source gives",
        advanced=True,
    )


class LineLight(Noun):
    """Extended light of one emission line.

    Examples
    --------
    >>> LineLight(line="H-alpha", brightness="5.661e-18 erg/(s cm2 arcsec2)").brightness.round(2)
    <Quantity 1. R>
    """

    line: str = choice(LINES, meaning="Name of the emission line.", origin="a spectrum, or the kind of nebula")
    brightness: u.Quantity = field_of(
        _read_brightness,
        kind="quantity",
        unit="R",
        minimum=0,
        example=_LINE_EXAMPLE,
        other="or in erg/(s cm2 arcsec2)",
        meaning="Brightness of the named line alone, above the air; kept in rayleigh.",
        origin="a survey or a paper; bright gas has 100 R and more, faint gas some 10, very faint gas 3 (no source)",
    )
    companions: Mapping[str, float] | None = field_of(
        _companions,
        None,
        kind="table",
        minimum=0,
        maximum=100,
        choices=tuple(LINES),
        example='{ "N II" = 0.3 }',
        meaning="Other lines that come along, each with its photons for one of the named line.",
        origin="a spectrum; left out, the line stands alone",
        advanced=True,
    )
    snr: float | None = _own_snr()
    patch: u.Quantity | None = _own_patch()
    doubt: float | None = _doubt()

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.companions and self.line in self.companions:
            msg = f"companions must be other lines than {self.line}, got {self.line} itself"
            raise ValueError(msg)
        if self.brightness.unit != u.R:
            photons = self.brightness.value / LINES[self.line].photon_erg
            object.__setattr__(self, "brightness", u.Quantity(photons / RAYLEIGH, "R"))

    @property
    def name(self) -> str:
        """The line's name."""
        return self.line

    @cached_property
    def spectrum(self) -> Spectrum:
        """Lines above the air. [photon s-1 cm-2 arcsec-2]."""
        photons = self.brightness.value * RAYLEIGH
        parts = [(LINES[self.line], 1.0), *((LINES[k], v) for k, v in (self.companions or {}).items())]
        nm = [w for line, _ in parts for w in line.wavelength_nm]
        strength = [photons * times * s for line, times in parts for s in line.share]
        return Spectrum(Curve.constant(0.0), np.array(nm), np.array(strength))


def _scaled(shape: str, magnitude: float, system: str, band: str | None) -> Spectrum:
    """Light of a shape whose magnitude in a band (V where none is given) is the given one."""
    if shape == "flat" and system == "AB":
        return Spectrum(ab_continuum(magnitude))  # flat in F_nu: the same AB magnitude in every band
    spectrum = Spectrum(ab_continuum(0.0) if shape == "flat" else sun_photons())
    band = band or "bessell-V"
    unscaled = vega_magnitude(spectrum, band) if system == "Vega" else ab_magnitude(spectrum, standard_band(band))
    return spectrum * 10 ** (-0.4 * (magnitude - unscaled))


def _system(origin: str) -> Any:
    meaning = "Zero point of the magnitude: AB, or the star Vega, which older tables use."
    return choice(("AB", "Vega"), "AB", meaning=meaning, origin=origin, advanced=True)


def _band(origin: str) -> Any:
    meaning = "Standard band of the magnitude; V where one is needed and none is given."
    return choice(BANDS, None, meaning=meaning, origin=origin, advanced=True)


class ContinuumLight(Noun):
    """Extended light without lines: galaxies, dust.

    Examples
    --------
    >>> light = ContinuumLight(continuum="25.2 mag/arcsec2")
    >>> round(ab_magnitude(light.spectrum, standard_band("sdss-r")), 2)
    25.2
    """

    continuum: u.Quantity = measure(
        "mag/arcsec2",
        minimum=0,
        maximum=40,
        example='"25.2 mag/arcsec2"',
        meaning="Brightness of a galaxy or of dust, above the air.",
        origin="a survey or a paper",
    )
    system: str = _system("beside the brightness in its table")
    band: str | None = _band("beside the brightness in its table")
    shape: str = choice(
        ("flat", "sun"),
        "flat",
        meaning="Colour of the light: the same in every band in AB magnitudes, or that of the Sun.",
        origin="assumed",
        advanced=True,
    )
    snr: float | None = _own_snr()
    patch: u.Quantity | None = _own_patch()
    doubt: float | None = _doubt()

    @property
    def name(self) -> str:
        """Always "continuum"."""
        return "continuum"

    @cached_property
    def spectrum(self) -> Spectrum:
        """Above the air. [photon s-1 cm-2 nm-1 arcsec-2]."""
        return _scaled(self.shape, self.continuum.value, self.system, self.band)


class StarLight(Noun):
    """One star, flat in F_nu.

    Examples
    --------
    >>> StarLight(star="15.0 mag").name
    'star'
    """

    star: u.Quantity = measure(
        "mag",
        minimum=-5,
        maximum=40,
        example='"15.0 mag"',
        meaning="Magnitude of the star, above the air.",
        origin="a catalogue",
    )
    system: str = _system("beside the magnitude in its catalogue")
    band: str | None = _band("beside the magnitude in its catalogue")
    snr: float | None = _own_snr()
    doubt: float | None = _doubt()

    @property
    def name(self) -> str:
        """Always "star"."""
        return "star"

    @cached_property
    def spectrum(self) -> Spectrum:
        """The whole star above the air. [photon s-1 cm-2 nm-1]."""
        return _scaled("flat", self.star.value, self.system, self.band)


Light = LineLight | ContinuumLight | StarLight

_KINDS: Mapping[str, type[Any]] = MappingProxyType({"line": LineLight, "continuum": ContinuumLight, "star": StarLight})


def read_light(mapping: Mapping[str, Any], name: str = "light") -> Light:
    """One item of a plan's list of light.

    Parameters
    ----------
    mapping : mapping
        With exactly one of the keys `line`, `continuum`, `star`.
    name : str, optional
        What it is called in the error messages.

    Raises
    ------
    TypeError, ValueError
        If it is no mapping, of no kind or of two, lacks a value or holds an unknown one.

    Examples
    --------
    >>> read_light({"line": "O III", "brightness": "3 R"}).name
    'O III'
    """
    if not isinstance(mapping, Mapping):
        msg = f"{name} must be a mapping, got {mapping!r}; write it like {LIGHT_EXAMPLE}"
        raise TypeError(msg)
    kinds = [kind for kind in _KINDS if kind in mapping]
    if len(kinds) != 1:
        got = " and ".join(kinds) or ", ".join(mapping) or "nothing"
        msg = f"{name} must have exactly one of {', '.join(_KINDS)}, got {got}"
        raise ValueError(msg)
    noun = _KINDS[kinds[0]]
    allowed = [field.name for field in fields_of(noun)]
    for key in mapping:
        if key not in allowed:
            msg = f"{name} with {kinds[0]} may hold {', '.join(allowed)}, got {key!r}{suggest(key, allowed)}"
            raise within(ValueError(msg), str(key))
    if kinds[0] == "line" and "brightness" not in mapping:
        msg = f"{name} with line must have a brightness, got none; write it like {_LINE_EXAMPLE}"
        raise ValueError(msg)
    try:
        light: Light = noun(**mapping)
    except (TypeError, ValueError) as error:
        which = mapping["line"] if kinds[0] == "line" and mapping["line"] in tuple(LINES) else kinds[0]
        raise within(type(error)(f"{name} ({which}): {error}"), *place_of(error)) from None
    return light
