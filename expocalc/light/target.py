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
from expocalc.base.noun import Noun, choice, field_of, measure, suggest, text
from expocalc.base.photometry import (
    BANDS,
    RAYLEIGH,
    ab_continuum,
    ab_magnitude,
    photon_energy_erg,
    standard_band,
    vega_magnitude,
)
from expocalc.base.quantity import parse_quantity, read_number, read_quantity
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
_ENERGY = u.Unit("erg/(s cm2 arcsec2)")


def _line_erg(line: Line) -> float:
    """Mean energy of a photon of the brightness: of the first line, or of a sum's photons."""
    total = sum(line.share)
    if total > 1 + 1e-9:  # companions come on top of the named line
        return photon_energy_erg(line.wavelength_nm[0])
    return sum(s * photon_energy_erg(w) for w, s in zip(line.wavelength_nm, line.share, strict=True)) / total


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


@dataclass(frozen=True, kw_only=True, eq=False)
class LineLight(Noun):
    """Extended light of one emission line.

    Parameters
    ----------
    line : str
        One of :data:`LINES`.
    brightness : str or Quantity
        Of the named line alone, above the air: rayleigh or erg/(s cm2 arcsec2). Kept in rayleigh.
    companions : mapping of str to float, optional
        Other lines and their brightness over this one's, in photons: {"N II": 0.3}.

    Examples
    --------
    >>> LineLight(line="H-alpha", brightness="5.661e-18 erg/(s cm2 arcsec2)").brightness.round(2)
    <Quantity 1. R>
    """

    line: str = choice(LINES)
    brightness: u.Quantity
    companions: Mapping[str, float] | None = field_of(_companions, None)

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.companions and self.line in self.companions:
            msg = f"companions must be other lines than {self.line}, got {self.line} itself"
            raise ValueError(msg)
        object.__setattr__(self, "brightness", self._read_brightness(self.brightness))

    def _read_brightness(self, value: Any) -> u.Quantity:
        unit = getattr(value, "unit", None)
        if isinstance(value, str):
            unit = parse_quantity("brightness", value, example=_LINE_EXAMPLE)[1]
        if unit is not None and unit.is_equivalent(_ENERGY):
            energy = read_quantity("brightness", value, "erg/(s cm2 arcsec2)", minimum=0, example=_LINE_EXAMPLE)
            return u.Quantity(energy / _line_erg(LINES[self.line]) / RAYLEIGH, "R")
        return u.Quantity(read_quantity("brightness", value, "R", minimum=0, example=_LINE_EXAMPLE), "R")

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


@dataclass(frozen=True, kw_only=True, eq=False)
class ContinuumLight(Noun):
    """Extended light without lines: galaxies, dust.

    Parameters
    ----------
    continuum : str or Quantity
        Brightness above the air. [mag/arcsec2]
    system : str
        "AB" or "Vega".
    band : str, optional
        Standard band of the magnitude; "bessell-V" where one is needed and none is given.
    shape : str
        "flat" (in F_nu) or "sun".

    Examples
    --------
    >>> light = ContinuumLight(continuum="25.2 mag/arcsec2")
    >>> round(ab_magnitude(light.spectrum, standard_band("sdss-r")), 2)
    25.2
    """

    continuum: u.Quantity = measure("mag/arcsec2", minimum=0, maximum=40, example='"25.2 mag/arcsec2"')
    system: str = choice(("AB", "Vega"), "AB")
    band: str | None = choice(BANDS, None)
    shape: str = choice(("flat", "sun"), "flat")

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

    Parameters
    ----------
    star : str or Quantity
        Magnitude above the air. [mag]
    system : str
        "AB" or "Vega".
    band : str, optional
        Standard band of the magnitude; "bessell-V" where one is needed and none is given.

    Examples
    --------
    >>> StarLight(star="15.0 mag").name
    'star'
    """

    star: u.Quantity = measure("mag", minimum=-5, maximum=40, example='"15.0 mag"')
    system: str = choice(("AB", "Vega"), "AB")
    band: str | None = choice(BANDS, None)

    @property
    def name(self) -> str:
        """Always "star"."""
        return "star"

    @cached_property
    def spectrum(self) -> Spectrum:
        """The whole star above the air. [photon s-1 cm-2 nm-1]."""
        return _scaled("flat", self.star.value, self.system, self.band)


Light = LineLight | ContinuumLight | StarLight

_KINDS: Mapping[str, tuple[type[Any], tuple[str, ...]]] = MappingProxyType(
    {
        "line": (LineLight, ("line", "brightness", "companions")),
        "continuum": (ContinuumLight, ("continuum", "system", "band", "shape")),
        "star": (StarLight, ("star", "system", "band")),
    }
)


def read_light(mapping: Mapping[str, Any]) -> Light:
    """One item of a plan's list of light.

    Parameters
    ----------
    mapping : mapping
        With exactly one of the keys `line`, `continuum`, `star`.

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
        msg = f"light must be a mapping, got {mapping!r}; write it like {_LIGHT_EXAMPLE}"
        raise TypeError(msg)
    kinds = [kind for kind in _KINDS if kind in mapping]
    if len(kinds) != 1:
        got = " and ".join(kinds) or ", ".join(mapping) or "nothing"
        msg = f"light must have exactly one of {', '.join(_KINDS)}, got {got}"
        raise ValueError(msg)
    noun, allowed = _KINDS[kinds[0]]
    for key in mapping:
        if key not in allowed:
            msg = f"light with {kinds[0]} may hold {', '.join(allowed)}, got {key!r}{suggest(key, allowed)}"
            raise ValueError(msg)
    if kinds[0] == "line" and "brightness" not in mapping:
        msg = f"light with line must have a brightness, got none; write it like {_LINE_EXAMPLE}"
        raise ValueError(msg)
    light: Light = noun(**mapping)
    return light


def _lights(name: str, value: Any) -> tuple[Light, ...]:
    items = [value] if isinstance(value, Mapping | Light) else value
    if not isinstance(items, Iterable) or isinstance(items, str):
        msg = f"{name} must be a list, got {value!r}; write it like [{_LIGHT_EXAMPLE}]"
        raise TypeError(msg)
    lights = tuple(item if isinstance(item, Light) else read_light(item) for item in items)
    if not lights:
        msg = f"{name} must hold at least one light, got none; write it like [{_LIGHT_EXAMPLE}]"
        raise ValueError(msg)
    return lights


@dataclass(frozen=True, kw_only=True, eq=False)
class Target(Noun):
    """What the picture is of.

    Parameters
    ----------
    name : str
    right_ascension : str or Quantity, optional
        "20h 45m 38s" or degrees, with `declination` or not at all. [deg]
    declination : str or Quantity, optional
        "+30d 43m" or degrees. [deg]
    altitude : str or Quantity
        For plans without a date. [deg]
    patch : str or Quantity
        Side of the smallest square that has to show. [arcsec]
    light : sequence of mapping or Light
        At least one, see :func:`read_light`.

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

    name: str = text("target")
    right_ascension: u.Quantity | None = field_of(read_right_ascension, None)
    declination: u.Quantity | None = field_of(read_declination, None)
    altitude: u.Quantity = measure("deg", "60 deg", above=0, maximum=90, example='"60 deg"')
    patch: u.Quantity = measure("arcsec", "10 arcsec", above=0, maximum=36000, example='"15 arcsec"')
    light: tuple[Light, ...] = field_of(_lights)

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
