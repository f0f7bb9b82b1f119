"""A faint shell of gas and some stars on the rig's camera: subs, stacks, and the SNR measured on them. All made up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_number
from expocalc.frames.simulate.detector import Detector, even_detector
from expocalc.frames.simulate.scene import Mask, Scene, star_shares
from expocalc.frames.simulate.stack import stacks_of
from workbook.workshop.experiments.outcome import compared, tiles_of
from workbook.workshop.experiments.rig import SIDE_PX, Rig

__all__ = [
    "PIXELS",
    "Shot",
    "Sight",
    "detector_of",
    "limits_e",
    "shoot",
    "sight",
    "snrs",
    "stacks",
    "under_each_sky",
]

PIXELS = 128
_OUTER, _INNER, _CENTRE = 46.0, 27.0, (66.0, 60.0)
_STARS = (
    (12, 20, 0.5), (20, 101, 2.0), (31, 58, 0.2), (44, 117, 0.3), (52, 12, 6.0), (58, 66, 0.4), (71, 48, 0.15),
    (77, 92, 0.8), (88, 121, 0.25), (97, 30, 1.2), (104, 74, 0.3), (113, 109, 12.0), (117, 51, 0.4), (121, 9, 0.6),
)  # fmt: skip
"""Row, column, and light in electrons per second for each star of the experiments: made up."""
_DIM = 1e-5
"""A star's light below this counts as none. [electron s-1]"""


@lru_cache(maxsize=16)
def _ring(pixels: int) -> Floats:
    """Share of the shell's light in each pixel: 1 inside the ring, 0 outside, softened over a pixel at its rims."""
    times = pixels / PIXELS
    down, across = np.ogrid[:pixels, :pixels]
    away = np.hypot(down - _CENTRE[0] * times, across - _CENTRE[1] * times)
    return np.clip(_OUTER * times + 0.5 - away, 0, 1) * np.clip(away - _INNER * times + 0.5, 0, 1)


@lru_cache(maxsize=16)
def _stars(pixels: int, fwhm_px: float) -> Floats:
    """Light of the stars. [electron s-1]"""
    rows, columns, light = np.array(_STARS).T
    times = pixels / PIXELS
    down, across = (star_shares(at * times, pixels, fwhm_px) for at in (rows, columns))
    return (down * light[:, None]).T @ across


@dataclass(frozen=True, kw_only=True, eq=False)
class Sight:
    """A scene with the shell on it, and where to measure.

    Attributes
    ----------
    scene : Scene
    shell, sky : ndarray of bool
        Where there is the even shell alone, and where there is sky alone.
    """

    scene: Scene
    shell: Mask
    sky: Mask

    def signal_e(self, picture: Floats) -> float:
        """Mean of the shell over the sky. [unit of the picture]"""
        return float(picture[self.shell].mean() - picture[self.sky].mean())

    def snr(self, picture: Floats, side_px: float = SIDE_PX) -> float:
        """SNR of a square of the shell, as measured: the mean of all of the shell, over the grain in it."""
        return self.signal_e(picture) / float(picture[self.shell].std(ddof=1)) * side_px

    def snr_sigma(self, snr: float, side_px: float = SIDE_PX) -> float:
        """Standard error of a measured SNR: of the two means, and of the grain."""
        shell, sky = int(self.shell.sum()), int(self.sky.sum())
        return math.hypot(side_px * math.sqrt(1 / shell + 1 / sky), snr / math.sqrt(2 * shell))


@lru_cache(maxsize=16)
def _places(pixels: int, fwhm_px: float) -> tuple[Mask, Mask]:
    ring, away = _ring(pixels), _stars(pixels, fwhm_px) < _DIM
    return (ring == 1) & away, (ring == 0) & away


@lru_cache(maxsize=32)
def sight(rig: Rig, pixels: int = PIXELS, star_times: float = 1.0) -> Sight:
    """The shell and the stars in the light of a rig.

    Parameters
    ----------
    rig : Rig
    pixels : int, optional
        Side of the picture, whose field stays the same.
    star_times : float, optional
        Times the stars' light; 0 for none.
    """
    shell, sky = _places(pixels, rig.fwhm_px)
    light = rig.sky_e_s + rig.target_e_s * _ring(pixels) + star_times * _stars(pixels, rig.fwhm_px)
    colour = np.zeros(light.shape, dtype=np.intp)
    return Sight(
        scene=Scene(colours=("mono",), colour=colour, light_e_s=light, patch=shell, clear=sky),
        shell=shell,
        sky=sky,
    )


def detector_of(rig: Rig, pixels: int = PIXELS) -> Detector:
    """A camera chip whose pixels are all alike."""
    return even_detector(rig.setting, rig.dark_e_s, (pixels, pixels))


def stacks(
    rig: Rig, sub_s: float, subs: Sequence[int], seed: int, pixels: int = PIXELS, star_times: float = 1.0
) -> tuple[Sight, Floats]:
    """Pictures of ever more subs of the shell, in electrons per sub."""
    seen = sight(rig, pixels, star_times)
    return seen, stacks_of(seen.scene, detector_of(rig, pixels), sub_s, subs, np.random.default_rng(seed))


@dataclass(frozen=True, kw_only=True, eq=False)
class Shot:
    """A stack of the shell: its picture, the SNR that the plan's formula gives it, and the SNR measured on it.

    Attributes
    ----------
    picture : ndarray
        Mean of the subs. [electron per sub]
    planned, measured, sigma : float
        SNR of the square, and the standard error of the measured one.
    """

    sight: Sight
    picture: Floats
    planned: float
    measured: float
    sigma: float


def shoot(
    rig: Rig, sub_s: float, subs: Sequence[int], seed: int, pixels: int = PIXELS, side_px: float = SIDE_PX,
    star_times: float = 1.0,
) -> list[Shot]:  # fmt: skip
    """Stacks of ever more subs, measured.

    Parameters
    ----------
    rig : Rig
    sub_s : float
        [s]
    subs : sequence of int
        Increasing; each stack holds the subs of those before it.
    seed : int
        The same seed gives the same pictures.
    pixels : int, optional
        Side of the pictures.
    side_px : float, optional
        Side of the square whose SNR is told. [pixel]
    star_times : float, optional
    """
    seen, pictures = stacks(rig, sub_s, subs, seed, pixels, star_times)
    found = []
    for picture, count in zip(pictures, subs, strict=True):
        planned = rig.snr(sub_s, count, side_px)
        found.append(
            Shot(
                sight=seen,
                picture=picture,
                planned=planned,
                measured=seen.snr(picture, side_px),
                sigma=seen.snr_sigma(planned, side_px),
            )
        )
    return found


def snrs(shots: Sequence[Shot]) -> dict[str, tuple[float, ...]]:
    """Planned, measured and sigma of shots, for an outcome."""
    return {name: tuple(getattr(shot, name) for shot in shots) for name in ("planned", "measured", "sigma")}


def limits_e(rig: Rig, sub_s: float, grain_e: float) -> tuple[float, float]:
    """Ends of a stretch around the sky and the shell, for a grain in the middle of what is compared. [electron]"""
    sky_e, shell_e = rig.sky_e_s * sub_s, (rig.sky_e_s + rig.target_e_s) * sub_s
    return sky_e - 2.5 * grain_e, shell_e + 3.5 * grain_e


def under_each_sky(rigs: Sequence[Rig], names: Sequence[str], sub_s: float, hours: float, seed: int) -> dict[str, Any]:
    """Pictures of the shell under several skies, with the table beside them: parts of an outcome.

    Parameters
    ----------
    rigs : sequence of Rig
    names : sequence of str
        What stands under each picture.
    sub_s, hours : float
        [s], [h]
    seed : int
        Of the first; each next one takes the next.

    Notes
    -----
    Each is shown about its own sky, with the contrast that suits the last.
    """
    subs = round(hours * 3600 / sub_s)
    shots = [shoot(rig, sub_s, (subs,), seed + at)[0] for at, rig in enumerate(rigs)]
    first_e = rigs[0].sky_e_s * sub_s
    return {
        "tiles": tiles_of(
            [shot.picture - rig.sky_e_s * sub_s + first_e for shot, rig in zip(shots, rigs, strict=True)],
            limits_e(rigs[0], sub_s, rigs[-1].grain_e(sub_s, subs)),
            list(names),
            [f"the shell, a ring, at SNR {say_number(shot.planned)}" for shot in shots],
        ),
        "table": compared(
            f"SNR of a patch after {hours:g} h",
            "SNR",
            tuple(names),
            **snrs(shots),
            more={"sky, electrons a second": tuple(say_number(rig.sky_e_s, 3) for rig in rigs)},
        ),
        **snrs(shots),
    }
