"""Electrons per second and pixel: target, sky and dark, for each filter and mosaic colour.

One way from light to electrons: the table of a filter (:mod:`expocalc.budget.passed`) and a moment
(:mod:`expocalc.budget.moment`) make the rates. A plan is the scalar case; doubts, a night, a sweep are array cases.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.base.frozen import Frozen
from expocalc.budget.case import Case
from expocalc.budget.moment import EXACT, Moment, Off, moment_of
from expocalc.budget.passed import Passed, passed
from expocalc.gear.filter import Filter
from expocalc.gear.image import peak_share, star_fwhm_arcsec
from expocalc.light.moon_colour import moonlight_parts

__all__ = ["Rates", "rates", "rates_at"]

_LN_PER_MAG = 0.4 * math.log(10)


class Rates(Frozen):
    """What one filter delivers; arrays end with the axis of the mosaic's colours.

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
    dark_e_s : float or ndarray
        Dark current and glow per pixel; arrays end with an axis of one for all colours. [electron s-1]
    extended : mapping of str to ndarray
        Per pixel, by the name of each extended light that passes. [electron s-1]
    stars : mapping of str to ndarray
        All of the star, by the name of each star that passes. [electron s-1]
    bright_star_e_s : ndarray
        All of the star that must not fill the well; 0 where there is none. [electron s-1]
    scale_arcsec : float
        Side of a pixel on the sky. [arcsec]
    fwhm_px : float or ndarray
        Width of a star in this filter; no axis of colours. [pixel]
    wanted : tuple of str or None
        Lights that the filter is for; None for all that it passes.
    """

    colours: tuple[str, ...]
    pixel_share: Floats
    sky_e_s: Floats
    model_sky_e_s: Floats
    moon_e_s: Floats
    ab_zero_e_s: Floats
    dark_e_s: Any
    extended: Mapping[str, Floats]
    stars: Mapping[str, Floats]
    bright_star_e_s: Floats
    scale_arcsec: float
    fwhm_px: Any
    wanted: tuple[str, ...] | None = None

    @property
    def lights(self) -> tuple[str, ...]:
        """Lights that pass and are asked of the filter, extended ones first."""
        every = (*self.extended, *self.stars)
        return every if self.wanted is None else tuple(name for name in every if name in self.wanted)

    @property
    def background_e_s(self) -> Floats:
        """Everything that a pixel between the stars collects, extended target included. [electron s-1]"""
        return self.sky_e_s + self.dark_e_s + sum(self.extended.values())

    @property
    def peak_share(self) -> Any:
        """Share of a star's light in its brightest pixel; shape of `fwhm_px`. [-]"""
        share = peak_share(self.fwhm_px)
        return share if share.ndim else float(share)


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
        If the filter reaches outside a curve of the gear, a measured sky does not fit the camera, or no place on
        the sky has the Moon's separation at these altitudes.
    """
    return rates_at(passed(case, filter_), moment_of(case))


def rates_at(table: Passed, moment: Moment, off: Off = EXACT) -> Rates:
    """Rates of one filter at a moment, or at many.

    Parameters
    ----------
    table : Passed
        What the filter passes; built with a doubt where `off` has another colour of skyglow or a shift.
    moment : Moment
        Numbers or arrays that broadcast, together with those of `off`.
    off : Off, optional
        How far inputs are off.

    Returns
    -------
    Rates
        Arrays of the shape of what they depend on, and the axis of colours. NaN where the target is below the horizon;
        no moonlight where the Moon is.

    Raises
    ------
    ValueError
        If a measured sky does not fit the camera.

    Notes
    -----
    The target is dimmed by the air, the sky as observed is not dimmed again.
    """
    efficiency = _by_colour(off.efficiency)
    moved, bluer = _moves(table, off), moment.bluer + off.bluer

    # factors first: those of a plan are plain numbers
    zenith = table.sky["natural"] * (_by_colour(moment.natural * moment.natural_factor) * moved("natural"))
    for lamp, cd_m2 in moment.town.items():
        zenith = zenith + table.sky[lamp] * (_by_colour(cd_m2) * _bent(table, lamp, bluer) * moved(lamp))
    usual = moment.sky_factor * off.sky.get(table.filter_name, 1.0)
    model = zenith * (efficiency * _by_colour(usual))
    moon: Any = np.zeros(len(table.colours))
    if moment.moon is not None:
        place = moment.moon.phase_deg, moment.moon.separation_deg, moment.moon.altitude_deg
        molecules, dust = moonlight_parts(*place, moment.altitude_deg, moment.extinction_v)
        for name, part in (("molecules", molecules), ("dust", dust)):
            moon = moon + _by_colour(part) * table.sky[name] * moved(name)
        moon = moon * (efficiency * _by_colour(off.moonlight))
        model = model + moon
    ab_zero = table.ab_zero * efficiency
    measured = _measured(table, moment, ab_zero)
    if measured is not None and moment.measured_at is not None:
        measured = measured * _brought(table, moment, moment.measured_at)

    mass = moment.mass
    arriving = np.exp(-_LN_PER_MAG * _by_colour(off.thicker * mass) * table.extinction)
    lights = {
        name: arriving @ by_node * (efficiency * moved(name) * _by_colour(off.brighter.get(name, 1.0)))
        for name, by_node in table.lights.items()
    }
    fwhm = star_fwhm_arcsec(table.telescope, moment.seeing_arcsec, mass, moment.guiding_arcsec, table.wavelength_nm)
    return Rates(
        colours=table.colours,
        pixel_share=table.pixel_share,
        sky_e_s=model if measured is None else measured * _by_colour(off.measured),
        model_sky_e_s=model,
        moon_e_s=moon,
        ab_zero_e_s=ab_zero,
        dark_e_s=_by_colour(moment.dark_e_s) if np.ndim(moment.dark_e_s) else moment.dark_e_s,
        extended=MappingProxyType({name: rate for name, rate in lights.items() if name not in table.stars}),
        stars=MappingProxyType({name: lights[name] for name in table.stars}),
        bright_star_e_s=(
            np.zeros(len(table.colours))
            if moment.bright_mag is None
            else arriving @ table.ab_star * (efficiency * _by_colour(10 ** (-0.4 * moment.bright_mag)))
        ),
        scale_arcsec=table.scale_arcsec,
        fwhm_px=fwhm / table.scale_arcsec if fwhm.ndim else float(fwhm) / table.scale_arcsec,
        wanted=table.wanted,
    )


def _by_colour(number: Any) -> Any:
    """A number of each moment as that of each moment and colour; one number stays as it is."""
    return number if isinstance(number, float) or not np.ndim(number) else number[..., np.newaxis]


def _bent(table: Passed, lamp: str, bluer: npt.ArrayLike) -> Any:
    """What skyglow of another colour changes a lamp's light by; 1 where the table knows no other."""
    if lamp not in table.bends:
        return 1.0
    slope, bend = table.bends[lamp]
    x = _by_colour(bluer)
    return np.exp(x * (slope + bend * x))


def _moves(table: Passed, off: Off) -> Callable[[str], Any]:
    """What a shift and another width of the filter change a light by, by the light's name; 1 where it is as stated."""
    if not table.moved and not table.widened:
        return lambda _: 1.0
    shift_nm = off.shifts_nm.get(table.filter_name, 0.0)
    changes = (shift_nm, table.shifts_nm, table.moved), (off.wider, table.wider, table.widened)

    def moved(name: str) -> Any:
        times: Any = 1.0
        for by, nodes, known in changes:
            if known:
                by_colour = [np.interp(by, nodes, change) for change in known[name].T]
                times = times * (np.stack(by_colour, axis=-1) if len(by_colour) > 1 else _by_colour(by_colour[0]))
        return times

    return moved


def _brought(table: Passed, moment: Moment, there: Moment) -> Any:
    """What the model's sky changes by between where it was measured and this moment: altitude, gradient, Moon."""
    here = replace(
        there,
        altitude_deg=moment.altitude_deg,
        natural_factor=moment.natural_factor,
        sky_factor=moment.sky_factor,
        moon=moment.moon,
        extinction_v=moment.extinction_v,
    )
    return rates_at(table, here).model_sky_e_s / rates_at(table, there).model_sky_e_s


def _measured(table: Passed, moment: Moment, ab_zero_e_s: Floats) -> Floats | None:
    """Measured rate per pixel and colour, where there is one for this filter."""
    found = moment.measured.get(table.filter_name)
    if found is None:
        return None
    if found.mag_ab is not None:  # a magnitude becomes electrons by the efficiency, a rate is electrons
        return ab_zero_e_s * 10 ** (-0.4 * found.mag_ab)
    if found.colours is not None and set(found.colours) == set(table.colours):
        return np.array([found.colours[colour] for colour in table.colours])
    if found.electron_s is not None and table.colours == ("mono",):
        return np.array([found.electron_s])
    wanted = "one rate" if table.colours == ("mono",) else f"a rate for each of {', '.join(table.colours)}"
    msg = f'measured sky of "{table.filter_name}" must be {wanted} or a magnitude, for this camera'
    raise ValueError(msg)
