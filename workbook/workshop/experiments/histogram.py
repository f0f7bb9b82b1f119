"""The histogram's peak need not stand at one third: past a few per cent little but full stars is won."""

from __future__ import annotations

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_number, say_share
from expocalc.frames.simulate.scene import Mask
from workbook.workshop.ask import Ask
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
from workbook.workshop.experiments.rig import Rig, rig_of
from workbook.workshop.experiments.shell import limits_e, shoot, snrs

__all__ = ["EXPERIMENT", "run", "sub_of_peak_s", "wide_rig"]

HOURS = 3.0
PEAKS = (0.005, 0.02, 0.1)
THIRD, ALIKE = 1 / 3, 0.01
_REACH_PERCENT, _BINS = (0.1, 100.0), 120
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
            f"Peak at {say_share(peak)}: {n} × {say_duration(sub_s)}, {_count(int(f.sum()))}"
            for peak, n, sub_s, f in zip(peaks, counts, subs_s, full, strict=True)
        ],
        [
            f"the shell at SNR {say_number(shot.planned)}; {_count(int(f.sum()))}"
            for shot, f in zip(shots, full, strict=True)
        ],
    )
    third, here, early = _snr_at(rig, THIRD), shots[-1].planned, shots[1].planned
    won = here / early - 1
    edges = curve_grid(*_REACH_PERCENT, _BINS + 1)
    return Outcome(
        takeaway=(
            f"With the peak at {say_share(peaks[1])} of the range the SNR is {say_number(early, 3)}; at "
            f"{say_share(peaks[-1])} it is {say_number(here, 3)}, {_change(won)}. {_filled(full)}"
        ),
        take_home=(
            f"With this wide filter {_good_enough(rig, third)}. Longer subs win next to nothing after that; they only "
            "fill up stars. A narrow filter lets in far less sky, so its peak stands further left, and its subs must "
            "be far longer."
        ),
        holds=_snr_at(rig, PEAKS[1]) < (1 - ALIKE) * third,
        basis=(
            f"{HOURS:g} h through a filter {_WIDE_NM} nm wide, demo plan. Full pixels, marked by "
            "orange, are stars whose "
            "middles have no room for more light."
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
            title="Histogram of one sub",
            x_label="how full a pixel is, % of the range",
            y_label="pixels, % of the tallest bar",
            describes=(
                "Two narrow peaks, the sky's: one at the dial, one at "
                f"{say_share(PEAKS[1])}; to their right a long low tail of stars."
            ),
            x=np.sqrt(edges[1:] * edges[:-1]),
            curves={
                f"peak at {say_share(PEAKS[1])}": _histogram(rig, subs_s[1], edges),
                "at the dial": _histogram(rig, subs_s[-1], edges),
            },
            log_y=False,
        ),
    )


def _snr_at(rig: Rig, peak: float) -> float:
    sub_s = sub_of_peak_s(rig, peak)
    return rig.snr(sub_s, HOURS * 3600 / sub_s)


def _good_enough(rig: Rig, third: float) -> str:
    """The lowest peak that is as good as a third, in words."""
    low = next(peak for peak in (0.005, 0.01, 0.02, 0.05, 0.1, 0.2, THIRD) if _snr_at(rig, peak) >= (1 - ALIKE) * third)
    return f"a peak at {say_share(low)} gives the SNR of a peak at a third, but for {say_share(ALIKE)}"


def _count(full: int) -> str:
    return f"{full} full pixel{'' if full == 1 else 's'}" if full else "no full pixel"


def _change(won: float) -> str:
    return f"{say_share(abs(won))} {'more' if won > 0 else 'less'}" if abs(won) >= ALIKE else "the same within 1 %"


def _filled(full: list[Mask]) -> str:
    before, after = int(full[1].sum()), int(full[-1].sum())
    if before == after:
        return "No pixel is full in either." if not after else f"Both have {_count(after)}."
    return f"Full pixels, the middles of stars: {before or 'none'} before, {after or 'none'} now."


def _histogram(rig: Rig, sub_s: float, edges: Floats) -> Floats:
    """Pixels of one sub in each bin, in per cent of the tallest."""
    (one,) = shoot(rig, sub_s, (1,), _SEED, star_times=_STAR_TIMES)
    percent = 100 * (one.picture + rig.dark_e_s * sub_s) / range_e(rig)
    counts = np.histogram(np.clip(percent, edges[0], edges[-1]), edges)[0]
    return 100 * counts / counts.max()


def _truth() -> str:
    rig = wide_rig()
    third = _snr_at(rig, THIRD)
    enough = [_snr_at(rig, peak) >= (1 - ALIKE) * third for peak in (0.03, 0.1)]
    return "At a few per cent is enough" if enough[0] else "At a tenth" if enough[1] else "At a third"


EXPERIMENT = Experiment(
    belief="“The peak of the histogram must stand at one third.”",
    ask=Ask(
        key="one-third",
        question="Where must the peak stand, so that the SNR is as good as at a third?",
        choices=("At a third", "At a tenth", "At a few per cent is enough"),
        truth=_truth,
    ),
    does=(
        f"A wide filter, {_WIDE_NM} nm. {HOURS:g} hours in subs whose sky stands at 0.5 %, 2 % and 10 % of the range, "
        "and at a place of your choice."
    ),
    dials={
        "peak_percent": Dial(label="Peak stands at", unit="%", low=1, high=60, step=1, example="33", start=33),
    },
    run=run,
)
