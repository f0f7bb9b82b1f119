"""The Moon of a plan, and the moonlight that it puts before the target."""

from __future__ import annotations

import astropy.units as u

from expocalc.base.curve import Curve, Spectrum
from expocalc.base.noun import Noun, measure, number
from expocalc.light.moon_colour import moonlight_parts, scattered_sunlight
from expocalc.light.moonlight import phase_angle_deg
from expocalc.light.sky import Sky

__all__ = ["Moon", "check_place", "moon_factor", "moon_spectrum"]

CLOSEST_DEG = 1.0
_SLACK_DEG = 0.5  # of angles that people round and that refraction lifts


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


def check_place(moon: Moon, target_altitude_deg: float) -> None:
    """Refuse a target below the horizon, and a separation that no place on the sky has at these altitudes."""
    if not 0 < target_altitude_deg <= 90:
        msg = f"target altitude must be above 0 and at most 90 deg, got {target_altitude_deg:g} deg"
        raise ValueError(msg)
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
    In V the model of 1991, :func:`expocalc.light.moonlight.moonlight_nl`. In other colours an assumption, see
    :mod:`expocalc.light.moon_colour`; from green to 900 nm it agrees with a survey's moonlit skies within a quarter.

    Examples
    --------
    The full Moon's sky in V, and bluer than the Sun, whose B - V is 0.65:

    >>> from expocalc.base.photometry import vega_magnitude
    >>> light = moon_spectrum(Moon(illuminated=1, altitude="45 deg", separation="60 deg"), 55.0, 0.2)
    >>> round(vega_magnitude(light, "bessell-V"), 2)
    18.35
    >>> vega_magnitude(light, "bessell-B") - vega_magnitude(light, "bessell-V") < 0.65
    True
    """
    check_place(moon, target_altitude_deg)
    separation_deg, altitude_deg = float(moon.separation.value), float(moon.altitude.value)
    parts = moonlight_parts(moon.phase_deg, separation_deg, altitude_deg, target_altitude_deg, k)
    molecules, dust = (shape * float(part) for shape, part in zip(scattered_sunlight(), parts, strict=True))
    return molecules + dust


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
