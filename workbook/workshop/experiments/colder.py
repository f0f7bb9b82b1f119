"""Cooling pays until the sky makes more electrons than the chip; below that nothing is won."""

from __future__ import annotations

import numpy as np

from expocalc.base.words import say_number
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Chart, Experiment, Outcome, compared, tiles_of
from workbook.workshop.experiments.rig import Rig, rig_of
from workbook.workshop.experiments.shell import limits_e, shoot, snrs

__all__ = ["EXPERIMENT", "at", "run"]

HOURS, SUB_S, GOAL = 4.0, 300.0, 10.0
ENDS_DEG_C = (15.0, -30.0)
SKIES = (18.5, 21.5)
"""Skies that the chart always shows. [mag/arcsec2]"""
_SUBS = round(HOURS * 3600 / SUB_S)
START, START_SKY = -10.0, 19.1
HARDLY = 0.05
"""A share of the hours that hardly counts."""
_SEED = 115


def at(temperature_deg_c: float, sky_mag: float) -> Rig:
    """The demo rig in H-alpha with its chip at a temperature, under a sky."""
    return rig_of(camera__temperature=f"{temperature_deg_c!r} deg_C", sky__zenith_brightness=f"{sky_mag!r} mag/arcsec2")


def run(temperature_deg_c: float, sky_mag: float) -> Outcome:
    """Four hours with a warm chip, one at this temperature, and a very cold one."""
    degrees = (ENDS_DEG_C[0], temperature_deg_c, ENDS_DEG_C[1])
    rigs = [at(one, sky_mag) for one in degrees]
    shots = [shoot(rig, SUB_S, (_SUBS,), _SEED + number)[0] for number, rig in enumerate(rigs)]
    hours = [rig.hours(SUB_S, GOAL) for rig in rigs]
    saved = [1 - hours[1] / hours[0], 1 - hours[2] / hours[1]]
    names = tuple(f"{round(one, 1) + 0.0:+g} °C".replace("-", "−").replace("+0 ", "0 ") for one in degrees)
    line = np.linspace(-30, 20, 11)
    dark_e_s = np.array([at(float(one), SKIES[0]).dark_e_s for one in line])
    curves = {
        f"sky {mag:g}": rigs[0].hours_under(SUB_S, GOAL, np.array(at(-10.0, mag).sky_e_s), dark_e_s)
        for mag in sorted({sky_mag, *SKIES})
    }
    return Outcome(
        takeaway=(
            f"{_saves(names[0], names[1], saved[0])} {_saves(names[1], names[2], saved[1])} At {names[1]} the sky "
            f"gives {say_number(rigs[1].sky_e_s)} electrons a second, the chip {say_number(rigs[1].dark_e_s)}."
        ),
        take_home=(
            "Here colder is still better: the chip makes a good part of the electrons."
            if saved[1] >= HARDLY
            else "Cool until the sky makes far more electrons than the chip. Below that, hardly a thing is won."
        ),
        holds=saved[1] >= HARDLY,
        basis=f"{HOURS:g} h of H-alpha, demo plan, perfect darks, one stretch. Hours until SNR {GOAL:g}.",
        tiles=tiles_of(
            [shot.picture for shot in shots],
            limits_e(rigs[0], SUB_S, 1.5 * rigs[1].grain_e(SUB_S, _SUBS)),
            list(names),
            [f"the shell, a ring, at SNR {say_number(shot.planned)}" for shot in shots],
        ),
        table=compared(
            f"SNR of a patch after {HOURS:g} h",
            "SNR",
            names,
            **snrs(shots),
            more={
                "dark current, electrons a second": tuple(say_number(rig.dark_e_s) for rig in rigs),
                f"hours until SNR {GOAL:g}": tuple(say_number(one, 3) for one in hours),
            },
        ),
        **snrs(shots),
        chart=Chart(
            title=f"Hours of H-alpha until SNR {GOAL:g}",
            x_label="temperature of the chip, °C",
            y_label="hours",
            describes=(
                "Each curve falls as the chip gets colder and then stays level; under a bright sky it is level sooner."
            ),
            x=line,
            curves=curves,
            here=(temperature_deg_c, hours[1]),
            log_x=False,
        ),
    )


def _hours(temperature_deg_c: float) -> float:
    return at(temperature_deg_c, START_SKY).hours(SUB_S, GOAL)


def _saves(warm: str, cold: str, saved: float) -> str:
    if warm == cold:
        return f"The dial stands at {warm}."
    share = f"{say_number(100 * saved)} %" if saved >= _LEAST else "next to nothing"
    return f"From {warm} to {cold} saves {share}{' of the hours' if saved >= _LEAST else ''}."


_LEAST = 0.001

EXPERIMENT = Experiment(
    belief="“The colder the chip, the better.”",
    ask=Ask(
        key="colder",
        question="You cool the chip from −10 °C to −30 °C, under a town's sky. What share of the hours does it save?",
        unit="%",
        truth=lambda: (
            100 * (1 - at(ENDS_DEG_C[1], START_SKY).hours(SUB_S, GOAL) / at(START, START_SKY).hours(SUB_S, GOAL))
        ),
    ),
    does=f"{HOURS:g} hours with a warm chip, with one as cold as you like, and with a very cold one.",
    dials={
        "temperature_deg_c": Dial(label="Chip", unit="deg_C", low=-30, high=15, step=1, example="-10", start=START),
        "sky_mag": Dial(label="Sky", unit="mag/arcsec2", low=17, high=21.8, step=0.1, example="19,1", start=START_SKY),
    },
    run=run,
)
