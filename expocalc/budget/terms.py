"""What the answer takes of a camera, a routine and a goal: plain numbers, or arrays of them that broadcast."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from expocalc.budget.case import Case
from expocalc.budget.mount import longest_held_s

__all__ = ["Terms", "terms_of"]

_GIGABYTE = 1e9


class Terms(NamedTuple):
    """Numbers beside the rates and the way of stacking; numbers, or arrays without colour axis that broadcast.

    Attributes
    ----------
    snr, noise_growth, sky_share : array_like
        The goal's. [-]
    sub_s : array_like
        Length that the plan sets; NaN where it is to be found. [s]
    mount_s : array_like
        Longest sub that the mount holds, infinite where it is not the limit. [s]
    dead_s : array_like
        Dead time per sub, its share of a dither included. [s]
    lost_per_hour, lost_at_dither : array_like
        As in :func:`expocalc.budget.clock.kept_share`.
    read_variance_e2, quantisation_e2 : array_like
        All that reading adds to a pixel, and the part of it that the converter's steps add. [electron2]
    saturation_e : array_like
        Electrons that fill the well or the converter. [electron]
    electrons_per_adu : array_like
    bias_adu : array_like
        NaN where the plan has none. [ADU]
    frame_gb : array_like
        Size of one sub on the disk, 10^9 bytes.
    """

    snr: Any
    noise_growth: Any
    sky_share: Any
    sub_s: Any
    mount_s: Any
    dead_s: Any
    lost_per_hour: Any
    lost_at_dither: Any
    read_variance_e2: Any
    quantisation_e2: Any
    saturation_e: Any
    electrons_per_adu: Any
    bias_adu: Any
    frame_gb: Any


def terms_of(case: Case) -> Terms:
    """Terms of one case."""
    camera, routine, goal = case.camera, case.routine, case.goal
    setting = camera.setting
    stored_bytes = next(count for count in (1, 2, 4) if setting.bits <= 8 * count)
    return Terms(
        snr=goal.snr,
        noise_growth=goal.noise_growth,
        sky_share=goal.sky_share_of_well,
        sub_s=math.nan if routine.sub_s is None else routine.sub_s,
        mount_s=longest_held_s(case),
        dead_s=routine.dead_s,
        lost_per_hour=routine.lost_per_hour,
        lost_at_dither=routine.lost_at_dither,
        read_variance_e2=setting.read_variance_e2,
        quantisation_e2=setting.quantisation_variance_e2,
        saturation_e=setting.saturation_e,
        electrons_per_adu=setting.electrons_per_adu,
        bias_adu=math.nan if setting.bias_level is None else setting.bias_level,
        frame_gb=camera.columns * camera.rows * stored_bytes / _GIGABYTE,
    )
