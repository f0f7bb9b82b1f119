r"""Moonlight scattered by the air: how bright it makes the sky in V, and what a filter sees of it.

The brightness in V is the model of [krisciunas]_, with its own equation numbers, in nanolamberts. It takes the Moon's
phase, how far away it stands, both altitudes and the extinction in V; its authors found it within 8 to 23 % of clear
nights on a mountain. Haze scatters more, and no formula knows tonight's. It leaves out the surge of the last seven
degrees before full Moon, about a third more light (from memory).

Its colour is an assumption: sunlight, reddened by the Moon, bluer again by scattering. The model's own two terms are
scattering by molecules (wavelength^-4) and by dust (wavelength^-1.3); each brings its colour in the share that it has
in V. Blue light lost on the way and blue light scattered twice are taken to cancel.

References
----------
.. [krisciunas] Krisciunas, K. & Schaefer, B. E. 1991, PASP 103, 1033: a model of the brightness of moonlight.
.. [kieffer] Kieffer, H. H. & Stone, T. C. 2005, AJ 129, 2887, table 4: reflectance of the whole Moon, 350 to 2384 nm.
.. [green] Green, D. W. E. 1992, International Comet Quarterly 14, 55: extinction by dust goes as wavelength^-1.3.
"""

from __future__ import annotations

from dataclasses import dataclass

import astropy.units as u
import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Curve, Floats, Spectrum
from expocalc.base.noun import Noun, measure, number
from expocalc.base.photometry import vega_magnitude
from expocalc.light.natural import sun_photons
from expocalc.light.reading import v_of_nanolambert
from expocalc.light.sky import Sky

__all__ = [
    "Moon",
    "dark_sky_nl",
    "dust_part",
    "molecule_part",
    "moon_factor",
    "moon_footcandle",
    "moon_magnitude",
    "moon_spectrum",
    "moonlight_nl",
    "phase_angle_deg",
    "scattering_airmass",
]

V_NM = 550.0
"""Wavelength that stands for V. [nm]"""
REFLECTANCE_SLOPE = 1.0
"""The Moon's reflectance goes as this power of wavelength: fitted to [kieffer]_ at 45 degrees of phase, 350 to 940 nm,
within 7 %; 0.9 at full Moon, 1.1 at the quarters.
"""
MOLECULE_SLOPE = -4.0
DUST_SLOPE = -1.3  # [green]_
NEAR_DEG = 10.0
"""Closer to the Moon than this, light scattered by dust follows another branch (from memory). [deg]"""
CLOSEST_DEG = 1.0
_SLACK_DEG = 0.5  # of angles that people round and that refraction lifts


def moon_magnitude(phase_deg: npt.ArrayLike) -> Floats:
    r"""V magnitude of the whole Moon above the air [krisciunas]_.

    .. math:: V = -12.73 + 0.026\,|\alpha| + 4 \times 10^{-9}\,\alpha^4

    Parameters
    ----------
    phase_deg : array_like
        Phase angle, 0 at full Moon, 90 at the quarters, 180 at new Moon, any shape. [deg]

    Returns
    -------
    ndarray
        At mean distance; the Moon is up to 0.15 mag brighter or fainter as it comes near or goes far. [mag]

    Examples
    --------
    >>> moon_magnitude([0, 90]).round(2)
    array([-12.73, -10.13])
    """
    alpha = np.abs(np.asarray(phase_deg, dtype=np.float64))
    return -12.73 + 0.026 * alpha + 4e-9 * alpha**4  # [krisciunas]_ eq. 9


def moon_footcandle(phase_deg: npt.ArrayLike) -> Floats:
    """Illuminance by the Moon above the air, I* of [krisciunas]_. [footcandle].

    Parameters
    ----------
    phase_deg : array_like
        As in :func:`moon_magnitude`. [deg]

    Examples
    --------
    >>> f"{moon_footcandle(0.0):.4f}"
    '0.0291'
    """
    return np.asarray(10 ** (-0.4 * (moon_magnitude(phase_deg) + 16.57)))  # [krisciunas]_ eq. 8


def scattering_airmass(altitude_deg: npt.ArrayLike) -> Floats:
    """Airmass of this model: 5 at the horizon, where scattering sees less air than a star does.

    Parameters
    ----------
    altitude_deg : array_like
        Any shape. [deg]

    Examples
    --------
    >>> scattering_airmass([0, 90]).round(2)
    array([5., 1.])
    """
    sin_zenith = np.cos(np.radians(np.asarray(altitude_deg, dtype=np.float64)))
    return (1 - 0.96 * sin_zenith**2) ** -0.5  # [krisciunas]_ eq. 3


def molecule_part(separation_deg: npt.ArrayLike) -> Floats:
    """Scattering by molecules at an angle from the Moon, first term of f. [nanolambert per footcandle].

    Parameters
    ----------
    separation_deg : array_like
        Any shape. [deg]

    Examples
    --------
    >>> f"{molecule_part(90.0):.4g}"
    '2.428e+05'
    """
    cosine = np.cos(np.radians(np.asarray(separation_deg, dtype=np.float64)))
    return 10**5.36 * (1.06 + cosine**2)  # [krisciunas]_ eq. 21


def dust_part(separation_deg: npt.ArrayLike) -> Floats:
    """Scattering by dust at an angle from the Moon, second term of f. [nanolambert per footcandle].

    Parameters
    ----------
    separation_deg : array_like
        Above 0, any shape. [deg]

    Notes
    -----
    Within 10 degrees of the Moon it is 6.2e7 over the angle squared, a branch that is from memory and meets the other
    one with a step of 22 %.

    Examples
    --------
    >>> f"{dust_part(90.0):.3g}"
    '7.94e+03'
    """
    rho = np.asarray(separation_deg, dtype=np.float64)
    with np.errstate(divide="ignore"):
        near = 6.2e7 * rho**-2.0
    return np.where(rho < NEAR_DEG, near, 10 ** (6.15 - rho / 40))  # [krisciunas]_ eq. 21


def moonlight_nl(
    phase_deg: npt.ArrayLike,
    separation_deg: npt.ArrayLike,
    moon_altitude_deg: npt.ArrayLike,
    target_altitude_deg: npt.ArrayLike,
    k: npt.ArrayLike,
) -> Floats:
    r"""What moonlight alone adds to the sky in V [krisciunas]_.

    .. math:: B = f(\rho)\,I^*\,10^{-0.4\,k X_\mathrm{Moon}}\,\left(1 - 10^{-0.4\,k X}\right)

    Parameters
    ----------
    phase_deg : array_like
        As in :func:`moon_magnitude`; all arguments broadcast. [deg]
    separation_deg : array_like
        Between Moon and target. [deg]
    moon_altitude_deg, target_altitude_deg : array_like
        Above the horizon. [deg]
    k : array_like
        Extinction in V. [mag/airmass]

    Returns
    -------
    ndarray
        0 where the Moon is at or below the horizon, NaN where the target is. [nanolambert]

    Examples
    --------
    A Moon half way from full to quarter, 20 degrees up, over a target 70 degrees up:

    >>> from expocalc.light.reading import v_of_nanolambert
    >>> round(v_of_nanolambert(moonlight_nl(45, 50, 20, 70, 0.15)), 3)
    19.855
    """
    f = molecule_part(separation_deg) + dust_part(separation_deg)
    moon_up, target_up = np.asarray(moon_altitude_deg) > 0, np.asarray(target_altitude_deg) > 0
    arriving = 10 ** (-0.4 * np.multiply(k, scattering_airmass(moon_altitude_deg)))
    scattered = 1 - 10 ** (-0.4 * np.multiply(k, scattering_airmass(target_altitude_deg)))
    light = f * moon_footcandle(phase_deg) * arriving * scattered  # [krisciunas]_ eq. 15
    return np.where(target_up, np.where(moon_up, light, 0.0), np.nan)


def dark_sky_nl(zenith_nl: npt.ArrayLike, altitude_deg: npt.ArrayLike, k: npt.ArrayLike) -> Floats:
    """Moonless natural sky away from the zenith [krisciunas]_: airglow over more air. [nanolambert].

    Parameters
    ----------
    zenith_nl : array_like
        Moonless zenith, 79 nL on Mauna Kea. [nanolambert]
    altitude_deg : array_like
        [deg]
    k : array_like
        Extinction in V. [mag/airmass]

    Examples
    --------
    >>> round(float(dark_sky_nl(79.0, 90.0, 0.172)), 1)
    79.0
    """
    x = scattering_airmass(altitude_deg)
    return np.asarray(np.multiply(zenith_nl, 10 ** (-0.4 * np.multiply(k, x - 1)) * x))  # [krisciunas]_ eq. 2


def phase_angle_deg(illuminated: npt.ArrayLike) -> Floats:
    """Phase angle from the lit share of the Moon's disc. [deg].

    Parameters
    ----------
    illuminated : array_like
        0 at new Moon to 1 at full Moon, any shape. [-]

    Examples
    --------
    >>> phase_angle_deg([1.0, 0.5, 0.0])
    array([  0.,  90., 180.])
    """
    return np.degrees(np.arccos(2 * np.asarray(illuminated, dtype=np.float64) - 1))


@dataclass(frozen=True, kw_only=True, eq=False)
class Moon(Noun):
    """Where the Moon stands, seen from the target, and how full it is.

    Exactly one of the first two fields is given.

    Raises
    ------
    TypeError, ValueError
        If neither or both of the first two are given, or a field has no unit or is out of range.

    Examples
    --------
    >>> round(Moon(illuminated=0.5, altitude="45 deg", separation="60 deg").phase_deg, 6)
    90.0
    """

    illuminated: float | None = number(
        None,
        minimum=0,
        maximum=1,
        example="0.5",
        meaning="Lit share of the Moon's disc, 1 at full Moon; this or the phase angle is needed.",
        origin="an almanac",
    )
    phase_angle: u.Quantity | None = measure(
        "deg",
        None,
        minimum=0,
        maximum=180,
        example='"45 deg"',
        meaning="Angle between Sun and Earth seen from the Moon: 0 at full Moon, 90 at the quarters, 180 at new Moon.",
        origin="an almanac",
        advanced=True,
    )
    altitude: u.Quantity = measure(
        "deg",
        minimum=-90,
        maximum=90,
        example='"45 deg"',
        meaning="Height of the Moon; below the horizon it gives no light here, although its twilight does.",
        origin="an almanac",
    )
    separation: u.Quantity = measure(
        "deg",
        minimum=CLOSEST_DEG,
        maximum=180,
        example='"60 deg"',
        meaning="Angle between the Moon and the target.",
        origin="an almanac",
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if (self.illuminated is None) == (self.phase_angle is None):
            got = "neither" if self.illuminated is None else "both"
            msg = f"Moon must have one of illuminated and phase_angle, got {got}; write it like illuminated = 0.5"
            raise ValueError(msg)

    @property
    def phase_deg(self) -> float:
        """Phase angle. [deg]"""
        if self.phase_angle is not None:
            return float(self.phase_angle.value)
        return float(phase_angle_deg(self.illuminated or 0.0))


def _check_place(moon: Moon, target_altitude_deg: float) -> None:
    altitude, separation = float(moon.altitude.value), float(moon.separation.value)
    least, most = abs(altitude - target_altitude_deg), 180 - abs(altitude + target_altitude_deg)
    if not least - _SLACK_DEG <= separation <= most + _SLACK_DEG:
        msg = (
            f"separation must be {least:.0f} to {most:.0f} deg for a Moon {altitude:g} deg up and a target "
            f"{target_altitude_deg:g} deg up, got {separation:g} deg"
        )
        raise ValueError(msg)


def moon_spectrum(moon: Moon, target_altitude_deg: float, k: float) -> Spectrum:
    """Moonlight on the sky at the target, as observed. [photon s-1 cm-2 nm-1 arcsec-2].

    Parameters
    ----------
    moon : Moon
    target_altitude_deg : float
        Above 0, at most 90. [deg]
    k : float
        Extinction in V, for example ``sky.extinction_curve()(550)``. [mag/airmass]

    Returns
    -------
    Spectrum
        No lines beside it, Fraunhofer's are in the continuum; nothing where the Moon is below the horizon.

    Raises
    ------
    ValueError
        If the target is not above the horizon, or no place on the sky has this separation at these altitudes.

    Notes
    -----
    In V the model of 1991, :func:`moonlight_nl`. In other colours an assumption, see the head of this module; from
    green to 900 nm it agrees with a survey's moonlit skies within a quarter.

    Examples
    --------
    The full Moon's sky in V, and bluer than the Sun, whose B - V is 0.65:

    >>> light = moon_spectrum(Moon(illuminated=1, altitude="45 deg", separation="60 deg"), 55.0, 0.2)
    >>> round(vega_magnitude(light, "bessell-V"), 2)
    18.35
    >>> vega_magnitude(light, "bessell-B") - vega_magnitude(light, "bessell-V") < 0.65
    True
    """
    if not 0 < target_altitude_deg <= 90:
        msg = f"target altitude must be above 0 and at most 90 deg, got {target_altitude_deg:g} deg"
        raise ValueError(msg)
    _check_place(moon, target_altitude_deg)
    separation_deg, altitude_deg = float(moon.separation.value), float(moon.altitude.value)
    nl = float(moonlight_nl(moon.phase_deg, separation_deg, altitude_deg, target_altitude_deg, k))
    if nl == 0:
        return Spectrum(Curve.constant(0.0))
    unscaled = _colour(float(molecule_part(separation_deg)), float(dust_part(separation_deg)))
    return unscaled * 10 ** (-0.4 * (v_of_nanolambert(nl) - vega_magnitude(unscaled, "bessell-V")))


def _colour(molecules: float, dust: float) -> Spectrum:
    """Moonlight scattered by molecules and dust in these shares of V, unscaled."""
    sun = sun_photons()
    relative = sun.wavelength_nm / V_NM
    scattered = molecules * relative**MOLECULE_SLOPE + dust * relative**DUST_SLOPE
    return Spectrum(Curve(sun.wavelength_nm, sun.value * relative**REFLECTANCE_SLOPE * scattered))


def moon_factor(sky: Sky, response: Curve, moonlight: Spectrum, altitude_deg: float = 90.0) -> float:
    """How many times more light of the sky a response gets with the Moon than without it. [-].

    Parameters
    ----------
    sky : Sky
        Solved from a reading without the Moon.
    response : Curve
        As in :meth:`expocalc.light.sky.Sky.through`, for one filter and colour.
    moonlight : Spectrum
        Of :func:`moon_spectrum`, for the same altitude.
    altitude_deg : float
        Of the target, for the sky's own gradient. [deg]

    Examples
    --------
    A full Moon at a dark place: O III gets more of it than H-alpha.

    >>> sky = Sky(zenith_brightness="21.5 mag/arcsec2")
    >>> light = moon_spectrum(Moon(illuminated=1, altitude="45 deg", separation="60 deg"), 55.0, 0.2)
    >>> oiii, halpha = Curve.boxes([(498, 503)], [0.9]), Curve.boxes([(654, 659)], [0.9])
    >>> moon_factor(sky, oiii, light) > moon_factor(sky, halpha, light) > 1
    True
    """
    dark = sky.through(response) * sky.factor_at(altitude_deg)
    return float(1 + moonlight.through(response) / dark)
