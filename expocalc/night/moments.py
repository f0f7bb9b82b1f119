"""The sky of a night as arrays: where target and Moon stand at each moment, and what a filter delivers then."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from types import MappingProxyType

import astropy.units as u
import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.base.photometry import standard_band
from expocalc.budget.case import Case
from expocalc.budget.rates import Rates, rates
from expocalc.gear.passband import Filter
from expocalc.gear.response import response
from expocalc.light.air import airmass
from expocalc.light.moon import _colour, dust_part, molecule_part, moonlight_nl
from expocalc.light.sky import _zero_photons
from expocalc.night.almanac import Almanac, moon_phase_deg, separation_deg
from expocalc.night.windows import position_of

__all__ = ["Moments", "moments_of", "rates_over"]

LOWEST_DEG = 1.0
"""Below this altitude nothing is worked out. [deg]"""


@dataclass(frozen=True, eq=False)
class Moments:
    """Target and Moon at moments, arrays of one shape.

    Attributes
    ----------
    altitude_deg, azimuth_deg : ndarray
        Of the target. [deg]
    moon_altitude_deg, moon_phase_deg, moon_separation_deg : ndarray
        Of the Moon, seen from the place; phase 0 at full Moon; separation from the target. [deg]
    """

    altitude_deg: Floats
    azimuth_deg: Floats
    moon_altitude_deg: Floats
    moon_phase_deg: Floats
    moon_separation_deg: Floats


def moments_of(case: Case, almanac: Almanac, unix_s: npt.ArrayLike) -> Moments:
    """Target and Moon over the plan's site at moments. `unix_s`: seconds since 1970 UTC, any shape."""
    position = position_of(case)
    assert position is not None
    target, moon = almanac.fixed(*position, unix_s), almanac.moon(unix_s)
    return Moments(
        altitude_deg=target.altitude_deg,
        azimuth_deg=target.azimuth_deg,
        moon_altitude_deg=moon.altitude_deg,
        moon_phase_deg=moon_phase_deg(unix_s),
        moon_separation_deg=separation_deg(target, moon),
    )


def at_zenith(case: Case) -> Case:
    """The case at its reference: the target at the zenith, no Moon."""
    return dataclasses.replace(case, target=dataclasses.replace(case.target, altitude=u.Quantity(90, "deg")), moon=None)


_NODES_DEG = (90, 60, 45, 36, 30, 25, 21, 18, 15, 12, 10, 8, 6, 5, 4, 3, 2, 1)


def rates_over(case: Case, filter_: Filter, at: Moments) -> Rates:
    """Rates of one filter at each moment; arrays of shape (t, colours).

    Parameters
    ----------
    case : Case
        Its own altitude and Moon are not looked at, but where a sky was measured: at that altitude, without the Moon.
    filter_ : Filter
    at : Moments
        Shape (t,).
    """
    altitude = np.maximum(at.altitude_deg, LOWEST_DEG)
    moonless = dataclasses.replace(case, moon=None)
    nodes = [
        rates(
            dataclasses.replace(moonless, target=dataclasses.replace(case.target, altitude=u.Quantity(a, "deg"))),
            filter_,
        )
        for a in _NODES_DEG
    ]
    x, x_nodes = airmass(altitude), airmass(np.array(_NODES_DEG, dtype=float))

    def through(values: list[Floats]) -> Floats:
        table = np.log(np.maximum(np.array(values), 1e-300))
        return np.exp(np.stack([np.interp(x, x_nodes, column) for column in table.T], axis=-1))

    one = nodes[0]
    dark = through([node.sky_e_s for node in nodes])
    k = float(case.sky.extinction_curve(float(case.site.elevation.value))(550))
    moon_nl = moonlight_nl(at.moon_phase_deg, at.moon_separation_deg, at.moon_altitude_deg, altitude, k)
    molecules, dust = molecule_part(at.moon_separation_deg), dust_part(at.moon_separation_deg)
    per_pixel = case.telescope.area_cm2 * one.scale_arcsec**2
    band = standard_band("bessell-V")
    v_molecules, v_dust = _colour(1.0, 0.0).through(band), _colour(0.0, 1.0).through(band)
    scale = (
        np.where(
            moon_nl > 0,
            _zero_photons("bessell-V") * 10 ** (-0.4 * (20.7233 - np.log(np.maximum(moon_nl, 1e-9) / 34.08)) / 0.92104),
            0,
        )
        / (molecules * v_molecules + dust * v_dust)
        * per_pixel
    )
    curves = [response(case.telescope, filter_, case.camera, colour) for colour in one.colours]
    moon = np.stack(
        [scale * (molecules * _colour(1.0, 0.0).through(c) + dust * _colour(0.0, 1.0).through(c)) for c in curves],
        axis=-1,
    )
    return dataclasses.replace(
        one,
        sky_e_s=dark + moon,
        model_sky_e_s=dark + moon,
        moon_e_s=moon,
        extended=MappingProxyType({n: through([node.extended[n] for node in nodes]) for n in one.extended}),
        stars=MappingProxyType({n: through([node.stars[n] for node in nodes]) for n in one.stars}),
        fwhm_px=np.interp(x, x_nodes, [node.fwhm_px for node in nodes]),  # type: ignore[arg-type]
    )
