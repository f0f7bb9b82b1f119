"""The routine of a night, the goal, and what the routine makes of clock hours."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from expocalc.base.noun import Noun, choice, field_of, measure, number, whole
from expocalc.base.quantity import read_quantity
from expocalc.budget.counts import Count, read_counts

__all__ = ["Goal", "Routine", "clock_s", "kept_share"]

LONGEST_SUB_S = 86400.0


def _read_sub(name: str, value: Any) -> float | None:
    """Length in seconds, or None for "auto"."""
    if value is None or value == "auto":
        return None
    return read_quantity(name, value, "s", above=0, maximum=LONGEST_SUB_S, example='"180 s" or "auto"')


@dataclass(frozen=True, eq=False, kw_only=True)
class Routine(Noun):
    """How the subs are taken, and what is lost.

    Parameters
    ----------
    sub_length : Quantity or str
        A length, or "auto" (kept as None) for the best one. [s]
    longest_sub : Quantity or str, optional
        What the mount holds; left out where it is not the limit. [s]
    guiding : Quantity or str
        Total root-mean-square error of guiding, both axes together. [arcsec]
    dead_time : Quantity or str
        Between two subs: reading, saving. [s]
    dither_every : int, optional
        Subs between two dithers; left out where there is no dither.
    dither_time : Quantity or str
        One dither, with settling. [s]
    dither_size : Quantity or str
        Side of the box of offsets. [pixel]
    lost_per_dither : float
        Share of the subs after a dither that it spoils.
    lost_per_hour : float
        Spoiling events per hour of open shutter: a sub of length t survives with exp(-lost_per_hour t).
    stacking : str
        "mean", "clipped mean" or "median".
    clip : float
        Standard deviations beyond which the clipped mean rejects.
    darks, flats, biases : int, optional
        Frames of each kind; left out where the calibration is taken as perfect.
    flat_level : float
        Level of a flat, as a share of the full well.
    background_flatness : float, optional
        Error of the background at the target's scale, as a share of it.
    background_patch : Quantity or str, optional
        Side of the square that tells the background. [arcsec]
    counts : sequence of Count or mapping
        Sessions from which the losses can be learned.

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit, or is out of range.

    Examples
    --------
    >>> Routine(longest_sub="5 min").longest_sub
    <Quantity 300. s>
    """

    sub_length: float | None = field_of(_read_sub, "auto")
    longest_sub: Any = measure("s", None, above=0, maximum=LONGEST_SUB_S, example='"300 s"')
    guiding: Any = measure("arcsec", "0 arcsec", minimum=0, maximum=60, example='"0.8 arcsec"')
    dead_time: Any = measure("s", "0 s", minimum=0, maximum=3600, example='"2 s"')
    dither_every: int | None = whole(None, minimum=1, maximum=10_000, example="2")
    dither_time: Any = measure("s", "0 s", minimum=0, maximum=3600, example='"18 s"')
    dither_size: Any = measure("pixel", "10 pixel", minimum=0, maximum=2000, example='"10 pixel"')
    lost_per_dither: float = number(0.0, minimum=0, below=1, example="0.04")
    lost_per_hour: float = number(0.0, minimum=0, maximum=1000, example="0.2")
    stacking: str = choice(("mean", "clipped mean", "median"), "mean")
    clip: float = number(3.0, minimum=1.5, maximum=10, example="3.0")
    darks: int | None = whole(None, minimum=1, maximum=100_000, example="30")
    flats: int | None = whole(None, minimum=1, maximum=100_000, example="30")
    flat_level: float = number(0.5, above=0, maximum=1, example="0.4")
    biases: int | None = whole(None, minimum=1, maximum=100_000, example="50")
    background_flatness: float | None = number(None, above=0, below=1, example="0.002")
    background_patch: Any = measure("arcsec", None, above=0, maximum=360_000, example='"60 arcsec"')
    counts: tuple[Count, ...] = field_of(read_counts, ())

    @property
    def dead_s(self) -> float:
        """Dead time per sub, its share of a dither included. [s]"""
        dither = self.dither_time.value / self.dither_every if self.dither_every else 0.0
        return float(self.dead_time.value + dither)

    @property
    def lost_at_dither(self) -> float:
        """Share of all subs that dithers spoil. [-]"""
        return self.lost_per_dither / self.dither_every if self.dither_every else 0.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Goal(Noun):
    """What the picture has to show.

    Parameters
    ----------
    snr : float
        Signal over noise in the target's patch.
    noise_growth : float
        What read noise may add to the noise: 0.05 is 5 %, which is 10 % of hours.
    unsaturated_star : Quantity or str, optional
        AB magnitude of the brightest star that must not fill the well. [mag]
    sky_share_of_well : float
        Largest share of the well that sky and dark may fill.

    Raises
    ------
    TypeError, ValueError
        If a field has the wrong kind of unit or is out of range.

    Examples
    --------
    >>> Goal(snr="12,5").snr
    12.5
    """

    snr: float = number(10.0, above=0, maximum=1e6, example="10")
    noise_growth: float = number(0.05, above=0, maximum=10, example="0.05")
    unsaturated_star: Any = measure("mag", None, minimum=-30, maximum=40, example='"9 mag"')
    sky_share_of_well: float = number(0.2, above=0, maximum=1, example="0.2")


def kept_share(sub_s: npt.ArrayLike, lost_per_hour: float, lost_at_dither: npt.ArrayLike) -> Any:
    """Share of the subs that survive.

    Parameters
    ----------
    sub_s : array_like
        Length of the sub. [s]
    lost_per_hour : float
        Spoiling events per hour of open shutter. [h-1]
    lost_at_dither : array_like
        Share of all subs that dithers spoil. [-]

    Returns
    -------
    share : float or ndarray
        Broadcast shape. [-]

    Notes
    -----
    Spoiling events come at random (Poisson); a sub survives if none falls into it.

    Examples
    --------
    >>> round(float(kept_share(1800.0, 0.2, 0.0)), 4)
    0.9048
    """
    return np.exp(np.multiply(-lost_per_hour / 3600, sub_s)) * (1 - np.asarray(lost_at_dither))


def clock_s(shot: float, sub_s: float, routine: Routine) -> float:
    """Time on the clock for `shot` subs. [s]

    Examples
    --------
    >>> clock_s(10, 60.0, Routine(dead_time="2 s", dither_every=5, dither_time="20 s"))
    660.0
    """
    return shot * (sub_s + routine.dead_s) if math.isfinite(shot) else math.inf
