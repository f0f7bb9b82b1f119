"""Twice the hours is not twice the SNR: it grows with the square root."""

from __future__ import annotations

import math

import numpy as np

from expocalc.base.words import say_number
from expocalc.budget.stack import snr_per_patch
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Chart, Experiment, Outcome, compared, curve_grid, tiles_of, visible
from workbook.workshop.experiments.rig import H_ALPHA, PERFECT, demo_brightness_r, rig_of
from workbook.workshop.experiments.shell import limits_e, shoot, snrs

__all__ = ["EXPERIMENT", "HOURS", "SUB_S", "run"]

HOURS = (1, 2, 5, 10, 40)
SUB_S = 300.0
_SEED = 108


def run(brightness_r: float) -> Outcome:
    """Stacks of 1 to 40 hours of a shell of this brightness."""
    rig = rig_of(H_ALPHA, brightness_r)
    shots = shoot(rig, SUB_S, [round(h * 3600 / SUB_S) for h in HOURS], _SEED)
    one, two, forty = shots[0].planned, shots[1].planned, shots[-1].planned
    line = curve_grid(0.5, 60)
    return Outcome(
        takeaway=(
            f"SNR is {say_number(one, 3)} after 1 h and {say_number(two, 3)} after 2 h: times "
            f"{two / one:.2f}, not times 2. "
            f"Forty hours make it {say_number(forty, 3)}, times {forty / one:.1f}."
        ),
        take_home=(
            "SNR grows like the square root of the hours; hours go with the SNR squared. Twice the SNR takes four "
            "times the hours. "
            + (
                f"This shell is {visible(one)} after 1 h and {visible(forty)} after {HOURS[-1]} h."
                if visible(one) != visible(forty)
                else f"This shell is {visible(one)} after 1 h already."
            )
        ),
        holds=False,
        basis=f"H-alpha, demo plan, subs of {SUB_S:g} s, one stretch for all. SNR is that of a patch of 15″ × 15″.",
        tiles=tiles_of(
            [shot.picture for shot in shots],
            limits_e(rig, SUB_S, rig.grain_e(SUB_S, 24)),
            [f"{h} h" for h in HOURS],
            [f"the shell, a ring, {visible(shot.planned)}, at SNR {say_number(shot.planned)}" for shot in shots],
        ),
        table=compared(
            "SNR of a patch of the shell",
            "SNR",
            tuple(f"{h} h" for h in HOURS),
            **snrs(shots),
            more={
                "times that of 1 h": tuple(f"{shot.planned / one:.2f}" for shot in shots),
                "√hours": tuple(f"{math.sqrt(h):.2f}" for h in HOURS),
            },
        ),
        **snrs(shots),
        chart=Chart(
            title="SNR against hours",
            x_label="hours of light",
            y_label="SNR of the patch",
            describes=(
                "SNR climbs with the square root of the hours; the line for twice the SNR in twice the "
                "time climbs away."
            ),
            x=line,
            curves={
                "what happens": np.asarray(snr_per_patch(rig.patch(SUB_S), PERFECT, line * 3600 / SUB_S)),
                "if doubled": one * line,
            },
            points=tuple(zip(map(float, HOURS), (shot.measured for shot in shots), strict=True)),
        ),
    )


def _snr(hours: float) -> float:
    return rig_of().snr(SUB_S, hours * 3600 / SUB_S)


EXPERIMENT = Experiment(
    belief="“Twice the hours, twice the SNR.”",
    ask=Ask(
        key="double-hours",
        question="You double the hours. The SNR becomes how many times as large?",
        unit="times",
        truth=lambda: _snr(2) / _snr(1),
        mark=lambda times: (2.0, times * _snr(1)),
    ),
    does="A faint shell after 1, 2, 5, 10 and 40 hours, all shown alike.",
    dials={
        "brightness_r": Dial(
            label="Glow of the shell",
            unit="R",
            low=2,
            high=60,
            step=0.02,
            log=True,
            example="12",
            start=demo_brightness_r(H_ALPHA),
        ),
    },
    run=run,
)
