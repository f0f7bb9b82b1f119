r"""H-alpha brightness of any place on the sky, averaged over one degree.

The table is the WHAM Sky Survey, release DR1 (161116), read from whampy 1.0.4 (BSD-3-Clause) and reduced to the
beams' places, rounded to 0.01 deg, their H-alpha intensities from -80 to +80 km/s and the errors of these.
`halpha_survey.npz` holds the same words in its array `header`.

References
----------
.. [haffner] Haffner, L. M., Reynolds, R. J., Tufte, S. L., Madsen, G. J., Jaehnig, K. P. & Percival, J. W. 2003,
   ApJS 149, 405: the northern survey. The header of the table names Haffner, Reynolds, Madsen et al. 2017 for the
   whole sky.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.table import DATA
from expocalc.base.words import say_number, say_span
from expocalc.light.position import read_declination, read_right_ascension

__all__ = ["ACKNOWLEDGEMENT", "SOURCE", "Survey", "SurveyValue", "halpha_brightness", "read_survey"]

SOURCE = "WHAM Sky Survey DR1 161116 (Haffner et al. 2003, ApJS 149, 405), from whampy 1.0.4, BSD-3-Clause"

ACKNOWLEDGEMENT = (
    "The Wisconsin H-Alpha Mapper and its Sky Survey have been funded primarily through awards from the U.S. National "
    "Science Foundation."
)
"""What the survey asks to be said where its data are cited, in its own words."""

REACH_DEG = 1.0
"""How far the nearest beam's middle may be: the width of a beam. [deg]"""


@dataclass(frozen=True, kw_only=True)
class SurveyValue:
    """What the survey says of one place: its nearest beam, and the beams around it.

    Attributes
    ----------
    rayleigh : float
        Nearest beam; noise may bring it below 0. [R]
    error_r : float or None
        Measurement error of that beam, without calibration and removal of the air's own lines; None for a beam that a
        bright star spoilt and whose value is the mean of its neighbours. [R]
    distance_deg : float
        From the place to the middle of the nearest beam, which is 0.5 deg in radius. [deg]
    lowest_r, highest_r : float
        Extremes of the beams whose middles are within 1 deg. [R]
    beams : int
        How many these are.
    """

    rayleigh: float
    error_r: float | None
    distance_deg: float
    lowest_r: float
    highest_r: float
    beams: int

    @property
    def doubt(self) -> float:
        """Factor of one standard deviation of a spot inside the beam, at least 1.25.

        The measurement's error and the spread of the beams around, which stands for what a beam of a degree smooths
        away; a beam that a star spoilt is worth a factor of two at best.
        """
        level = max(self.rayleigh, 0.1)
        of_beams = math.log(max(self.highest_r, 0.1) / max(self.lowest_r, 0.1)) / 2.563
        of_error = math.log(2.0) if self.error_r is None else self.error_r / level
        return max(1.25, math.exp(min(math.hypot(of_beams, of_error), math.log(100))))

    def light(self) -> dict[str, Any]:
        """Item of a plan's list of light, with its doubt and no N II, which the survey does not see; at least 0.

        Examples
        --------
        >>> halpha_brightness("79.8 deg", "-68.5 deg").light()["line"]
        'H-alpha'
        """
        return {
            "line": "H-alpha",
            "brightness": f"{max(self.rayleigh, 0.0):.3g} R",
            "doubt": float(f"{self.doubt:.3g}"),
        }

    @property
    def caution(self) -> str:
        """What to know before a plan rests on this value."""
        where = f"mean over a beam of one degree, {say_number(self.distance_deg)} deg from the place"
        if self.distance_deg > 0.5:
            where += " and so beside it"
        star = (
            ""
            if self.error_r is not None
            else (" Spoilt here: a bright star lay in this beam, and the value is its neighbours' mean.")
        )
        return (
            f"{where[0].upper()}{where[1:]}: small structure can be much brighter, and the beams within 1 deg read "
            f"{say_span(say_number(self.lowest_r), say_number(self.highest_r))} R.{star} Gas faster than 80 km/s, as "
            "in most other galaxies, isn't in it."
        )

    @property
    def licence(self) -> str:
        """Source and acknowledgement, to be shown with the value."""
        return f'{SOURCE}. "{ACKNOWLEDGEMENT}"'


@dataclass(frozen=True, eq=False)
class Survey:
    """Beams of a survey.

    Parameters
    ----------
    direction : ndarray, shape (n, 3)
        Unit vectors to the beams' middles.
    rayleigh : ndarray, shape (n,)
        [R]
    error_r : ndarray, shape (n,)
        0 where the value is the neighbours' mean. [R]
    """

    direction: Floats
    rayleigh: Floats
    error_r: Floats

    def at(self, right_ascension_deg: float, declination_deg: float) -> SurveyValue:
        """Value at a place. [deg]

        Raises
        ------
        ValueError
            If no beam's middle is within 1 deg.
        """
        place = _direction(np.array([right_ascension_deg]), np.array([declination_deg]))[0]
        cosine = self.direction @ place
        nearest = int(cosine.argmax())
        # The chord, as the arc cosine of a number near 1 loses its digits.
        chord = float(np.linalg.norm(self.direction[nearest] - place))
        distance_deg = math.degrees(2 * math.asin(chord / 2))
        if distance_deg > REACH_DEG:
            msg = (
                f"the position must be within {REACH_DEG:g} deg of a beam of the survey, got "
                f"{right_ascension_deg:g} deg, {declination_deg:g} deg, {distance_deg:.1f} deg from the nearest"
            )
            raise ValueError(msg)
        around = self.rayleigh[cosine >= min(math.cos(math.radians(REACH_DEG)), cosine[nearest])]
        error_r = float(self.error_r[nearest])
        return SurveyValue(
            rayleigh=float(self.rayleigh[nearest]), error_r=error_r if error_r > 0 else None, distance_deg=distance_deg,
            lowest_r=float(around.min()), highest_r=float(around.max()), beams=len(around),
        )  # fmt: skip


def _direction(right_ascension_deg: Floats, declination_deg: Floats) -> Floats:
    ra, dec = np.radians(right_ascension_deg), np.radians(declination_deg)
    return np.column_stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])


@cache
def read_survey(path: Path = DATA / "halpha_survey.npz") -> Survey:
    """Survey from its file; read once per path."""
    with np.load(path, allow_pickle=False) as data:
        direction = _direction(data["right_ascension_cdeg"] / 100, data["declination_cdeg"] / 100)
        return Survey(direction, data["intensity_r"].astype(float), data["error_r"].astype(float))


def halpha_brightness(right_ascension: Any, declination: Any) -> SurveyValue:
    """H-alpha brightness of a place from the survey's nearest one-degree beam.

    The nearest beam, not the mean of those around: the mean would smear what the survey resolves.

    Parameters
    ----------
    right_ascension : str or astropy.units.Quantity
        J2000: "5h35m" or "83.8 deg".
    declination : str or astropy.units.Quantity
        J2000: "-5d23m" or "-5.4 deg".

    Returns
    -------
    SurveyValue

    Raises
    ------
    TypeError
        If a coordinate is a bare number.
    ValueError, astropy.units.UnitsError
        If a coordinate is no angle or out of range, or no beam is near.

    Examples
    --------
    >>> value = halpha_brightness("4h16m", "-5d00m")
    >>> round(value.rayleigh, 1), round(value.distance_deg, 1)
    (5.1, 0.1)
    >>> halpha_brightness(83.8, "-5d23m")
    Traceback (most recent call last):
    ...
    TypeError: right_ascension needs a unit convertible to deg, got the bare number 83.8; write it like ...
    """
    ra = read_right_ascension("right_ascension", right_ascension)
    dec = read_declination("declination", declination)
    return read_survey().at(float(ra.value), float(dec.value))
