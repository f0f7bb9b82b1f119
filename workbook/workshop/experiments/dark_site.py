"""Under a darker sky subs get longer, and hours fewer."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_number
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Chart, Experiment, Outcome, compared, tiles_of
from workbook.workshop.experiments.rig import Rig, rig_of
from workbook.workshop.experiments.shell import limits_e, shoot, snrs

__all__ = ["EXPERIMENT", "TOWN", "run", "under"]

HOURS, TOWN, GOAL = 4.0, 19.1, 10.0
SKIES = np.linspace(18, 21.8, 20)
START = 21.0
_SEED = 113


def under(sky_mag: float) -> Rig:
    """The demo rig in H-alpha under a sky. [mag/arcsec2]"""
    return rig_of(sky__zenith_brightness=f"{sky_mag!r} mag/arcsec2")


@cache
def _curves() -> Mapping[str, Floats]:
    """Length of a sub and hours under each of the skies, as times those under the first."""
    rigs = [under(float(mag)) for mag in SKIES]
    sub_s, hours = np.array([_sub_and_hours(rig) for rig in rigs]).T
    return MappingProxyType({"sub length": sub_s / sub_s[0], "hours": hours / hours[0]})


def _sub_and_hours(rig: Rig) -> tuple[float, float]:
    sub_s = rig.shortest_sub_s()
    return sub_s, rig.hours(sub_s, GOAL)


def run(dark_mag: float) -> Outcome:
    """Four hours in town, at a dark place with the town's subs, and there with its own."""
    town, dark = under(TOWN), under(dark_mag)
    subs_s = [town.shortest_sub_s(), town.shortest_sub_s(), dark.shortest_sub_s()]
    rigs = [town, dark, dark]
    counts = [max(1, round(HOURS * 3600 / sub_s)) for sub_s in subs_s]
    shots = [shoot(rig, sub_s, (n,), _SEED)[0] for rig, sub_s, n in zip(rigs, subs_s, counts, strict=True)]
    hours = [rig.hours(sub_s, GOAL) for rig, sub_s in zip(rigs, subs_s, strict=True)]
    names = ("Town", "Dark place, the town's subs", "Dark place, its own subs")
    grain = town.grain_e(subs_s[0], counts[0]) / subs_s[0]
    sky = [rig.sky_e_s for rig in rigs]
    return Outcome(
        takeaway=(
            f"The sky is {say_number(town.sky_e_s / dark.sky_e_s)} times darker: the shortest sub in which read noise "
            f"adds only 5 % grows from {say_duration(subs_s[0])} to {say_duration(subs_s[2])}, and the hours fall from "
            f"{say_number(hours[0])} to {say_number(hours[2])}."
        ),
        take_home=(
            f"Darker sky: subs {say_number(subs_s[2] / subs_s[0])} times as long, and "
            f"{say_number(hours[0] / hours[2])} times fewer hours."
        ),
        holds=subs_s[2] > subs_s[0],
        basis=(
            f"{HOURS:g} h of H-alpha, demo plan, one stretch about each sky's own mean. A sub is long "
            "enough here when read "
            f"noise adds 5 %. Hours until SNR {GOAL:g}."
        ),
        tiles=tiles_of(
            [shot.picture / sub_s - level + sky[0] for shot, sub_s, level in zip(shots, subs_s, sky, strict=True)],
            limits_e(town, 1.0, grain),
            [f"{name}: {n} × {say_duration(sub_s)}" for name, n, sub_s in zip(names, counts, subs_s, strict=True)],
            [f"the shell, a ring, at SNR {say_number(shot.planned)}" for shot in shots],
        ),
        table=compared(
            f"SNR of a patch after {HOURS:g} h",
            "SNR",
            names,
            **snrs(shots),
            more={
                "sub": tuple(say_duration(sub_s) for sub_s in subs_s),
                f"hours until SNR {GOAL:g}": tuple(say_number(one) for one in hours),
            },
        ),
        **snrs(shots),
        chart=Chart(
            title="Darker sky: longer subs, fewer hours",
            x_label="sky, mag/arcsec² (larger: darker)",
            y_label="times that at 18",
            describes="With a darker sky the length of a sub climbs and the hours fall.",
            x=SKIES,
            curves=_curves(),
            here=(dark_mag, hours[2] / _sub_and_hours(under(float(SKIES[0])))[1]),
            log_x=False,
        ),
    )


EXPERIMENT = Experiment(
    belief="“A darker place asks for longer subs.”",
    ask=Ask(
        key="dark-subs",
        question="Under a darker sky your subs should be...",
        choices=("Shorter", "As long", "Longer"),
        truth=lambda: "Longer" if under(START).shortest_sub_s() > under(TOWN).shortest_sub_s() else "Shorter",
    ),
    does=f"{HOURS:g} hours in town and at a dark place, with the subs that each sky asks for.",
    dials={
        "dark_mag": Dial(
            label="Dark place's sky",
            unit="mag/arcsec2",
            low=19.5,
            high=21.8,
            step=0.1,
            example="21",
            start=START,
        ),
    },
    run=run,
)
