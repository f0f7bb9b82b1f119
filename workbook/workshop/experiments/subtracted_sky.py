"""Taking the sky off takes its brightness away; its grain stays."""

from __future__ import annotations

import math

from expocalc.base.words import say_number
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Experiment, Outcome, compared, tiles_of
from workbook.workshop.experiments.rig import rig_of
from workbook.workshop.experiments.shell import limits_e, stacks

__all__ = ["EXPERIMENT", "run"]

HOURS, SUB_S, DARK_SKY = 2.0, 300.0, 21.6
_SUBS = round(HOURS * 3600 / SUB_S)
START = 19.1
_SEED = 102
ALIKE = 1.05
"""Grains within this factor look alike."""


def run(sky_mag: float) -> Outcome:
    """Two hours under a sky of this brightness and under a dark one, the mean of the sky taken off both."""
    rigs = [rig_of(sky__zenith_brightness=f"{mag!r} mag/arcsec2") for mag in (sky_mag, DARK_SKY)]
    seen, (town,) = stacks(rigs[0], SUB_S, (_SUBS,), _SEED)
    _, (dark,) = stacks(rigs[1], SUB_S, (_SUBS,), _SEED)
    level = [float(picture[seen.sky].mean()) for picture in (town, dark)]
    planned = tuple(rig.grain_e(SUB_S, _SUBS) for rig in rigs)
    measured = tuple(
        float((picture - one)[seen.sky].std(ddof=1)) for picture, one in zip((town, dark), level, strict=True)
    )
    sigma = tuple(grain / math.sqrt(2 * seen.sky.sum()) for grain in planned)
    low, high = limits_e(rigs[1], SUB_S, planned[0] / 2)
    dark_e = rigs[1].sky_e_s * SUB_S
    ratio = planned[0] / planned[1]
    return Outcome(
        takeaway=(
            f"Taking the sky off moved the town's picture down by {say_number(level[0])} electrons. The grain of the "
            f"mean of {_SUBS} subs stays {say_number(planned[0])} electrons, "
            + (f"{say_number(ratio)} times that of the dark place." if ratio > ALIKE else "as at the dark place.")
        ),
        take_home="The glow can be taken off. Its grain stays: each photon of the sky came by chance.",
        holds=ratio <= ALIKE,
        basis=(
            f"{HOURS:g} h of H-alpha in {SUB_S:g}-s subs, demo plan. Each picture is shown about its own mean, all "
            "with one contrast."
        ),
        tiles=tiles_of(
            [town - level[0], town - level[0], dark - level[1]],
            (low - dark_e, high - dark_e),
            [
                f"Town, as it comes: {say_number(level[0], 3)} electrons of sky",
                "Town, sky taken off: 0",
                f"Dark place ({DARK_SKY:g}), sky taken off: 0",
            ],
            [
                f"a ring in a grain of {say_number(planned[0])} electrons",
                f"the same grain of {say_number(planned[0])} electrons, pixel by pixel",
                f"a ring in a grain of {say_number(planned[1])} electrons",
            ],
        ),
        table=compared(
            "Grain that is left after the mean of the sky is taken off, electrons",
            "grain, electrons",
            ("Town", "Dark place"),
            planned,
            measured,
            sigma,
            {"sky taken off, electrons": tuple(say_number(one, 3) for one in level)},
        ),
        planned=planned,
        measured=measured,
        sigma=sigma,
    )


def _truth() -> str:
    """By the grain on the town's frames after the sky was taken off, over what all of the sky's light makes."""
    found = run(START)
    left = found.measured[0] / found.planned[0]
    return "It goes away" if left < 0.2 else "It is halved" if left < 0.8 else "It stays"


EXPERIMENT = Experiment(
    belief="“The glow of the sky does no harm: software takes it off.”",
    ask=Ask(
        key="sky-off",
        question="We take the mean glow of the sky off the picture. What happens to the grain?",
        choices=("It goes away", "It is halved", "It stays"),
        truth=lambda: _truth(),
    ),
    does=f"{HOURS:g} hours of a faint shell, in town and at a dark place. Then the mean of the sky is taken off.",
    dials={
        "sky_mag": Dial(
            label="Sky in town", unit="mag/arcsec2", low=17, high=21.5, step=0.1, example="19,1", start=START
        ),
    },
    run=run,
)
