"""One reading of a sky meter, two skies in a filter: the lamps decide."""

from __future__ import annotations

import numpy as np

from expocalc.base.words import say_number
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Chart, Experiment, Outcome
from workbook.workshop.experiments.rig import H_ALPHA, O_III, Rig, demo, rig_of
from workbook.workshop.experiments.shell import under_each_sky

__all__ = ["EXPERIMENT", "run", "under_lamps"]

HOURS, SUB_S, GOAL = 4.0, 300.0, 10.0
START_SKY = 19.1
LIGHTS = (H_ALPHA, O_III)
OLD, NEW = "sodium-high-pressure", "led-4000K"
NAMES = {OLD: "sodium lamps", NEW: "white LED"}
HARDLY = 0.05
"""A share of the sky that hardly counts."""
_SEED = 117


def under_lamps(light: str, lamp: str, sky_mag: float) -> Rig:
    """The demo rig in one line's filter, in a town with one kind of lamp whose sky reads so much."""
    others: dict[str, float | None] = dict.fromkeys(demo().values["sky"]["lamps"])
    shares = {f"sky__lamps__{name}": share for name, share in (others | {lamp: 1.0}).items()}
    return rig_of(light, sky__zenith_brightness=f"{sky_mag!r} mag/arcsec2", **shares)


def run(sky_mag: float) -> Outcome:
    """Four hours in each filter, in a town of sodium lamps and in one of white LED, under one reading."""
    rigs = [under_lamps(light, lamp, sky_mag) for light in LIGHTS for lamp in NAMES]
    names = [f"{light}, {lamp}" for light in LIGHTS for lamp in NAMES.values()]
    times = [rigs[2 * at + 1].sky_e_s / rigs[2 * at].sky_e_s for at in range(len(LIGHTS))]
    skies = np.linspace(18, 21, 13)
    said = " and ".join(f"{_brighter(one)} in {light}" for light, one in zip(LIGHTS, times, strict=True))
    return Outcome(
        takeaway=f"The meter reads {sky_mag:g} in both towns. Under white LED the sky is {said} as under sodium lamps.",
        take_home=(
            "A meter sees all colours at once, a filter only a slice. One reading can mean different skies in a "
            "filter: the lamps decide. A test sub through your own filter tells what it is."
        ),
        holds=max(abs(one - 1) for one in times) < HARDLY,
        basis=f"{HOURS:g} h in each picture, demo plan, each about its own mean, one contrast.",
        **under_each_sky(rigs, names, SUB_S, HOURS, _SEED),
        chart=Chart(
            title=f"Hours of {O_III} until SNR {GOAL:g}",
            x_label="reading, mag/arcsec² (larger: darker)",
            y_label="hours",
            describes="Hours fall as the sky gets darker; at one reading they differ with the lamps.",
            x=skies,
            curves={
                said_lamp: np.array([under_lamps(O_III, lamp, float(mag)).hours(SUB_S, GOAL) for mag in skies])
                for lamp, said_lamp in NAMES.items()
            },
            log_x=False,
        ),
    )


def _brighter(times: float) -> str:
    if abs(times - 1) < HARDLY:
        return "as bright"
    return f"{say_number(times)} times as bright"


EXPERIMENT = Experiment(
    belief="“The meter tells how bright the sky is in my filter.”",
    ask=Ask(
        key="lamps",
        question=(
            f"Two towns, and a sky meter reads {START_SKY:g} in both. One has yellow sodium lamps, the other white "
            "LED. In O III, the LED town's sky is how many times as bright?"
        ),
        unit="times",
        truth=lambda: under_lamps(O_III, NEW, START_SKY).sky_e_s / under_lamps(O_III, OLD, START_SKY).sky_e_s,
        mark=lambda times: (START_SKY, _hours_if(times)),
    ),
    does=f"{HOURS:g} hours of the shell in H-alpha and in O III, in a town of sodium lamps and in one of white LED.",
    dials={
        "sky_mag": Dial(
            label="Meter reads", unit="mag/arcsec2", low=18, high=21, step=0.1, example="19,1", start=START_SKY
        ),
    },
    run=run,
)


def _hours_if(times: float) -> float:
    """Hours of O III if the LED town's sky were so many times the other's."""
    old = under_lamps(O_III, OLD, START_SKY)
    return float(old.hours_under(SUB_S, GOAL, np.array([max(times, 0.0) * old.sky_e_s]), np.array([old.dark_e_s]))[0])
