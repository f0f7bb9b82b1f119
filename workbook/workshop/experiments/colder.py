"""Cooling pays until the sky makes more electrons than the chip; below that nothing is won."""

from __future__ import annotations

import numpy as np

from expocalc.base.words import say_number, say_share
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Chart, Experiment, Outcome, compared, tiles_of
from workbook.workshop.experiments.rig import Rig, limits_e, rig_of, shoot, snrs

__all__ = ["EXPERIMENT", "at", "run"]

HOURS, SUB_S, GOAL = 4.0, 300.0, 10.0
ENDS_DEG_C = (15.0, -30.0)
SKIES = (18.5, 21.5)
"""Skies that the chart always shows. [mag/arcsec2]"""
_SUBS = round(HOURS * 3600 / SUB_S)
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
    names = tuple(f"{one:+.3g} °C".replace("-", "−") for one in degrees)
    line = np.linspace(-30, 20, 11)
    dark_e_s = np.array([at(float(one), SKIES[0]).dark_e_s for one in line])
    curves = {
        f"sky {mag:g}": rigs[0].hours_under(SUB_S, GOAL, np.array(at(-10.0, mag).sky_e_s), dark_e_s)
        for mag in sorted({sky_mag, *SKIES})
    }
    return Outcome(
        takeaway=(
            f"From {names[0]} to {names[1]} saves {say_share(1 - hours[1] / hours[0])} of the hours; "
            f"from there to {names[2]} only "
            f"{say_share(1 - hours[2] / hours[1])} more. The sky gives {say_number(rigs[1].sky_e_s)} "
            "electrons a second, the chip "
            f"{say_number(rigs[1].dark_e_s)}."
        ),
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
            log=False,
        ),
    )


EXPERIMENT = Experiment(
    belief="“The colder the chip, the better.”",
    does=f"{HOURS:g} hours with a warm chip, with one as cold as you like, and with a very cold one.",
    dials={
        "temperature_deg_c": Dial(label="Chip", unit="deg_C", low=-30, high=15, step=1, example="-10", start=-10),
        "sky_mag": Dial(label="Sky", unit="mag/arcsec2", low=17, high=21.8, step=0.1, example="19,1", start=19.1),
    },
    run=run,
)
