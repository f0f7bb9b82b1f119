"""Electrons per second and pixel: target, sky and dark, for each filter and mosaic colour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from expocalc.base.curve import RANGE_NM, Curve, Floats, Spectrum, integrate
from expocalc.base.photometry import ab_continuum
from expocalc.budget.case import Case
from expocalc.gear.image import peak_share, pixel_scale_arcsec, star_fwhm_arcsec
from expocalc.gear.passband import Filter
from expocalc.gear.response import response
from expocalc.light.air import Extinction, airmass, extinction_curve, transmission
from expocalc.light.moon import Moon, moon_spectrum
from expocalc.light.sky import Sky
from expocalc.light.target import StarLight

__all__ = ["Rates", "moonlight_of", "rates"]

LEAST_PASSED = 1e-3
"""A filter is said to pass a light when it passes this share of what it passes at its peak."""


_WAVELENGTH = Curve(np.array(RANGE_NM), np.array(RANGE_NM))


@dataclass(frozen=True, eq=False)
class Rates:
    """What one filter delivers; arrays have one entry per mosaic colour.

    Attributes
    ----------
    colours : tuple of str
        ("mono",) or ("R", "G", "B").
    pixel_share : ndarray
        Share of the pixels that carry the colour. [-]
    sky_e_s : ndarray
        Sky per pixel, measured where the plan has a measurement. [electron s-1]
    model_sky_e_s : ndarray
        Sky per pixel by the model, moonlight included. [electron s-1]
    moon_e_s : ndarray
        Moonlight in it. [electron s-1]
    ab_zero_e_s : ndarray
        What a sky of AB magnitude 0 per arcsec2 would give per pixel. [electron s-1]
    dark_e_s : float
        Dark current and glow per pixel. [electron s-1]
    extended : mapping of str to ndarray
        Per pixel, by the name of each extended light that passes. [electron s-1]
    stars : mapping of str to ndarray
        All of the star, by the name of each star that passes. [electron s-1]
    bright_star_e_s : ndarray
        All of the star that must not fill the well; 0 where there is none. [electron s-1]
    scale_arcsec : float
        Side of a pixel on the sky. [arcsec]
    fwhm_px : float
        Width of a star in this filter. [pixel]
    """

    colours: tuple[str, ...]
    pixel_share: Floats
    sky_e_s: Floats
    model_sky_e_s: Floats
    moon_e_s: Floats
    ab_zero_e_s: Floats
    dark_e_s: float
    extended: Mapping[str, Floats]
    stars: Mapping[str, Floats]
    bright_star_e_s: Floats
    scale_arcsec: float
    fwhm_px: float

    @property
    def background_e_s(self) -> Floats:
        """Everything that a pixel between the stars collects, extended target included. [electron s-1]"""
        return self.sky_e_s + self.dark_e_s + sum(self.extended.values())

    @property
    def peak_share(self) -> float:
        """Share of a star's light in its brightest pixel. [-]"""
        return float(peak_share(self.fwhm_px))


@lru_cache(maxsize=128)
def _ab_zero_through(curve: Curve) -> float:
    return Spectrum(ab_continuum(0.0)).through(curve)


@lru_cache(maxsize=512)
def _target_through(spectrum: Spectrum, air: Curve, curve: Curve) -> float:
    return spectrum.through(curve, air)


@lru_cache(maxsize=64)
def _air(extinction: Extinction, elevation_m: float, altitude_deg: float) -> Curve:
    return transmission(extinction_curve(extinction, elevation_m), float(airmass(altitude_deg)))


@lru_cache(maxsize=128)
def _mean_wavelength_nm(curve: Curve) -> float:
    total = integrate(curve)
    return integrate(curve, _WAVELENGTH) / total if total else 550.0


def moonlight_of(case: Case) -> Spectrum | None:
    """Moonlight on the sky at the target, as observed; None where the plan has no Moon.

    Raises
    ------
    ValueError
        If no place on the sky has the Moon's separation at these altitudes.
    """
    if case.moon is None:
        return None
    k = float(case.sky.extinction_curve(float(case.site.elevation.value))(550))
    return _moonlight(case.moon, float(case.target.altitude.value), k)


@lru_cache(maxsize=32)
def _moonlight(moon: Moon, altitude_deg: float, k: float) -> Spectrum:
    return moon_spectrum(moon, altitude_deg, k)


@lru_cache(maxsize=128)
def _moon_through(moonlight: Spectrum | None, curve: Curve) -> float:
    return 0.0 if moonlight is None else moonlight.through(curve)


def _measured(sky: Sky, filter_: Filter, colours: tuple[str, ...], ab_zero_e_s: Floats) -> Floats | None:
    """Measured rate per pixel and colour, where the plan holds one for this filter."""
    found = sky.measured.get(filter_.name) if sky.measured else None
    if found is None:
        return None
    if found.mag_ab is not None:
        return ab_zero_e_s * 10 ** (-0.4 * found.mag_ab)
    if found.colours is not None and set(found.colours) == set(colours):
        return np.array([found.colours[colour] for colour in colours])
    if found.electron_s is not None and colours == ("mono",):
        return np.array([found.electron_s])
    wanted = "one rate" if colours == ("mono",) else f"a rate for each of {', '.join(colours)}"
    msg = f'measured sky of "{filter_.name}" must be {wanted} or a magnitude, for this camera'
    raise ValueError(msg)


def rates(case: Case, filter_: Filter) -> Rates:
    """Rates of one filter of a case.

    Parameters
    ----------
    case : Case
    filter_ : Filter
        One of the case's filters, or another.

    Returns
    -------
    Rates

    Raises
    ------
    ValueError
        If the filter reaches outside a curve of the gear, or a measured sky does not fit the camera.

    Notes
    -----
    The target is dimmed by the air, the sky as observed is not dimmed again.
    """
    telescope, camera, sky, target = case.telescope, case.camera, case.sky, case.target
    altitude_deg = float(target.altitude.value)
    scale = pixel_scale_arcsec(telescope, camera)
    colours = camera.colours
    curves = [response(telescope, filter_, camera, colour) for colour in colours]
    per_arcsec2 = telescope.area_cm2
    per_pixel = per_arcsec2 * scale**2
    air = _air(sky.extinction, float(case.site.elevation.value), altitude_deg)

    moonlight = moonlight_of(case)
    moon = np.array([_moon_through(moonlight, curve) for curve in curves]) * per_pixel
    model = np.array([sky.through(curve) for curve in curves]) * per_pixel * sky.factor_at(altitude_deg) + moon
    ab_zero = np.array([_ab_zero_through(curve) for curve in curves]) * per_pixel
    measured = _measured(sky, filter_, colours, ab_zero)

    extended: dict[str, Floats] = {}
    stars: dict[str, Floats] = {}
    peak = max(float(curve.value.max()) for curve in curves)
    for name, light in target.named_lights:
        star = isinstance(light, StarLight)
        passed = np.array([_target_through(light.spectrum, air, curve) for curve in curves])
        whole = _target_through(light.spectrum, air, _everything())
        if passed.max() > LEAST_PASSED * peak * whole or (passed.max() > 0 and not light.spectrum.line.size):
            (stars if star else extended)[name] = passed * (per_arcsec2 if star else per_pixel)

    bright = case.goal.unsaturated_star
    fwhm = star_fwhm_arcsec(
        telescope,
        float(case.site.seeing.value),
        float(airmass(altitude_deg)),
        float(case.routine.guiding.value),
        _mean_wavelength_nm(curves[0] if len(curves) == 1 else max(curves, key=lambda c: float(c.value.max()))),
    )
    return Rates(
        colours=colours,
        pixel_share=np.array([camera.colour_share[colour] for colour in colours]),
        sky_e_s=model if measured is None else measured,
        model_sky_e_s=model,
        moon_e_s=moon,
        ab_zero_e_s=ab_zero,
        dark_e_s=float(camera.dark_e_s),
        extended=MappingProxyType(extended),
        stars=MappingProxyType(stars),
        bright_star_e_s=(
            np.zeros(len(colours))
            if bright is None
            else np.array([_target_through(_ab_star(), air, c) for c in curves])
            * per_arcsec2
            * 10 ** (-0.4 * float(bright.value))
        ),
        scale_arcsec=scale,
        fwhm_px=float(fwhm) / scale,
    )


@lru_cache(maxsize=1)
def _ab_star() -> Spectrum:
    return Spectrum(ab_continuum(0.0))


@lru_cache(maxsize=1)
def _everything() -> Curve:
    return Curve.constant(1.0)
