r"""What the picture is of: light in lines, in a continuum, or from a star, as it is above the air.

References
----------
.. [storey] Storey, P. J. & Zeippen, C. J. 2000, MNRAS 312, 813: O III 500.7 / 495.9 = 2.98, N II 658.3 /
   654.8 = 3.05 (the second from memory).
.. [osterbrock] Osterbrock, D. E. & Ferland, G. J. 2006, Astrophysics of gaseous nebulae: wavelengths in
   air; S II 671.6 / 673.1 = 1.4 at low density (from memory).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any

import astropy.units as u
import numpy as np

from expocalc.base.curve import Curve, Spectrum
from expocalc.base.field import fields_of, place_of, within
from expocalc.base.noun import Noun, choice, field_of, measure, number, suggest, text
from expocalc.base.photometry import (
    BANDS,
    RAYLEIGH,
    ab_continuum,
    ab_magnitude,
    photon_energy_erg,
    standard_band,
    vega_magnitude,
)
from expocalc.base.quantity import FROM_ONE, parse_quantity, read_factor, read_number, read_quantity
from expocalc.light.natural import sun_photons
from expocalc.light.position import read_declination, read_right_ascension

__all__ = ["LINES", "ContinuumLight", "Light", "Line", "LineLight", "StarLight", "Target", "read_light"]


@dataclass(frozen=True, kw_only=True)
class Line:
    """An emission line by its usual name, with what always comes along.

    Parameters
    ----------
    wavelength_nm : tuple of float
        In air. [nm]
    share : tuple of float
        Photons at each wavelength for one photon of the brightness that goes by this name.
    """

    wavelength_nm: tuple[float, ...]
    share: tuple[float, ...]


LINES: Mapping[str, Line] = MappingProxyType(
    {
        "H-alpha": Line(wavelength_nm=(656.28,), share=(1.0,)),
        "H-beta": Line(wavelength_nm=(486.13,), share=(1.0,)),
        "O III": Line(wavelength_nm=(500.68, 495.89), share=(1.0, 1 / 2.98)),  # [storey]_
        "N II": Line(wavelength_nm=(658.35, 654.80), share=(1.0, 1 / 3.05)),  # [storey]_
        "S II": Line(wavelength_nm=(671.64, 673.08), share=(1.4 / 2.4, 1 / 2.4)),  # [osterbrock]_
    }
)
"""Lines by name. The brightness is the named line's alone, of S II that of both lines together."""

_LINE_EXAMPLE = '"12 R" or "4e-18 erg/(s cm2 arcsec2)"'
_LIGHT_EXAMPLE = "{'line': 'H-alpha', 'brightness': '12 R'}"
_ENERGY = "erg/(s cm2 arcsec2)"


def _line_erg(line: Line) -> float:
    """Mean energy of a photon of the brightness: of the first line, or of a sum's photons."""
    total = sum(line.share)
    if total > 1 + 1e-9:  # companions come on top of the named line
        return photon_energy_erg(line.wavelength_nm[0])
    return sum(s * photon_energy_erg(w) for w, s in zip(line.wavelength_nm, line.share, strict=True)) / total


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
    return field_of(
        read_factor,
        None,
        kind="number",
        **FROM_ONE,
        other='or written as "25 %"',
        meaning="Factor of one standard deviation on this brightness; left out, the one of [doubt] holds.",
        origin="the range or the error that the source gives",
        advanced=True,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
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
            photons = self.brightness.value / _line_erg(LINES[self.line])
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


@dataclass(frozen=True, kw_only=True, eq=False)
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


@dataclass(frozen=True, kw_only=True, eq=False)
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
        msg = f"{name} must be a mapping, got {mapping!r}; write it like {_LIGHT_EXAMPLE}"
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


def _lights(name: str, value: Any) -> tuple[Light, ...]:
    items = [value] if isinstance(value, Mapping | Light) else value
    if not isinstance(items, Iterable) or isinstance(items, str):
        msg = f"{name} must be a list, got {value!r}; write it like [{_LIGHT_EXAMPLE}]"
        raise TypeError(msg)
    items = tuple(items)
    lights = []
    for at, item in enumerate(items):
        try:
            called = f"{name} {at + 1}" if len(items) > 1 else name
            lights.append(item if isinstance(item, Light) else read_light(item, called))
        except (TypeError, ValueError) as error:
            within(error, at)
            raise
    if not lights:
        msg = f"{name} must hold at least one light, got none; write it like [{_LIGHT_EXAMPLE}]"
        raise ValueError(msg)
    return tuple(lights)


@dataclass(frozen=True, kw_only=True, eq=False)
class Target(Noun):
    """What the picture is of.

    Raises
    ------
    ValueError
        If only one coordinate is given, or a field is out of range.

    Examples
    --------
    >>> light = {"line": "H-alpha", "brightness": "12 R"}
    >>> target = Target(light=[light], right_ascension="20h 45m", declination="+30d 43m")
    >>> target.right_ascension
    <Quantity 311.25 deg>
    """

    name: str = text("target", meaning="Name of what the picture is of.", origin="your own choice")
    right_ascension: u.Quantity | None = field_of(
        read_right_ascension,
        None,
        kind="quantity",
        unit="deg",
        minimum=0,
        maximum=360,
        example='"20h 45m 38s" or "311.4 deg"',
        meaning="Place on the sky, eastward; with the declination or not at all.",
        origin="a catalogue",
    )
    declination: u.Quantity | None = field_of(
        read_declination,
        None,
        kind="quantity",
        unit="deg",
        minimum=-90,
        maximum=90,
        example='"+30d 43m" or "30.7 deg"',
        meaning="Place on the sky, northward; with the right ascension or not at all.",
        origin="a catalogue",
    )
    altitude: u.Quantity = measure(
        "deg",
        "60 deg",
        above=0,
        maximum=90,
        example='"60 deg"',
        meaning="Height of the target above the horizon, for a plan without a date.",
        origin="assumed; a chart for your place and date",
    )
    patch: u.Quantity = measure(
        "arcsec",
        "10 arcsec",
        above=0,
        maximum=36000,
        example='"15 arcsec"',
        meaning="Side of the smallest square of the target that has to show.",
        origin="your own choice: the finest detail that you want to see",
    )
    light: tuple[Light, ...] = field_of(
        _lights,
        kind="list",
        nouns=(LineLight, ContinuumLight, StarLight),
        meaning="The target's light, one or more: lines, a continuum, stars.",
        origin="a survey or a paper",
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if (self.right_ascension is None) != (self.declination is None):
            missing = "declination" if self.declination is None else "right_ascension"
            msg = f"a position must have right_ascension and declination, got no {missing}"
            raise ValueError(msg)

    @cached_property
    def named_lights(self) -> tuple[tuple[str, Light], ...]:
        """Lights by name, with a number behind it where there are several of one name: "star 1", "star 2"."""
        names = [light.name for light in self.light]
        numbers = {name: itertools.count(1) for name in names}
        return tuple(
            (f"{light.name} {next(numbers[light.name])}" if names.count(light.name) > 1 else light.name, light)
            for light in self.light
        )

    def light_named(self, name: str) -> Light:
        """The light of a name."""
        return dict(self.named_lights)[name]
