r"""The rates of a filter over draws of all that is not exactly known: the plan's own model, many times at once.

What depends on a doubtful input by an integral over wavelength is integrated at a few of its values once, and each
draw lies between them. The logarithm of such an integral is smooth in the exponent of skyglow's colour and in the
extinction (:math:`\ln\int S\,e^{-xg}` is a cumulant generating function), so that a parabola through three values
holds it. A shifted filter can lose a line at once: there the values are many, with straight lines between them.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Any

import numpy as np

from expocalc.base.curve import RANGE_NM, Curve, Floats, Spectrum, product
from expocalc.base.photometry import standard_band, vega_magnitude
from expocalc.budget.case import Case
from expocalc.budget.doubt import Doubt
from expocalc.budget.rates import Rates, moonlight_of, rates
from expocalc.gear.passband import Filter
from expocalc.gear.response import response
from expocalc.light.air import airmass, transmission
from expocalc.light.lamps import lamp_spectrum
from expocalc.light.natural import natural_sky
from expocalc.light.sky import DARKEST_V, Sky, meter_stars_photons, natural_through
from expocalc.light.target import StarLight

__all__ = ["Draws", "Skies", "drawn_rates", "skies"]

Draws = Callable[[str], Floats]
"""Standard normal numbers of an input, or of one of its parts, by name; shape (draws,)."""

_EXPONENT = 1.6
"""Change of skyglow's exponent at which its integrals are known, either way: two standard deviations."""
_THICKER = 0.5
"""Change of the extinction, as a share of it, at which its integrals are known, either way."""
_SHIFTS = np.linspace(-4, 4, 17)
"""Shifts of a filter, in standard deviations."""


@dataclass(frozen=True, eq=False)
class _Bent:
    """Relative change exp(slope x + bend x^2) of an integral; arrays of shape (colours,)."""

    slope: Floats
    bend: Floats

    @classmethod
    def through(cls, low: Floats, middle: Floats, high: Floats, step: float) -> _Bent:
        """Through the integrals at -step, 0 and step; unchanged where there is nothing to change."""
        lit = (low > 0) & (middle > 0) & (high > 0)
        below, above = (np.log(np.where(lit, end, 1) / np.where(lit, middle, 1)) for end in (low, high))
        return cls((above - below) / (2 * step), (above + below) / (2 * step**2))

    def at(self, x: Floats) -> Floats:
        """Change at each x; shape (draws, colours)."""
        x = x[:, None]
        return np.asarray(np.exp(x * (self.slope + self.bend * x)))


@dataclass(frozen=True, eq=False)
class Skies:
    """Sky of each draw, the same for all filters; arrays of shape (draws,).

    Attributes
    ----------
    natural : ndarray
        Times the typical natural sky. [-]
    town : mapping of str to ndarray
        Luminance of each lamp's light before skyglow made it bluer. [cd m-2]
    bluer : ndarray
        What the exponent of skyglow's colour has beyond the usual. [-]
    """

    natural: Floats
    town: Mapping[str, Floats]
    bluer: Floats


@cache
def _tilt(bluer: float) -> Curve:
    x = np.arange(RANGE_NM[0], RANGE_NM[1] + 5, 5)
    return Curve(x, (x / 550) ** -bluer)


@lru_cache(maxsize=256)
def _lamp_through(lamp: str, curves: tuple[Curve, ...]) -> tuple[Floats, _Bent]:
    """A lamp's light through the curve of each colour, and how it changes where skyglow is bluer than usual."""
    light = lamp_spectrum(lamp)
    low, middle, high = (
        np.array([light.through(curve, *tilt) for curve in curves])
        for tilt in ([_tilt(-_EXPONENT)], [], [_tilt(_EXPONENT)])
    )
    return middle, _Bent.through(low, middle, high, _EXPONENT)


@cache
def _darkest() -> float:
    """Share of the typical natural sky that the darkest sky has."""
    return 10 ** (-0.4 * (DARKEST_V - vega_magnitude(natural_sky(), "bessell-V")))


def _reading_band(sky: Sky) -> str:
    if sky.zenith_brightness is not None:
        return sky.reading_band
    return "cie-V" if sky.luminance is not None else "bessell-V"


def skies(sky: Sky, doubt: Doubt, draws: Draws) -> Skies:
    """Solve the sky of each draw: its reading met by its own natural sky, mix of lamps and colour of skyglow.

    Parameters
    ----------
    sky : Sky
    doubt : Doubt
    draws : Draws

    Notes
    -----
    As in :attr:`expocalc.light.sky.Sky.mix`: lamps fill up what the natural sky leaves of the reading; a reading darker
    than the natural sky dims it, down to the darkest sky there is.
    """
    name = _reading_band(sky)
    band = standard_band(name)
    stars = meter_stars_photons() if name == "meter" else 0.0
    read = (sky.through(band) + stars) * 10 ** (-0.4 * float(sky.brightness_error.value) * draws("sky_reading"))
    typical = natural_through(band)
    natural = np.exp(doubt.log_sd("natural_sky") * draws("natural_sky"))
    natural = np.maximum(np.minimum(natural, (read - stars) / typical), _darkest())

    bluer = doubt.lamp_colour * draws("lamp_colour")
    weights = {
        lamp: share * np.exp(doubt.log_sd("lamp_mix") * draws(f"lamp_mix {lamp}"))
        for lamp, share in sky.lamps.items()
        if share
    }
    per_luminance: Any = 0.0
    for lamp, weight in weights.items():
        middle, bent = _lamp_through(lamp, (band,))
        per_luminance = per_luminance + weight * (middle * bent.at(bluer))[:, 0]
    left = np.maximum(read - stars - natural * typical, 0.0) / per_luminance
    return Skies(natural, MappingProxyType({lamp: left * weight for lamp, weight in weights.items()}), bluer)


@lru_cache(maxsize=64)
def _moved(
    filter_: Filter, focal_ratio: float, obstruction_share: float, parts: tuple[Curve, ...], sd_nm: float
) -> tuple[Curve, ...]:
    """Responses of one colour with the filter's band moved by each of the shifts."""
    passed = filter_.curve_in_cone(focal_ratio, obstruction_share)
    return tuple(product(Curve(passed.wavelength_nm + sd_nm * by, passed.value), *parts) for by in _SHIFTS)


@lru_cache(maxsize=512)
def _moved_through(spectrum: Spectrum, responses: tuple[Curve, ...]) -> Floats:
    """Change of what passes with each shift, relative to none."""
    passed = np.array([spectrum.through(curve) for curve in responses])
    middle = passed[_SHIFTS.size // 2]
    return passed / middle if middle > 0 else np.ones(_SHIFTS.size)


@dataclass(frozen=True, eq=False)
class _Mover:
    """How the shift of one filter changes what passes it."""

    responses: tuple[tuple[Curve, ...], ...]
    """Of each colour; empty where the filter does not move."""
    by: Floats
    """Shift of each draw, in standard deviations."""

    def factor(self, spectrum: Spectrum) -> Any:
        """Relative change; shape (draws, colours), or 1."""
        if not self.responses:
            return 1.0
        changes = [np.interp(self.by, _SHIFTS, _moved_through(spectrum, one)) for one in self.responses]
        return np.stack(changes, axis=-1)


def _mover(case: Case, filter_: Filter, doubt: Doubt, draws: Draws) -> _Mover:
    sd_nm = float(doubt.filter_centre.value)
    if not sd_nm or any(passband.standard is not None for passband in filter_.passbands):
        return _Mover((), np.zeros(0))
    telescope, camera = case.telescope, case.camera
    responses = tuple(
        _moved(
            filter_,
            telescope.focal_ratio,
            telescope.obstruction_share,
            (telescope.throughput_curve, *camera.colour_curves(colour).values()),
            sd_nm,
        )
        for colour in camera.colours
    )
    return _Mover(responses, draws(f"filter_centre {filter_.name}"))


@lru_cache(maxsize=256)
def _thickened(spectrum: Spectrum, curves: tuple[Curve, ...], extinction: Curve, airmass: float) -> _Bent:
    """How a light changes under air that is thicker than usual."""
    usual = transmission(extinction, airmass)
    airs = (Curve(usual.wavelength_nm, usual.value**times) for times in (1 - _THICKER, 1.0, 1 + _THICKER))
    low, middle, high = (np.array([spectrum.through(curve, air) for curve in curves]) for air in airs)
    return _Bent.through(low, middle, high, _THICKER)


def drawn_rates(case: Case, filter_: Filter, rate: Rates, doubt: Doubt, sky: Skies, draws: Draws) -> Rates:
    """Rates of one filter for each draw.

    Parameters
    ----------
    case : Case
    filter_ : Filter
        One of the case's filters.
    rate : Rates
        Of that filter, by :func:`expocalc.budget.rates.rates`.
    doubt : Doubt
    sky : Skies
        By :func:`skies` for the same draws.
    draws : Draws

    Returns
    -------
    Rates
        With a first axis of draws: rates of shape (draws, colours), `dark_e_s` of (draws, 1), `fwhm_px` of (draws,).

    Notes
    -----
    Where the sky was measured in this filter, the measured rate takes the place of the drawn sky.
    """
    telescope, camera = case.telescope, case.camera
    curves = tuple(response(telescope, filter_, camera, colour) for colour in camera.colours)
    efficiency = np.exp(doubt.log_sd("efficiency") * draws("efficiency"))[:, None]
    moved = _mover(case, filter_, doubt, draws)
    altitude_deg = float(case.target.altitude.value)

    measured = case.sky.measured.get(filter_.name) if case.sky.measured else None
    if measured is not None:
        sky_e_s = rate.sky_e_s * np.exp(doubt.log_sd("measured_sky") * draws("measured_sky"))[:, None]
        if measured.mag_ab is not None:  # a magnitude becomes electrons by the efficiency, a rate is electrons
            sky_e_s = sky_e_s * efficiency
    else:
        passed: Any = np.array([natural_through(curve) for curve in curves])
        passed = sky.natural[:, None] * passed * moved.factor(natural_sky())
        for lamp, town in sky.town.items():
            middle, bent = _lamp_through(lamp, curves)
            passed = passed + town[:, None] * middle * bent.at(sky.bluer) * moved.factor(lamp_spectrum(lamp))
        per_pixel = telescope.area_cm2 * rate.scale_arcsec**2 * case.sky.factor_at(altitude_deg)
        sky_e_s = per_pixel * efficiency * passed
        moonlight = moonlight_of(case)
        if moonlight is not None:
            sky_e_s = sky_e_s + rate.moon_e_s * efficiency * moved.factor(moonlight)

    thicker = np.exp(doubt.log_sd("extinction") * draws("extinction")) - 1
    air = case.sky.extinction_curve(float(case.site.elevation.value)), float(airmass(altitude_deg))
    extended: dict[str, Floats] = {}
    stars: dict[str, Floats] = {}
    for name, light in case.target.named_lights:
        into, usual = (stars, rate.stars) if isinstance(light, StarLight) else (extended, rate.extended)
        if name in usual:
            bent = _thickened(light.spectrum, curves, *air)
            brighter = np.exp(doubt.log_sd("target") * draws(f"target {name}"))[:, None]
            into[name] = usual[name] * bent.at(thicker) * moved.factor(light.spectrum) * brighter * efficiency

    glow = float(camera.glow.value)
    dark: Any = (rate.dark_e_s - glow) * np.exp(doubt.log_sd("dark_current") * draws("dark_current")) + glow
    return dataclasses.replace(
        rate,
        sky_e_s=sky_e_s,
        dark_e_s=dark[:, None],
        extended=MappingProxyType(extended),
        stars=MappingProxyType(stars),
        fwhm_px=_drawn_fwhm_px(case, filter_, rate, doubt, draws) if stars else rate.fwhm_px,
    )


def _drawn_fwhm_px(case: Case, filter_: Filter, rate: Rates, doubt: Doubt, draws: Draws) -> Any:
    """Width of a star: the air's part, which is in quadrature with the rest, grows with the seeing. [pixel]"""
    half = dataclasses.replace(case, site=dataclasses.replace(case.site, seeing=0.5 * case.site.seeing))
    whole2 = rate.fwhm_px**2
    air2 = (whole2 - rates(half, filter_).fwhm_px ** 2) / (1 - 0.5**2)
    wider2 = np.exp(2 * doubt.log_sd("seeing") * draws("seeing"))
    return np.sqrt(whole2 + air2 * (wider2 - 1))
