"""Ten short subs or one long: the same only if reading adds nothing."""

from __future__ import annotations

import math

import numpy as np

from expocalc.base.words import say_duration, say_number, say_share
from expocalc.budget.stack import snr_per_patch
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Chart, Experiment, Outcome, compared, curve_grid, tiles_of
from workbook.workshop.experiments.rig import PERFECT, Rig, rig_of
from workbook.workshop.experiments.shell import limits_e, shoot, snrs

__all__ = ["EXPERIMENT", "HOURS", "SUBS_S", "hours_ratio", "run"]

HOURS = 10.0
SUBS_S = (600.0, 60.0, 10.0)
_COUNTS = tuple(round(HOURS * 3600 / sub_s) for sub_s in SUBS_S)
_SEED = 119
START, LEAST_E = 1.4, 0.01
ALIKE = 0.01
"""A share of the hours that nobody would notice."""


def hours_ratio(read_noise_e: float, short_s: float = SUBS_S[1]) -> float:
    """Hours in subs of this length over hours in subs of ten minutes, for the same SNR."""
    rig = rig_of().read_by(read_noise_e)
    return rig.hours(short_s, 10.0) / rig.hours(SUBS_S[0], 10.0)


def run(read_noise_e: float) -> Outcome:
    """Ten hours in subs of ten minutes, one minute and ten seconds, with this read noise."""
    rig = rig_of().read_by(read_noise_e)
    shots = [shoot(rig, sub_s, (count,), _SEED)[0] for sub_s, count in zip(SUBS_S, _COUNTS, strict=True)]
    long_, short, shortest = (shot.planned for shot in shots)
    more = hours_ratio(read_noise_e) - 1
    if read_noise_e < LEAST_E:
        said = f"Without read noise all three are alike: SNR {say_number(long_, 3)}. Only the total time counts."
    else:
        said = (
            f"Read noise {say_number(read_noise_e)} electrons: the same hours give SNR "
            f"{say_number(long_, 3)} in long subs, "
            f"{say_number(short, 3)} in one-minute subs and {say_number(shortest, 3)} in {SUBS_S[2]:g}-s subs. "
            f"One-minute subs ask for {say_share(more) if more >= ALIKE else 'hardly any'} more hours."
        )
    line = curve_grid(5, 1800)
    return Outcome(
        takeaway=said,
        take_home=(
            "Only the total time counts here: next to nothing is added at each reading."
            if more < ALIKE
            else "Each reading adds a little grain, so very short subs cost hours. How short is too short? Where the "
            "grain of the sky in one sub is about three times the read noise, reading adds 5 % to the grain. That "
            f"costs 10 % of the hours. Here it is so from {say_duration(rig.shortest_sub_s())} on."
        ),
        holds=more < ALIKE,
        basis=(
            f"{HOURS:g} h of H-alpha in each picture, demo plan, one stretch. In one long sub the shell has "
            f"{say_number(rig.target_e_s * SUBS_S[0])} electrons in a pixel, less than the grain of "
            f"{say_number(rig.grain_e(SUBS_S[0], 1))}: the stack shows what no single sub shows."
        ),
        tiles=tiles_of(
            [shot.picture / sub_s for shot, sub_s in zip(shots, SUBS_S, strict=True)],
            limits_e(rig, 1.0, 2 * rig.grain_e(SUBS_S[0], _COUNTS[0]) / SUBS_S[0]),
            [f"{n} × {say_duration(sub_s)}" for n, sub_s in zip(_COUNTS, SUBS_S, strict=True)],
            [f"the shell, a ring, at SNR {say_number(shot.planned)}" for shot in shots],
        ),
        table=compared(
            f"SNR of a patch of the shell after {HOURS:g} h",
            "SNR",
            tuple(say_duration(sub_s) for sub_s in SUBS_S),
            **snrs(shots),
            more={"subs": tuple(str(n) for n in _COUNTS)},
        ),
        **snrs(shots),
        chart=Chart(
            title=f"SNR after {HOURS:g} h, for each length of sub",
            x_label="length of one sub, seconds",
            y_label="SNR of the patch",
            describes="SNR climbs with the length of a sub and levels off; the more read noise, the later.",
            x=line,
            curves={
                "no read noise": _snr(rig.read_by(0.0), line),
                f"{read_noise_e:.3g} electrons": _snr(rig, line),
            },
            points=tuple(zip(SUBS_S, (shot.measured for shot in shots), strict=True)),
        ),
    )


def _snr(rig: Rig, sub_s: np.ndarray) -> np.ndarray:
    return np.asarray(snr_per_patch(rig.patch(sub_s), PERFECT, HOURS * 3600 / sub_s))


def _long_snr() -> float:
    return float(_snr(rig_of().read_by(START), np.array([SUBS_S[0]]))[0])


EXPERIMENT = Experiment(
    belief="“Ten one-minute subs are the same as one of ten minutes.”",
    ask=Ask(
        key="short-subs",
        question=(
            "The read noise is 1.4 electrons. You take subs of 1 minute, not 10. How many more hours do you need for "
            "the same SNR?"
        ),
        unit="%",
        truth=lambda: 100 * (hours_ratio(START) - 1),
        mark=lambda percent: (SUBS_S[1], _long_snr() / math.sqrt(1 + max(percent, -90.0) / 100)),
    ),
    does=f"{HOURS:g} hours of a faint shell, cut into long, short and very short subs.",
    dials={
        "read_noise_e": Dial(label="Read noise", unit="electron", low=0, high=10, step=0.1, example="1,4", start=START),
    },
    run=run,
)
