"""Five per cent more noise is ten per cent more hours."""

from __future__ import annotations

import numpy as np

from expocalc.base.words import say_duration, say_number, say_share
from expocalc.budget.noise import hours_growth
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Chart, Experiment, Outcome, compared, tiles_of
from workbook.workshop.experiments.rig import rig_of
from workbook.workshop.experiments.shell import limits_e, shoot, snrs

__all__ = ["EXPERIMENT", "run"]

HOURS = 10.0
_SEED = 106


def run(growth_percent: float) -> Outcome:
    """Ten hours without read noise, with it, and with it and the hours that make up for it."""
    rig, growth = rig_of(), growth_percent / 100
    sub_s = rig.shortest_sub_s(growth)
    subs = round(HOURS * 3600 / sub_s)
    more = float(hours_growth(growth))
    longer = round(subs * (1 + more))
    shots = [
        shoot(rig.read_by(0.0), sub_s, (subs,), _SEED)[0],
        *shoot(rig, sub_s, (subs, longer), _SEED + 1),
    ]
    names = ("No read noise", "With read noise", f"With read noise and {say_share(more)} more time")
    line = np.linspace(0.01, 0.5, 50)
    return Outcome(
        takeaway=(
            f"{say_share(growth)} more noise is {say_share(more)} more hours: SNR "
            f"{say_number(shots[0].planned, 3)} falls to "
            f"{say_number(shots[1].planned, 3)}, and {say_duration(longer * sub_s)} instead of "
            f"{say_duration(subs * sub_s)} "
            "bring it back."
        ),
        take_home=(
            f"Hours pay for noise squared. {say_share(growth)} more noise is {say_share(more)} more hours, "
            f"{say_number(more / growth)} times as much."
        ),
        holds=False,
        basis=(
            f"H-alpha, demo plan, subs of {say_duration(sub_s)}: in them read noise adds "
            f"{say_share(growth)} to the noise."
        ),
        tiles=tiles_of(
            [shot.picture for shot in shots],
            limits_e(rig, sub_s, 1.5 * rig.grain_e(sub_s, subs)),
            list(names),
            [f"the shell, a ring, at SNR {say_number(shot.planned, 3)}" for shot in shots],
        ),
        table=compared(
            "SNR of a patch",
            "SNR",
            names,
            **snrs(shots),
            more={"hours": tuple(say_duration(n * sub_s) for n in (subs, subs, longer))},
        ),
        **snrs(shots),
        chart=Chart(
            title="What noise costs in hours",
            x_label="more noise, %",
            y_label="more hours, %",
            describes="Hours grow twice as fast as noise, and faster still for large shares.",
            x=100 * line,
            curves={"hours": 100 * hours_growth(line), "if the same": 100 * line},
            points=((growth_percent, 100 * more),),
            log_x=False,
            log_y=False,
        ),
    )


EXPERIMENT = Experiment(
    belief="“Five per cent more noise is five per cent more time.”",
    ask=Ask(
        key="five-per-cent",
        question="Read noise makes the noise 5 % larger. How many more hours make up for it?",
        unit="%",
        truth=lambda: 100 * float(hours_growth(0.05)),
        mark=lambda percent: (5.0, percent),
    ),
    does=f"{HOURS:g} hours without read noise, and with as much of it as you allow.",
    dials={
        "growth_percent": Dial(label="Noise may grow by", unit="%", low=1, high=50, step=1, example="5", start=5),
    },
    run=run,
)
