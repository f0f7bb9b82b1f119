"""The night sky over the telescope: one reading, a lamp mix, and what follows for every wavelength.

How one reading settles the mix of natural light and lamps is :mod:`expocalc.light.mix`.

References
----------
.. [cinzano] Cinzano, P. 2005, ISTIL Internal Report 9: night-sky photometry with a hand-held meter. Its
   band is not V.
.. [outer] den Outer, P. et al. 2011, Sensors 11, 9603: nine meters scattered by 0.15 mag before they were
   compared.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from types import MappingProxyType

import astropy.units as u

from expocalc.base.noun import Noun, choice, field_of, measure, whole
from expocalc.base.noun import number as number_field
from expocalc.base.photometry import zero_photons
from expocalc.light.air import EXTINCTIONS, STEEPEST, Extinction, extinction_in_v, read_extinction
from expocalc.light.gradient import Gradient, read_gradient
from expocalc.light.lamp_shares import FROM_RATES, USUAL_LAMPS, read_lamps
from expocalc.light.lamps import LAMPS
from expocalc.light.measured import MeasuredSky, read_measured
from expocalc.light.mix import (
    DARKEST_V,
    cd_m2_per_photon,
    meter_stars_photons,
)
from expocalc.light.reading import (
    BORTLE,
    bortle_v,
    naked_eye_limit_of_v,
    v_of_naked_eye_limit,
    v_per_limit,
)
from expocalc.light.sky_light import SkyLight

__all__ = ["READING_BANDS", "Sky"]

READING_BANDS = ("bessell-V", "cie-V", "meter")
"""Bands that `zenith_brightness` may be in: V in Vega magnitudes, the other two in AB."""

_READINGS = ("zenith_brightness", "bortle", "luminance", "naked_eye_limit")

# What a reading may be off by where the plan doesn't say [mag]: [outer]_ and the band for the meter,
# the rest is common practice, no source.
_ERROR_MAG = MappingProxyType({"bessell-V": 0.1, "cie-V": 0.1, "meter": 0.2, "luminance": 0.15})
_LIMIT_ERROR_MAG = 0.5  # of the limit itself: people differ by this and more (common practice, no source)


class Sky(SkyLight, Noun):
    """Night sky at the zenith of a place, as observed.

    Exactly one of the first four fields is given.

    Raises
    ------
    ValueError
        If there is no reading or more than one, or the reading is darker than any natural sky.

    Notes
    -----
    Two skies are equal only where they are the same object, so that results can be kept by it.

    Examples
    --------
    >>> sky = Sky(zenith_brightness="19.1 mag/arcsec2")
    >>> round(sky.brightness("bessell-V"), 3)
    19.1
    >>> sky.mix.natural
    1.0
    """

    zenith_brightness: u.Quantity | None = measure(
        "mag/arcsec2",
        None,
        minimum=10,
        maximum=25,
        example='"19.1 mag/arcsec2"',
        meaning="How dark the sky overhead is: a larger number is darker; in the band that reading_band names.",
        origin="your own meter, a sub with known stars, or a map",
    )
    bortle: int | None = whole(
        None,
        minimum=1,
        maximum=9,
        example="5",
        meaning="Class of the sky by what the eye sees, 1 the darkest, 9 a city's; its middle stands for the reading.",
        origin="your own look; its brightness is common practice, no source",
    )
    luminance: u.Quantity | None = measure(
        "cd/m2",
        None,
        above=0,
        example='"2.5 mcd/m2"',
        meaning="Luminance of the sky overhead, as a lighting engineer gives it.",
        origin="a luminance meter, or a map",
        advanced=True,
    )
    naked_eye_limit: float | None = number_field(
        None,
        minimum=-5,
        maximum=7.9,
        example="5.0",
        meaning="Magnitude of the faintest star overhead that the eye sees.",
        origin="your own look at a chart",
    )
    reading_band: str = choice(
        READING_BANDS,
        "bessell-V",
        meaning="Band of zenith_brightness: bessell-V is astronomy's V, meter a hand-held meter, cie-V a luminance.",
        origin="the instrument",
    )
    brightness_error: u.Quantity = measure(
        "mag/arcsec2",
        None,
        minimum=0,
        maximum=5,
        example='"0.15 mag/arcsec2"',
        meaning="What the reading may be off by, one standard deviation; by default what its kind usually is.",
        origin="den Outer et al. 2011 for the meter, else common practice, no source",
        advanced=True,
    )
    lamps: Mapping[str, float] = field_of(
        read_lamps,
        None,
        kind="table",
        minimum=0,
        maximum=1,
        choices=tuple(LAMPS),
        example="{ led-4000K = 0.6, sodium-high-pressure = 0.4 }",
        other=f'or "{FROM_RATES}": those that the measured sky and the reading tell',
        meaning="Share of each kind of lamp in the light of the town; the shares sum to 1.",
        origin="assumed: 0.6 led-4000K and 0.4 sodium-high-pressure; a look around shows better",
    )
    gradient: Gradient | None = field_of(
        read_gradient,
        None,
        kind="table",
        nouns=(Gradient,),
        example='{ at_45deg = "0.6 mag", toward_azimuth = "250 deg" }',
        other='or the first alone: "0.4 mag"',
        meaning="How much brighter the sky is at 45 degrees of altitude than overhead, perhaps towards a town.",
        origin="two readings of your own; left out, the sky is even",
        advanced=True,
    )
    extinction: Extinction = field_of(
        read_extinction,
        "town",
        kind="curve",
        minimum=0,
        maximum=STEEPEST,
        choices=tuple(EXTINCTIONS),
        example="0.25",
        other="or a number in mag/airmass, or rows [nm, mag/airmass]",
        meaning="Light that the air takes from a star overhead.",
        origin="Green 1992 for country; town is assumed",
        advanced=True,
    )
    measured: Mapping[str, MeasuredSky] | None = field_of(
        read_measured,
        None,
        kind="table",
        minimum=0,
        example='{ "H-alpha" = "0.11 electron/s" }',
        other='by filter: "0.11 electron/s" per pixel, "20.9 mag/arcsec2" (AB), or R, G and B in electron/s',
        meaning="Sky that a test sub of yours showed in a filter; it takes the place of the reading there.",
        origin="your own test sub, dark current taken off",
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        given = [name for name in _READINGS if getattr(self, name) is not None]
        if len(given) != 1:
            msg = f"sky must have exactly one of {', '.join(_READINGS)}, got {' and '.join(given) or 'none'}"
            raise ValueError(msg)
        if self.lamps is None:
            object.__setattr__(self, "lamps", USUAL_LAMPS)
        if self.brightness_error is None:
            object.__setattr__(self, "brightness_error", u.Quantity(self._usual_error(), "mag/arcsec2"))
        v = self.brightness("bessell-V")
        if v > DARKEST_V + 1e-9:
            msg = (
                f"{self.reading_name} must not mean a sky darker than {DARKEST_V} mag/arcsec2 in V, "
                f"the darkest there is, got {v:.2f} mag/arcsec2"
            )
            raise ValueError(msg)

    @property
    def reading_name(self) -> str:
        """Field that holds the reading."""
        return next(name for name in _READINGS if getattr(self, name) is not None)

    def _usual_error(self) -> float:
        if self.bortle is not None:
            bright, dark = BORTLE[self.bortle]
            return max((dark - bright) / 2, 0.3)
        if self.naked_eye_limit is not None:
            return _LIMIT_ERROR_MAG * v_per_limit(self.brightness("bessell-V"))
        return _ERROR_MAG[self.reading_band if self.zenith_brightness is not None else self.reading_name]

    @property
    def band_read(self) -> str:
        """Standard band that the reading is in."""
        if self.zenith_brightness is not None:
            return self.reading_band
        return "cie-V" if self.luminance is not None else "bessell-V"

    @cached_property
    def photons_read(self) -> float:
        """Photons in the band of the reading, without what only the instrument sees. [photon s-1 cm-2 arcsec-2]"""
        if self.luminance is not None:
            return float(self.luminance.value) / cd_m2_per_photon()
        if self.zenith_brightness is not None:
            mag = float(self.zenith_brightness.value)
        elif self.bortle is not None:
            mag = bortle_v(self.bortle)
        else:
            assert self.naked_eye_limit is not None  # one of the four is given
            mag = self._v_by_eye()
        stars = meter_stars_photons() if self.band_read == "meter" else 0.0
        return max(zero_photons(self.band_read) * 10 ** (-0.4 * mag) - stars, 0.0)

    def _v_by_eye(self) -> float:
        """V of the naked-eye limit; the darkest sky where keen eyes, not the sky, went beyond it. [mag/arcsec2]"""
        assert self.naked_eye_limit is not None  # one of the four readings is given
        k = self.extinction_v
        v = v_of_naked_eye_limit(self.naked_eye_limit, k)
        keen = v > DARKEST_V and naked_eye_limit_of_v(DARKEST_V, k) > self.naked_eye_limit - _LIMIT_ERROR_MAG
        return DARKEST_V if keen else v

    @cached_property
    def extinction_v(self) -> float:
        """Extinction in V at the sea, where a reading has no place of its own. [mag/airmass]"""
        return extinction_in_v(self.extinction_curve())
