"""A star whose magnitude somebody knows: how much of its light came through the air and the gear."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import astropy.units as u
import numpy as np

from expocalc.budget.case import Case
from expocalc.budget.rates import rates
from expocalc.frames.measure.sub import SubFound
from expocalc.frames.read.header import FrameError
from expocalc.gear.filter import Filter
from expocalc.light.lights import StarLight

__all__ = ["KnownStar", "StarTold", "expected_e_s", "tell_star"]

COLOUR_MAG = 0.3
"""By how much a star's magnitude in a filter differs from its V magnitude, one standard deviation: of the order of the
colours of common stars, from memory."""
_EIGHT_OF_TEN = 1.2816
_NEAR_PX = 8.0


@dataclass(frozen=True, kw_only=True)
class KnownStar:
    """Where it is on the frame, and its V magnitude in a catalogue. [pixel], [mag]"""

    row: float
    column: float
    mag_v: float


@dataclass(frozen=True, kw_only=True)
class StarTold:
    """What came through of a known star's light.

    Attributes
    ----------
    row, column : float
        Where it was found. [pixel]
    light_e_s, expected_e_s : float
        Measured, and by the plan's aperture, optics, filter, sensor and clear air. [electron s-1]
    low, high : float
        Shares between which eight clear skies in ten lie, by the star's unknown colour and the doubt of the gear. [-]
    """

    row: float
    column: float
    light_e_s: float
    expected_e_s: float
    low: float
    high: float

    @property
    def share(self) -> float:
        """Measured over expected. [-]"""
        return self.light_e_s / self.expected_e_s

    @property
    def dimmed(self) -> bool:
        """Whether less came through than star and gear can be off by."""
        return self.share < self.low


def expected_e_s(case: Case, filter_: Filter, mag_v: float) -> float:
    """What the plan's gear should catch of a star through clear air; on a mosaic, were all pixels green. [electron s-1]

    Parameters
    ----------
    case : Case
        Looking where the sub looked.
    filter_ : Filter
    mag_v : float
        Of a star flat in F_nu. [mag, Vega]
    """
    light = StarLight(star=mag_v * u.mag, system="Vega", band="bessell-V")
    alone = dataclasses.replace(
        case.seen(target=dataclasses.replace(case.target, light=(light,))),
        goal=dataclasses.replace(case.goal, unsaturated_star=None),
    )
    rate = rates(alone, dataclasses.replace(filter_, wanted=None))
    colour = rate.colours.index("G") if "G" in rate.colours else 0
    return float(rate.stars["star"][colour]) if "star" in rate.stars else 0.0


def tell_star(found: SubFound, case: Case, filter_: Filter, star: KnownStar) -> StarTold:
    """Light of a known star beside the plan's.

    Parameters
    ----------
    found : SubFound
    case : Case
        Looking where the sub looked.
    filter_ : Filter
    star : KnownStar

    Raises
    ------
    FrameError
        If no star is there, it is full, or the filter passes nothing of it.
    """
    stars = found.stars
    gap = np.hypot(stars.row - star.row, stars.column - star.column)
    at = int(gap.argmin()) if gap.size else -1
    where = f"row {star.row:g}, column {star.column:g} of {found.frame.name}"
    if at < 0 or gap[at] > _NEAR_PX:
        nearest = f"; the nearest is at row {stars.row[at]:.0f}, column {stars.column[at]:.0f}" if at >= 0 else ""
        msg = f"no star was found at {where}{nearest}"
        raise FrameError(msg)
    if stars.full[at]:
        msg = f"the star at {where} is full: its light can't be told; take a fainter one"
        raise FrameError(msg)
    expected = expected_e_s(case, filter_, star.mag_v)
    if not expected > 0:
        msg = f"{filter_.shown_name} passes none of a star's light"
        raise FrameError(msg)
    error = math.hypot(0.4 * math.log(10) * COLOUR_MAG, math.log(case.doubt.efficiency))
    return StarTold(
        row=float(stars.row[at]), column=float(stars.column[at]),
        light_e_s=float(stars.flux_adu[at]) * found.gain.electrons_per_adu / found.exposure_s, expected_e_s=expected,
        low=math.exp(-_EIGHT_OF_TEN * error), high=math.exp(_EIGHT_OF_TEN * error),
    )  # fmt: skip
