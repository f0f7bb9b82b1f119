"""The histogram's peak need not stand at one third: past a few per cent only stars are lost."""

from __future__ import annotations

import numpy as np

from expocalc.base.words import say_duration, say_number, say_share
from expocalc.budget.stack import snr_per_patch
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import (
    Chart,
    Experiment,
    Outcome,
    Tile,
    compared,
    curve_grid,
    tiles_of,
)
from workbook.workshop.experiments.rig import PERFECT, Rig, limits_e, rig_of, shoot, snrs

__all__ = ["EXPERIMENT", "run", "sub_of_peak_s", "wide_rig"]

HOURS = 3.0
PEAKS = (0.005, 0.02, 0.1)
_SEED = 104
_WIDE_NM = 300
_STAR_TIMES = _WIDE_NM / 5
"""The experiments' stars are meant for a filter 5 nm wide."""


def wide_rig() -> Rig:
    """The demo rig with a filter 300 nm wide, which fills a histogram far sooner than a line's."""
    return rig_of(
        brightness_r=60.0,
        filters__0__passbands__0__width=f"{_WIDE_NM} nm",
        filters__0__passbands__0__centre="560 nm",
    )


def range_e(rig: Rig) -> float:
    """Electrons from the left end of the histogram to its right one. [electron]"""
    return float((2**rig.setting.bits - 1) * rig.setting.electrons_per_adu)


def sub_of_peak_s(rig: Rig, peak: float) -> float:
    """Length of a sub whose sky stands at this share of the way from the bias to the right end. [s]"""
    return peak * range_e(rig) / (rig.sky_e_s + rig.dark_e_s)


def run(peak_percent: float) -> Outcome:
    """Three hours with the peak of the histogram here, and further left."""
    rig = wide_rig()
    peaks = (*PEAKS, peak_percent / 100)
    subs_s = [sub_of_peak_s(rig, peak) for peak in peaks]
    counts = [max(1, round(HOURS * 3600 / sub_s)) for sub_s in subs_s]
    shots = [
        shoot(rig, sub_s, (count,), _SEED, star_times=_STAR_TIMES)[0]
        for sub_s, count in zip(subs_s, counts, strict=True)
    ]
    full = [
        shot.picture + rig.dark_e_s * sub_s >= rig.setting.saturation_e * 0.98
        for shot, sub_s in zip(shots, subs_s, strict=True)
    ]
    tiles = tiles_of(
        [shot.picture / sub_s for shot, sub_s in zip(shots, subs_s, strict=True)],
        limits_e(rig, 1.0, 1.5 * rig.grain_e(subs_s[2], counts[2]) / subs_s[2]),
        [
            f"Peak at {say_share(peak)}: {n} × {say_duration(sub_s)}, {int(f.sum())} full pixels"
            for peak, n, sub_s, f in zip(peaks, counts, subs_s, full, strict=True)
        ],
        [
            f"the shell at SNR {say_number(shot.planned)}; {int(f.sum())} pixels are full"
            for shot, f in zip(shots, full, strict=True)
        ],
    )
    here, early = shots[-1].planned, shots[1].planned
    line = curve_grid(1, 1800)
    return Outcome(
        takeaway=(
            f"With the peak at {say_share(peaks[1])} of the range the SNR is {say_number(early, 3)}; at "
            f"{say_share(peaks[-1])} it is {say_number(here, 3)}. In between nothing is won but full pixels: "
            f"{int(full[1].sum())} became {int(full[-1].sum())}."
        ),
        basis=(
            f"{HOURS:g} h through a filter {_WIDE_NM} nm wide, demo plan. Full pixels, marked by "
            "orange, are stars whose "
            "middles hold no more light."
        ),
        tiles=tuple(
            Tile(brightness=tile.brightness, words=tile.words, describes=tile.describes, full=one)
            for tile, one in zip(tiles, full, strict=True)
        ),
        table=compared(
            f"SNR of a patch after {HOURS:g} h, by where the histogram peaks",
            "SNR",
            tuple(say_share(peak) for peak in peaks),
            **snrs(shots),
            more={
                "length of a sub": tuple(say_duration(sub_s) for sub_s in subs_s),
                "full pixels": tuple(str(int(one.sum())) for one in full),
            },
        ),
        **snrs(shots),
        chart=Chart(
            title=f"SNR after {HOURS:g} h, for each length of sub",
            x_label="length of one sub, seconds",
            y_label="SNR of the patch",
            describes="SNR climbs steeply for the first seconds and is level long before the peak stands at a third.",
            x=line,
            curves={"this camera": np.asarray(snr_per_patch(rig.patch(line), PERFECT, HOURS * 3600 / line))},
            points=tuple(zip(subs_s, (shot.measured for shot in shots), strict=True)),
        ),
    )


EXPERIMENT = Experiment(
    belief="“The peak of the histogram must stand at one third.”",
    does=(
        f"{HOURS:g} hours in subs whose sky stands at 0.5 %, 2 % and 10 % of the range, and at a place of your choice."
    ),
    dials={
        "peak_percent": Dial(label="Peak stands at", unit="%", low=1, high=60, step=1, example="33", start=33),
    },
    run=run,
)
