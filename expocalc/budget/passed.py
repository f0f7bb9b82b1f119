r"""What one filter of one rig passes of everything, integrated once: what is left is arithmetic.

Every light of the model is a shape over wavelength times a few numbers that the moment settles (how much of it, through
how much air). The shapes are integrated here, one number per mosaic colour, and kept by what they depend on. The air is
a curve with straight lines between nodes: the integral of a light behind it is a sum over the nodes' transmissions,
exactly, whatever the airmass.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from expocalc.base.curve import RANGE_NM, Curve, Floats, Spectrum, integrate, product
from expocalc.base.frozen import Frozen
from expocalc.base.photometry import ab_continuum
from expocalc.budget.case import Case
from expocalc.budget.doubt import Doubt
from expocalc.gear.camera import Camera
from expocalc.gear.filter import Filter
from expocalc.gear.image import pixel_scale_arcsec
from expocalc.gear.response import brightest, response
from expocalc.gear.telescope import Telescope
from expocalc.light.lamps import LAMPS, lamp_spectrum
from expocalc.light.lights import Light, StarLight
from expocalc.light.mix import lamp_bend
from expocalc.light.moon_colour import scattered_sunlight
from expocalc.light.natural import natural_sky
from expocalc.light.target import Target
from expocalc.light.town import Town

__all__ = ["LEAST_PASSED", "Passed", "passed"]

LEAST_PASSED = 1e-3
"""A filter is said to pass a light when it passes this share of what it passes at its peak."""
_SHIFTS = np.linspace(-4, 4, 17)
"""Shifts of a filter at which its integrals are known, in standard deviations: a shifted filter can lose a line at
once, so that they are many, with straight lines between them.
"""
_WIDTHS = np.linspace(-4, 4, 9)
"""Changes of a filter's width at which its integrals are known, in standard deviations."""

_AB_ZERO = Spectrum(ab_continuum(0.0))
_WAVELENGTH = Curve(np.array(RANGE_NM), np.array(RANGE_NM))


class Passed(Frozen):
    """What one filter passes; arrays have the mosaic's colours as their last axis, but for `lights` and `ab_star`.

    Attributes
    ----------
    filter_name : str
    telescope : Telescope
    colours : tuple of str
    pixel_share : ndarray
        Share of the pixels that carry each colour. [-]
    scale_arcsec : float
        Side of a pixel on the sky. [arcsec]
    wavelength_nm : float
        Mean of what passes, in the colour that passes most. [nm]
    sky : mapping of str to ndarray
        "natural", the typical natural sky; each lamp's skyglow at a luminance of 1 cd/m2; "molecules" and "dust", the
        shapes of :func:`expocalc.light.moon_colour.scattered_sunlight`. [electron s-1 per pixel]
    bends : mapping of str to ndarray
        Slope and bend of the logarithm of a lamp's light in skyglow's exponent; shape (2, colours). [-]
    ab_zero : ndarray
        A sky of AB magnitude 0 per arcsec2. [electron s-1 per pixel]
    extinction : ndarray
        At the nodes of the air, shape (nodes,). [mag/airmass]
    lights : mapping of str to ndarray
        Each light of the target that passes, by the nodes of the air; shape (nodes, colours). [electron s-1, per pixel
        or of a whole star]
    stars : tuple of str
        Names of those lights that are stars.
    ab_star : ndarray
        A star of AB magnitude 0, as `lights`. [electron s-1]
    shifts_nm : ndarray
        Shifts of the filter that `moved` holds, shape (shifts,); empty where it does not move. [nm]
    moved : mapping of str to ndarray
        What each shift changes what passes by, for all of `sky` and `lights`; shape (shifts, colours). [-]
    wanted : tuple of str or None
        Lights that the filter is for; None for all that it passes.
    wider : ndarray
        Changes of the filter's width that `widened` holds, as shares of it, shape (widths,); empty where none. [-]
    widened : mapping of str to ndarray
        As `moved`, for each change of the width; shape (widths, colours). [-]
    """

    filter_name: str
    telescope: Telescope
    colours: tuple[str, ...]
    pixel_share: Floats
    scale_arcsec: float
    wavelength_nm: float
    sky: Mapping[str, Floats]
    bends: Mapping[str, Floats]
    ab_zero: Floats
    extinction: Floats
    lights: Mapping[str, Floats]
    stars: tuple[str, ...]
    ab_star: Floats
    shifts_nm: Floats
    moved: Mapping[str, Floats]
    wanted: tuple[str, ...] | None
    wider: Floats
    widened: Mapping[str, Floats]


def passed(case: Case, filter_: Filter, doubt: Doubt | None = None) -> Passed:
    """Integrate what a filter passes of everything, or take what is kept of it.

    Parameters
    ----------
    case : Case
    filter_ : Filter
        One of the case's filters, or another.
    doubt : Doubt, optional
        Where it is given, the table knows skyglow of other colours, shifts and other widths of the filter as well.

    Returns
    -------
    Passed

    Raises
    ------
    ValueError
        If the filter reaches outside a curve of the gear.
    """
    air = case.sky.extinction_curve(float(case.site.elevation.value))
    sky = case.sky
    gear = case.telescope, case.camera, filter_
    table = _of_nouns(*gear, tuple(sky.lamps), air, case.target, doubt, bool(sky.bluer))
    return table if sky.told is None else _with_unlisted(table, sky.told, *gear)


@lru_cache(maxsize=64)
def _with_unlisted(table: Passed, town: Town, telescope: Telescope, camera: Camera, filter_: Filter) -> Passed:
    """The table with what unlisted lamps change the sky without the Moon by, as measured rates tell it."""
    times = np.array([town.unlisted_mean(response(telescope, filter_, camera, one)) for one in table.colours])
    own = {name: part * times for name, part in table.sky.items() if name == "natural" or name in LAMPS}
    return dataclasses.replace(table, sky=MappingProxyType({**table.sky, **own}))


@lru_cache(maxsize=64)
def _of_nouns(
    telescope: Telescope,
    camera: Camera,
    filter_: Filter,
    lamps: tuple[str, ...],
    air: Curve,
    target: Target,
    doubt: Doubt | None,
    bluer: bool,
) -> Passed:
    """The table by the nouns; a sensor of another temperature has the same one, by their curves."""
    sd_nm = 0.0 if doubt is None else float(doubt.filter_centre.value)
    moves = sd_nm > 0 and all(passband.standard is None for passband in filter_.passbands)
    shifts_nm = tuple(sd_nm * _SHIFTS) if moves else ()
    share = 0.0 if doubt is None else doubt.filter_width - 1
    widens = share > 0 and any(passband.width is not None for passband in filter_.passbands)
    wider = tuple(share * _WIDTHS) if widens else ()
    colours = camera.colour_share
    shifted = [[response(telescope, filter_, camera, one, nm) for nm in shifts_nm] for one in colours] if moves else ()
    others = [(telescope.throughput_curve, *camera.colour_curves(one).values()) for one in colours] if widens else ()
    return _passed(
        telescope,
        filter_.name,
        tuple(colours.items()),
        tuple(response(telescope, filter_, camera, colour) for colour in colours),
        tuple(map(tuple, shifted)),
        tuple(_widened(filter_, telescope.cone, curves, wider) for curves in others),
        pixel_scale_arcsec(telescope, camera),
        lamps,
        air,
        target.named_lights,
        None if doubt is None and not bluer else shifts_nm,
        filter_.wanted,
        wider,
    )


@lru_cache(maxsize=256)
def _passed(
    telescope: Telescope,
    filter_name: str,
    pixel_share: tuple[tuple[str, float], ...],
    curves: tuple[Curve, ...],
    shifted: tuple[tuple[Curve, ...], ...],
    widened: tuple[tuple[Curve, ...], ...],
    scale_arcsec: float,
    lamps: tuple[str, ...],
    air: Curve,
    named_lights: tuple[tuple[str, Light], ...],
    shifts_nm: tuple[float, ...] | None,
    wanted: tuple[str, ...] | None,
    wider: tuple[float, ...],
) -> Passed:
    area = telescope.area_cm2
    pixel = area * scale_arcsec**2
    molecules, dust = scattered_sunlight()
    sky = {"natural": natural_sky(), "molecules": molecules, "dust": dust}
    sky |= {lamp: lamp_spectrum(lamp) for lamp in lamps}
    most = brightest(curves)
    peak = float(most.value.max())
    lights = {name: light for name, light in named_lights if _passes(light.spectrum, curves, peak)}
    stars = tuple(name for name, light in lights.items() if isinstance(light, StarLight))
    ab_star = _by_node(_AB_ZERO, air, curves)
    lit = ab_star.any(axis=1)
    shapes = {**sky, **{name: light.spectrum for name, light in lights.items()}}
    return Passed(
        filter_name=filter_name,
        telescope=telescope,
        colours=tuple(colour for colour, _ in pixel_share),
        pixel_share=np.array([share for _, share in pixel_share]),
        scale_arcsec=scale_arcsec,
        wavelength_nm=_mean_wavelength_nm(most),
        sky=MappingProxyType(
            {name: pixel * np.array([_through(shape, curve) for curve in curves]) for name, shape in sky.items()}
        ),
        bends=MappingProxyType(
            {}
            if shifts_nm is None
            else {lamp: np.transpose([lamp_bend(lamp, curve) for curve in curves]) for lamp in lamps}
        ),
        ab_zero=pixel * np.array([_through(_AB_ZERO, curve) for curve in curves]),
        extinction=air.value[lit],
        lights=MappingProxyType(
            {
                name: (area if name in stars else pixel) * _by_node(light.spectrum, air, curves)[lit]
                for name, light in lights.items()
            }
        ),
        stars=stars,
        ab_star=area * ab_star[lit],
        shifts_nm=np.array(shifts_nm or ()),
        moved=_changes(shapes, shifted) if shifts_nm else MappingProxyType({}),
        wider=np.array(wider),
        widened=_changes(shapes, widened) if wider else MappingProxyType({}),
        wanted=wanted,
    )


def _changes(shapes: Mapping[str, Spectrum], others: Sequence[tuple[Curve, ...]]) -> Mapping[str, Floats]:
    """What other curves of each colour change what passes of each shape by; shape (curves, colours)."""
    return MappingProxyType(
        {name: np.transpose([_changed_through(shape, one) for one in others]) for name, shape in shapes.items()}
    )


@lru_cache(maxsize=512)
def _by_node(spectrum: Spectrum, air: Curve, curves: tuple[Curve, ...]) -> Floats:
    """A light through each colour by the nodes of the air; shape (nodes, colours)."""
    return np.transpose([spectrum.by_node(air.wavelength_nm, curve) for curve in curves])


def _passes(spectrum: Spectrum, curves: tuple[Curve, ...], peak: float) -> bool:
    """Whether a filter passes a light: any of a continuum, but of lines not what leaks only."""
    most = max(_through(spectrum, curve) for curve in curves)
    return most > LEAST_PASSED * peak * float(spectrum.line.sum())


@lru_cache(maxsize=512)
def _through(spectrum: Spectrum, curve: Curve) -> float:
    return spectrum.through(curve)


@lru_cache(maxsize=128)
def _mean_wavelength_nm(curve: Curve) -> float:
    total = integrate(curve)
    return integrate(curve, _WAVELENGTH) / total if total else 550.0


@lru_cache(maxsize=128)
def _widened(
    filter_: Filter, cone: tuple[float, float, float], parts: tuple[Curve, ...], wider: tuple[float, ...]
) -> tuple[Curve, ...]:
    """Responses of one colour with the filter's bands wider or narrower by each of the changes."""
    return tuple(product(_wide(filter_, 1 + change).curve_in_cone(*cone), *parts) for change in wider)


def _wide(filter_: Filter, times: float) -> Filter:
    """A filter whose bands of stated width are some times as wide, as far as the model reaches."""
    bands = tuple(
        band if band.width is None else dataclasses.replace(band, width=max(times, 0.05) * band.width)
        for band in filter_.passbands
    )
    return dataclasses.replace(filter_, passbands=bands)


@lru_cache(maxsize=1024)
def _changed_through(spectrum: Spectrum, curves: tuple[Curve, ...]) -> Floats:
    """Change of what passes each of the curves, relative to the middle one."""
    through = np.array([spectrum.through(curve) for curve in curves])
    middle = through[len(curves) // 2]
    return through / middle if middle > 0 else np.ones(len(curves))
