"""The rig of the experiments: the shipped demo plan, in electrons per second, and a faint shell on its camera.

Every number comes from the plan by the same functions as the panels' answers. The shell and the stars are invented.
The plan that ships is read, not the reader's copy, so that a whole room gets the same numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.answer import filter_named
from expocalc.budget.noise import shortest_sub_s, sub_variance_e2
from expocalc.budget.rates import Rates, rates
from expocalc.budget.reach import subs_for_snr
from expocalc.budget.stack import Habits, Patch, snr_per_patch
from expocalc.frames.detector import Detector, even_detector
from expocalc.frames.scene import Mask, Scene, star_shares
from expocalc.frames.stack import stacks_of
from expocalc.gear.camera import GainSetting
from expocalc.plan import Plan, Where
from workbook.copies import shipped

__all__ = [
    "H_ALPHA",
    "O_III",
    "PERFECT",
    "PIXELS",
    "SIDE_PX",
    "Rig",
    "Shot",
    "Sight",
    "demo",
    "demo_brightness_r",
    "detector_of",
    "limits_e",
    "rig_of",
    "shoot",
    "sight",
    "snrs",
    "stacks",
]

H_ALPHA, O_III = "H-alpha", "O III"
PIXELS = 128
SIDE_PX = 10
"""Side of the patch that experiments speak of, 15 arcsec with the demo plan's telescope. [pixel]"""
PERFECT = Habits()
"""Perfect darks and flats: an experiment changes one thing."""
_OUTER, _INNER, _CENTRE = 46.0, 27.0, (66.0, 60.0)
_STARS = (
    (12, 20, 0.5), (20, 101, 2.0), (31, 58, 0.2), (44, 117, 0.3), (52, 12, 6.0), (58, 66, 0.4), (71, 48, 0.15),
    (77, 92, 0.8), (88, 121, 0.25), (97, 30, 1.2), (104, 74, 0.3), (113, 109, 12.0), (117, 51, 0.4), (121, 9, 0.6),
)  # fmt: skip
"""Row, column, and light in electrons per second for each star of the experiments: made up."""
_DIM = 1e-5
"""A star's light below this counts as none. [electron s-1]"""


@cache
def demo() -> Plan:
    """The demo plan as it ships."""
    return Plan.read(shipped() / "plans" / "mono-single-lines.toml")


@dataclass(frozen=True, kw_only=True, eq=False)
class Rig:
    """One filter of a plan: what a pixel collects, and how it is read.

    Attributes
    ----------
    target_e_s, sky_e_s, dark_e_s : float
        In one pixel. [electron s-1]
    setting : GainSetting
    scale_arcsec, fwhm_px : float
        Side of a pixel, and the width of a star. [arcsec], [pixel]
    """

    target_e_s: float
    sky_e_s: float
    dark_e_s: float
    setting: GainSetting
    scale_arcsec: float
    fwhm_px: float

    @property
    def read_e2(self) -> float:
        """Variance by reading once. [electron2]"""
        return float(self.setting.read_variance_e2)

    @property
    def rate_e_s(self) -> float:
        """All that a pixel of the shell collects. [electron s-1]"""
        return self.target_e_s + self.sky_e_s + self.dark_e_s

    def patch(self, sub_s: float | Floats, side_px: float = SIDE_PX) -> Patch:
        """A square of the shell, for the plan's own formulas."""
        return Patch(
            side_px=side_px, sub_s=sub_s, signal_e_s=np.array([self.target_e_s]), light_e_s=np.array([self.sky_e_s]),
            dark_e_s=self.dark_e_s, read_variance_e2=self.read_e2,
        )  # fmt: skip

    def snr(self, sub_s: float, subs: float, side_px: float = SIDE_PX, habits: Habits = PERFECT) -> float:
        """SNR of the square in a stack, by the plan's formula."""
        return float(snr_per_patch(self.patch(sub_s, side_px), habits, subs))

    def hours(self, sub_s: float, snr: float, side_px: float = SIDE_PX) -> float:
        """Hours of light until the square has this SNR. [h]"""
        return float(subs_for_snr(self.patch(sub_s, side_px), PERFECT, snr)) * sub_s / 3600

    def hours_under(self, sub_s: float, snr: float, sky_e_s: Floats, dark_e_s: Floats) -> Floats:
        """The same for many skies and many dark currents, which broadcast. [h]"""
        sky_e_s, dark_e_s = np.broadcast_arrays(sky_e_s, dark_e_s)
        patch = replace(
            self.patch(np.full(sky_e_s.shape, sub_s)), light_e_s=sky_e_s[:, None], dark_e_s=dark_e_s[:, None]
        )
        return np.asarray(subs_for_snr(patch, PERFECT, snr)) * sub_s / 3600

    def grain_e(self, sub_s: float, subs: float, of_shell: bool = False) -> float:
        """Standard deviation of a pixel of the stack, of empty sky or of the shell. [electron]"""
        rate = self.rate_e_s if of_shell else self.sky_e_s + self.dark_e_s
        return math.sqrt(float(sub_variance_e2(rate, sub_s, self.read_e2)) / subs)

    def shortest_sub_s(self, growth: float = 0.05) -> float:
        """Shortest sub in which read noise adds this share to the noise. [s]"""
        return float(shortest_sub_s(self.rate_e_s, self.read_e2, growth))

    def with_target(self, target_e_s: float) -> Rig:
        """The same with another target. [electron s-1]"""
        return replace(self, target_e_s=target_e_s)

    def read_by(self, read_noise_e: float) -> Rig:
        """The same with another read noise. [electron]"""
        return replace(self, setting=setting_like(self.setting, read_noise_e))


@lru_cache(maxsize=64)
def setting_like(setting: GainSetting, read_noise_e: float) -> GainSetting:
    """A gain setting with another read noise, fine steps and room for every number. [electron]"""
    return GainSetting(
        read_noise=f"{read_noise_e!r} electron", electrons_per_adu=setting.electrons_per_adu,
        bias_level=setting.bias_level, full_well=setting.full_well, bits=setting.bits,
    )  # fmt: skip


def _rates(filter_name: str, changes: tuple[tuple[Where, object], ...]) -> tuple[Plan, Rates]:
    plan = demo().with_values(dict(changes)) if changes else demo()
    return plan, rates(plan.case, filter_named(plan.case, filter_name))


def rig_of(light: str = H_ALPHA, brightness_r: float | None = None, **changes: object) -> Rig:
    """One filter of the demo plan, with changes.

    Parameters
    ----------
    light : str
        :data:`H_ALPHA` or :data:`O_III`: the light, and the filter for it.
    brightness_r : float, optional
        Brightness of the light; the plan's by default. [R]
    **changes
        Values of the plan by their place, with two underlines between section and key:
        ``sky__zenith_brightness="21 mag/arcsec2"``.

    Returns
    -------
    Rig

    Examples
    --------
    >>> town, dark = rig_of(), rig_of(sky__zenith_brightness="21.6 mag/arcsec2")
    >>> town.sky_e_s > 5 * dark.sky_e_s, town.target_e_s == dark.target_e_s
    (True, True)
    """
    places = tuple((_place(key), value) for key, value in changes.items())
    return _rig(light, brightness_r, places)


@lru_cache(maxsize=256)
def _rig(light: str, brightness_r: float | None, places: tuple[tuple[Where, object], ...]) -> Rig:
    plan, found = _rates(f"{light} 5 nm", places)
    times = 1.0
    if brightness_r is not None:
        times = brightness_r / demo_brightness_r(light)
    return Rig(
        target_e_s=times * float(found.extended[light][0]),
        sky_e_s=float(found.sky_e_s[0]),
        dark_e_s=float(found.dark_e_s),
        setting=plan.case.camera.setting,
        scale_arcsec=float(found.scale_arcsec),
        fwhm_px=float(found.fwhm_px),
    )


def _place(key: str) -> Where:
    return tuple(int(step) if step.isdigit() else step for step in key.split("__"))


def demo_brightness_r(light: str) -> float:
    """Brightness of a light in the demo plan. [R]"""
    lights = demo().values["target"]["light"]
    return float(str(next(one["brightness"] for one in lights if one["line"] == light)).removesuffix(" R"))


# The shell on the camera


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
