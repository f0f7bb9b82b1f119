"""Darks take the chip's pattern away, and bring noise of their own; a dither spreads it."""

from __future__ import annotations

import math

import numpy as np

from expocalc.base.words import say_number, say_share
from expocalc.budget.calibration import Calibration
from expocalc.budget.patch import Habits
from expocalc.frames.simulate.detector import Unevenness, uneven_detector
from expocalc.frames.simulate.masters import Masters, calibrate, masters
from expocalc.frames.simulate.stack import calibrated_subs, dither_offsets, stack
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Experiment, Outcome, compared, tiles_of
from workbook.workshop.experiments.rig import Rig, demo, rig_of
from workbook.workshop.experiments.shell import limits_e, sight

__all__ = ["EXPERIMENT", "run"]

SUBS, SUB_S, WARM_DEG_C, BOX_PX = 30, 300.0, 15, 20
_SEED = 111
ALIKE = 0.01
"""A share of the grain that nobody would notice."""
_CHIP = Unevenness(offset_e=1.0, dark_share=0.3)
"""How uneven the chip is: an assumption of the order that people see."""


def run(darks: float) -> Outcome:
    """Thirty subs of a warm chip without darks, with one, with this many, and with this many and a dither."""
    count = max(1, round(darks))
    rig = rig_of(camera__temperature=f"{WARM_DEG_C} deg_C")
    seen = sight(rig)
    detector = uneven_detector(rig.setting, rig.dark_e_s, seen.scene.shape, _SEED, _CHIP)
    rng = np.random.default_rng(_SEED + 1)  # the chip's own seed would tie its pattern to the light's grain
    plain = Masters(dark_adu=np.full(detector.shape, detector.bias_adu), flat=np.ones(detector.shape))
    still = np.zeros((SUBS, 2), dtype=np.int_)
    uncorrected = stack(calibrated_subs(seen.scene, detector, plain, SUB_S, still, rng))
    in_adu = uncorrected / rig.setting.electrons_per_adu + detector.bias_adu
    kinds = [Calibration(darks=n) for n in (1, count)]
    made = [masters(detector, SUB_S, kind, rng) for kind in kinds]
    corrected = [calibrate(in_adu, Masters(dark_adu=one.dark_adu, flat=plain.flat), rig.setting) for one in made]
    every = round(demo().case.routine.dither_every or 1)
    offsets = dither_offsets(SUBS, every, BOX_PX, rng)
    moved_by = Masters(dark_adu=made[1].dark_adu, flat=plain.flat)
    dithered = stack(calibrated_subs(seen.scene, detector, moved_by, SUB_S, offsets, rng))
    pictures = [uncorrected - rig.dark_e_s * SUB_S, *corrected, dithered]
    grain2 = rig.grain_e(SUB_S, SUBS) ** 2
    pattern2 = (_CHIP.dark_share * rig.dark_e_s * SUB_S) ** 2 + _CHIP.offset_e**2
    flat2 = (_CHIP.flat_share * rig.sky_e_s * SUB_S) ** 2
    planned = (
        math.sqrt(grain2 + flat2 + pattern2),
        *(math.sqrt(_grain2(rig, kind, math.inf) + flat2) for kind in kinds),
        math.sqrt(_grain2(rig, kinds[1], float(every)) + flat2 * every / SUBS),
    )
    measured = tuple(float(picture[seen.sky].std(ddof=1)) for picture in pictures)
    sigma = tuple(grain / math.sqrt(2 * seen.sky.sum()) for grain in planned)
    darks_said = "1 dark" if count == 1 else f"{count} darks"
    names = ("No darks", "1 dark", darks_said, f"{darks_said} and a dither")
    bare = math.sqrt(grain2)
    # what all subs have in common at a pixel, before the darks and after
    pattern = detector.offset_e + (detector.dark_e_s - rig.dark_e_s) * SUB_S
    brought = pattern - (made[1].dark_adu - detector.bias_adu) * rig.setting.electrons_per_adu + rig.dark_e_s * SUB_S
    limits = limits_e(rig, SUB_S, 1.5 * bare)
    middle = sum(limits) / 2
    left = planned[2] / bare - 1
    with_one = f"{say_number(planned[1], 3)} with one"
    error_e = math.sqrt(planned[2] ** 2 - grain2 - flat2)
    return Outcome(
        takeaway=(
            f"Grain {say_number(planned[0], 3)} electrons without darks"
            + (f", {with_one} and {say_number(planned[2], 3)} with {count}: " if count > 1 else f" and {with_one}: ")
            + (f"still {say_share(left)} above " if left >= ALIKE else "hardly above ")
            + f"the bare light's {say_number(bare, 3)}. A dither leaves {say_number(planned[3], 3)}."
        ),
        take_home=(
            "Darks take the chip's pattern off and bring a grain of their own. The same darks are taken off every sub, "
            f"so without a dither their grain, {say_number(error_e)} electrons, stays however many subs you add. Two "
            f"cures: more darks, or a dither. {_dither_price()} It brings the same grain in "
            f"{say_share(1 - (planned[3] / planned[2]) ** 2)} fewer hours here."
        ),
        holds=planned[1] / bare - 1 < ALIKE,
        basis=(
            f"{SUBS} subs of {SUB_S:g} s, H-alpha, demo plan, but the chip at +{WARM_DEG_C} °C and "
            "uneven (an assumption). "
            "One stretch."
        ),
        tiles=tiles_of(
            [*pictures, pattern + middle, brought + middle],
            limits,
            [*names, "The chip's pattern alone", f"What {darks_said} left, alone"],
            [
                *(f"the shell in a grain of {say_number(one)} electrons" for one in planned),
                f"the pattern that is the same in every sub, {say_number(float(pattern.std()))} electrons",
                f"the error of the darks that is the same in every sub, {say_number(error_e)} electrons",
            ],
        ),
        table=compared("Grain of the sky, electrons", "grain, electrons", names, planned, measured, sigma),
        planned=planned,
        measured=measured,
        sigma=sigma,
    )


def _grain2(rig: Rig, kind: Calibration, every: float) -> float:
    """Variance of a pixel of empty sky by the plan's formula. [electron2]"""
    habits = Habits(calibration=kind, dither_every=every, dither_box_px=BOX_PX)
    faint = 1e-6
    sky = rig.with_target(faint)
    return (faint * SUB_S / sky.snr(SUB_S, SUBS, 1.0, habits)) ** 2


def _dither_price() -> str:
    """What the demo plan's dither costs in subs and in time."""
    routine = demo().case.routine
    every = round(routine.dither_every or 1)
    spoiled = float(routine.lost_per_dither) / every
    pause = float(routine.dither_time.value) / every / (SUB_S + float(routine.dead_time.value))
    how = "every sub" if every == 1 else f"every {every} subs"
    return (
        f"A dither after {how} spoils {say_share(spoiled)} of the subs, with the demo plan's losses, and takes "
        f"{say_share(pause)} more time."
    )


def _one_dark() -> float:
    rig = rig_of(camera__temperature=f"{WARM_DEG_C} deg_C")
    return math.sqrt(_grain2(rig, Calibration(darks=1), math.inf)) / rig.grain_e(SUB_S, SUBS)


EXPERIMENT = Experiment(
    belief="“Darks take the noise away.”",
    ask=Ask(
        key="darks",
        question=(
            f"You take 1 dark off {SUBS} subs, and do not dither. The grain is how many times that of the light alone?"
        ),
        unit="times",
        truth=lambda: _one_dark(),
    ),
    does=f"{SUBS} subs of a warm, uneven chip: without darks, with one, with as many as you like, and with a dither.",
    dials={"darks": Dial(label="Darks", unit="", low=1, high=100, step=0.05, log=True, example="20", start=20)},
    run=run,
)
