"""Binning by software reads every pixel first: it can't make subs shorter."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from expocalc.base.words import say_duration, say_number
from expocalc.budget.noise import shortest_sub_s, sub_variance_e2
from expocalc.frames.measure.picture import binned
from expocalc.frames.simulate.stack import stack_of
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Experiment, Outcome, compared, tiles_of
from workbook.workshop.experiments.rig import rig_of
from workbook.workshop.experiments.shell import PIXELS, detector_of, limits_e, sight, stacks

__all__ = ["EXPERIMENT", "SIDE", "run"]

HOURS, SIDE = 4.0, 2
_SEED = 107


def run(sub_s: float) -> Outcome:
    """Four hours as pixels, with pixels averaged two by two by software, and joined two by two before reading."""
    rig = rig_of()
    subs = max(1, round(HOURS * 3600 / sub_s))
    joined = replace(
        rig,
        target_e_s=rig.target_e_s * SIDE**2,
        sky_e_s=rig.sky_e_s * SIDE**2,
        dark_e_s=rig.dark_e_s * SIDE**2,
    )
    seen, (pixels,) = stacks(rig, sub_s, (subs,), _SEED)
    large = sight(rig, PIXELS // SIDE)
    light = binned(seen.scene.light_e_s, SIDE) * SIDE**2
    charge = stack_of(
        replace(large.scene, light_e_s=light),
        detector_of(joined, PIXELS // SIDE),
        sub_s,
        subs,
        np.random.default_rng(_SEED + 1),
    )
    software = binned(pixels, SIDE)
    sky_large = binned(seen.sky.astype(float), SIDE) == 1
    sky_e2 = (rig.sky_e_s + rig.dark_e_s) * sub_s
    # grain of a pixel, and of the mean of four: each read, or read once
    planned = tuple(
        math.sqrt(float(sub_variance_e2(area * (rig.sky_e_s + rig.dark_e_s), sub_s, reads * rig.read_e2)) / subs) / area
        for area, reads in ((1, 1), (4, 4), (4, 1))
    )
    pictures = ((pixels, seen.sky), (software, sky_large), (charge / SIDE**2, sky_large))
    measured = tuple(float(picture[sky].std(ddof=1)) for picture, sky in pictures)
    counts = (int(seen.sky.sum()), int(sky_large.sum()), int(sky_large.sum()))
    sigma = tuple(grain / math.sqrt(2 * count) for grain, count in zip(planned, counts, strict=True))
    ratios = (sky_e2 / rig.read_e2, 4 * sky_e2 / (4 * rig.read_e2), 4 * sky_e2 / rig.read_e2)
    names = ("Pixels as read", "2 × 2 by software", "2 × 2 joined before reading")
    low, high = limits_e(rig, sub_s, 1.5 * planned[0])
    return Outcome(
        takeaway=(
            f"The sky's electrons are {say_number(ratios[0])} times the read noise squared in a pixel, and "
            f"{say_number(ratios[1])} times in four joined by software: no change, so subs can't be shorter. Joined "
            f"before reading it would be {say_number(ratios[2])} times."
        ),
        take_home=(
            "Software joins what was read: each pixel has its read noise by then, so subs can't be shorter. The larger "
            f"pixels have a finer grain ({say_number(planned[0])} to {say_number(planned[1])} electrons) and show less "
            "detail; averaging the finished picture does the same."
        ),
        holds=False,
        basis=(
            f"{HOURS:g} h of H-alpha in subs of {say_duration(sub_s)}, one stretch. Most cameras of "
            "today bin by software, "
            "even where a menu says otherwise."
        ),
        tiles=tiles_of(
            [picture for picture, _ in pictures],
            (low, high),
            list(names),
            [f"the shell in a grain of {say_number(one)} electrons in a pixel" for one in planned],
        ),
        table=compared(
            "Grain of the sky, electrons in a pixel's area",
            "grain, electrons",
            names,
            planned,
            measured,
            sigma,
            {"sky over read noise, squared": tuple(say_number(one, 3) for one in ratios)},
        ),
        planned=planned,
        measured=measured,
        sigma=sigma,
    )


def _binned_shortest_s() -> float:
    """Shortest sub of four pixels that are read each."""
    rig = rig_of()
    return float(shortest_sub_s(SIDE**2 * rig.rate_e_s, SIDE**2 * rig.read_e2, 0.05))


EXPERIMENT = Experiment(
    belief="“Binning 2 × 2 allows subs four times shorter.”",
    ask=Ask(
        key="binning",
        question="Software joins 2 × 2 pixels into one. How many times as short may your subs be?",
        unit="times",
        truth=lambda: rig_of().shortest_sub_s() / _binned_shortest_s(),
    ),
    does=f"{HOURS:g} hours in short subs: as they are, binned by software, and joined before the camera reads.",
    dials={
        "sub_s": Dial(label="Length of a sub", unit="s", low=2, high=300, step=0.02, log=True, example="20", start=20),
    },
    run=run,
)
