"""The light of the night sky, whatever told it: through a response, in a band, towards the horizon."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from functools import cached_property
from typing import Any, Self

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Curve, Spectrum, product
from expocalc.base.photometry import standard_band
from expocalc.light.air import Extinction, extinction_curve
from expocalc.light.airmass import natural_factor
from expocalc.light.gradient import Gradient
from expocalc.light.lamp_shares import LampsFromRates
from expocalc.light.mix import (
    SkyMix,
    bluer_by,
    bluer_spectrum,
    lamp_through,
    magnitude,
    mix_of,
    natural_through,
)
from expocalc.light.natural import natural_sky
from expocalc.light.town import Town

__all__ = ["SkyLight"]

_GRADIENT_AT_DEG = 45.0


class SkyLight:
    """Light of a sky at its zenith and lower down.

    Attributes
    ----------
    lamps : mapping of str to float
        Shares of luminance. [-]
    gradient : Gradient or None
    extinction : Extinction
    photons_read : float
        Photons in the band of the reading. [photon s-1 cm-2 arcsec-2]
    band_read : str
        Standard band of the reading.
    """

    lamps: Mapping[str, float]
    gradient: Gradient | None
    extinction: Extinction
    photons_read: Any
    band_read: Any

    @cached_property
    def mix(self) -> SkyMix:
        """The two factors that meet the reading, or what measured rates tell of them."""
        if self.told is not None:
            return self._told_mix(self.told)
        band = standard_band(self.band_read)
        found = mix_of(self.photons_read, natural_through(band), self._town_through(band))
        return SkyMix(natural=float(found.natural), town=float(found.town))

    @property
    def told(self) -> Town | None:
        """The town that measured rates tell; None where lamps are named or assumed."""
        return self.lamps.town if isinstance(self.lamps, LampsFromRates) else None

    @property
    def bluer(self) -> float:
        """What skyglow's exponent has beyond the usual. [-]"""
        return 0.0 if self.told is None else self.told.bluer_mean

    @cached_property
    def as_read(self) -> Self:
        """The sky by its reading alone, of the usual lamps where rates tell others."""
        return self if self.told is None else dataclasses.replace(self, lamps=LampsFromRates())  # type: ignore[type-var]

    def _told_mix(self, told: Town) -> SkyMix:
        """The town of the rates; as much brighter or darker in V as the reading has become since it was one of them."""
        assert isinstance(self.lamps, LampsFromRates)
        mix = SkyMix(natural=told.natural_mean, town=told.luminance)
        times = 10 ** (-0.4 * (self.as_read.brightness("bessell-V") - self.lamps.read_v))
        if abs(times - 1) < 1e-9:
            return mix
        band = standard_band("bessell-V")
        natural, lamps = mix.natural * natural_through(band), self._town_through(band)
        return mix_of(times * (natural + mix.town * lamps), natural_through(band), lamps, mix.natural)

    @property
    def darker_than_natural(self) -> bool:
        """Whether the reading leaves no room for town light."""
        return self.mix.natural < 1

    def _town_through(self, curve: Curve) -> float:
        bluer = self.bluer
        return sum(
            share * lamp_through(lamp, curve) * bluer_by(lamp, curve, bluer) for lamp, share in self.lamps.items()
        )

    def through(self, response: Curve) -> float:
        """Photons of the zenith's sky through a response; each component is integrated once per curve.

        Parameters
        ----------
        response : Curve
            Share of photons that counts, over wavelength. Kept by identity: pass the same object again.

        Returns
        -------
        float
            [photon s-1 cm-2 arcsec-2, times the unit of the response]
        """
        mix = self.mix
        town = mix.town * self._town_through(response) if mix.town else 0.0
        photons = mix.natural * natural_through(response) + town
        return photons if self.told is None else photons * self.told.unlisted_mean(response)

    @cached_property
    def spectrum(self) -> Spectrum:
        """The zenith's sky, lines kept apart. [photon s-1 cm-2 nm-1 arcsec-2]."""
        total = natural_sky() * self.mix.natural
        if self.mix.town:
            for lamp, share in self.lamps.items():
                total = total + bluer_spectrum(lamp, self.bluer) * (self.mix.town * share)
        if self.told is None:
            return total
        unlisted = self.told.unlisted_curve
        return Spectrum(product(total.continuum, unlisted), total.line_nm, total.line * unlisted(total.line_nm))

    def brightness(self, band: str) -> float:
        """Brightness at the zenith between the stars in a standard band. [mag/arcsec2].

        Parameters
        ----------
        band : str
            One of :data:`expocalc.base.photometry.BANDS`: Vega magnitudes for the Bessell bands, AB for the
            others.
        """
        return magnitude(self.through(standard_band(band)), band)

    def factor_at(self, altitude_deg: npt.ArrayLike, azimuth_deg: npt.ArrayLike | None = None) -> Any:
        """How many times brighter than the zenith the sky is in a direction; 1 without a gradient.

        Parameters
        ----------
        altitude_deg : array_like
            [deg]
        azimuth_deg : array_like, optional
            Where the gradient has a direction; without it the largest counts. [deg]

        Returns
        -------
        factor : float or ndarray
            Broadcast shape; a number for numbers.

        Notes
        -----
        The magnitude grows with the square of the distance from the zenith and meets the gradient at 45
        degrees: an assumption that is level at the zenith.

        Examples
        --------
        >>> from expocalc.light.sky import Sky
        >>> round(Sky(bortle=5, gradient="0.4 mag").factor_at(45), 3)
        1.445
        """
        if self.gradient is None:
            return 1.0
        down = (90 - np.asarray(altitude_deg, dtype=np.float64)) / _GRADIENT_AT_DEG
        factor = 10 ** (0.4 * self.gradient.mag(azimuth_deg) * down**2)
        return factor if np.ndim(factor) else float(factor)

    def natural_factor_at(self, altitude_deg: npt.ArrayLike, k: npt.ArrayLike) -> Any:
        """How many times brighter than at the zenith the natural sky alone is at an altitude, beside :meth:`factor_at`.

        Parameters
        ----------
        altitude_deg : array_like
            Above 0. [deg]
        k : array_like
            Extinction at 550 nm. [mag/airmass]

        Returns
        -------
        factor : float or ndarray
            1 where the plan has a gradient: that is what a reading of the whole sky shows. Otherwise
            :func:`expocalc.light.airmass.natural_factor`.
        """
        if self.gradient is not None:
            return 1.0
        factor = natural_factor(altitude_deg, k)
        return factor if np.ndim(factor) else float(factor)

    def extinction_curve(self, elevation_m: float = 0.0) -> Curve:
        """Extinction over this place. [mag/airmass].

        Parameters
        ----------
        elevation_m : float
            Height of the place above the sea. [m]
        """
        return extinction_curve(self.extinction, elevation_m)
