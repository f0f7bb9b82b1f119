"""The rig of the experiments: the shipped demo plan, in electrons per second.

Every number comes from the plan by the same functions as the panels' answers. The plan that ships is read, not the
reader's copy, so that a whole room gets the same numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache, lru_cache

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.answer import filter_named
from expocalc.budget.noise import shortest_sub_s, sub_variance_e2
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.rates import Rates, rates
from expocalc.budget.reach import subs_for_snr
from expocalc.budget.stack import snr_per_patch
from expocalc.gear.gain import GainSetting
from expocalc.plan import Plan, Where
from workbook.copies import shipped

__all__ = [
    "H_ALPHA",
    "O_III",
    "PERFECT",
    "SIDE_PX",
    "Rig",
    "demo",
    "demo_brightness_r",
    "rig_of",
]

H_ALPHA, O_III = "H-alpha", "O III"
SIDE_PX = 10
"""Side of the patch that experiments speak of, 15 arcsec with the demo plan's telescope. [pixel]"""
PERFECT = Habits()
"""Perfect darks and flats: an experiment changes one thing."""


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
