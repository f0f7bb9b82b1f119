"""Noise reduction invents: it makes clouds out of grain, and two halves of the stack disagree about them."""

from __future__ import annotations

import math

import numpy as np

from expocalc.frames.measure.picture import smoothed
from expocalc.frames.simulate.stack import stacks_of
from expocalc.gear.image import FWHM_PER_SIGMA
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import CHANCE, Experiment, Outcome, compared, tiles_of
from workbook.workshop.experiments.rig import H_ALPHA, rig_of
from workbook.workshop.experiments.shell import detector_of, sight

__all__ = ["EXPERIMENT", "run"]

SUB_S, HALF = 300.0, 24
_SEED = 110


def run(width_px: float, brightness_r: float) -> Outcome:
    """Two halves of a stack, smoothed by this width, of a nebula of this brightness or of none."""
    rig = rig_of(H_ALPHA, brightness_r)
    seen = sight(rig, star_times=0.0)
    detector = detector_of(rig)
    halves = [stacks_of(seen.scene, detector, SUB_S, (HALF,), np.random.default_rng(_SEED + at))[0] for at in (0, 1)]
    whole = sum(halves) / 2 - rig.sky_e_s * SUB_S
    soft = [smoothed(half - rig.sky_e_s * SUB_S, width_px) for half in halves]
    both = sum(soft) / 2
    nebula = smoothed((seen.scene.light_e_s - rig.sky_e_s) * SUB_S, width_px)
    # what both halves share is the nebula; the rest of each half is grain, which smoothing thins by 2 sqrt(pi) sigma
    sigma_px = max(width_px / FWHM_PER_SIGMA, 1 / (2 * math.sqrt(math.pi)))
    grain2 = (
        (rig.sky_e_s + rig.dark_e_s + float(seen.scene.light_e_s.mean()) - rig.sky_e_s) * SUB_S + rig.read_e2
    ) / HALF
    grain2 /= 4 * math.pi * sigma_px**2
    shared = float(nebula.var()) / (float(nebula.var()) + grain2)
    found = float(np.corrcoef(soft[0].ravel(), soft[1].ravel())[0, 1])
    independent = soft[0].size / (8 * math.pi * sigma_px**2)
    spread = 2.5 * math.sqrt(grain2 / 2 + float(nebula.var()))
    middle = float(nebula.mean())
    chance = CHANCE / math.sqrt(independent)
    there = found > chance
    agree = f"{max(found, 0.0):.2f}"  # less than not at all is chance
    told = (
        f"More than chance gives ({chance:.2f} at most): something is there, and both halves show it."
        if there
        else f"Chance alone gives up to {chance:.2f}: the halves do not show the same. The clouds are made of grain"
        + (", or the glow is too faint for these hours." if brightness_r else ".")
    )
    return Outcome(
        takeaway=f"The two halves agree by {agree} (0 is not at all, 1 is fully). {told}",
        take_home=(
            "Smoothing makes soft clouds out of grain, whether or not a thing is there. Believe what both halves of "
            "your subs show."
        ),
        holds=there,
        basis=(
            f"Two halves of {HALF * SUB_S / 3600:g} h each, smoothed over {width_px:g} pixels. The last three share "
            "one stretch; the first has its own, for its grain is far coarser."
        ),
        tiles=(
            *tiles_of(
                [whole],
                (middle - 3 * whole.std(), middle + 3 * whole.std()),
                ["Whole stack, as it is"],
                ["even grain"],
            ),
            *tiles_of(
                [both, *soft],
                (middle - spread, middle + spread),
                ["Whole stack, smoothed", "First half, smoothed", "Second half, smoothed"],
                [
                    "soft clouds" + (" and the ring" if there else ""),
                    "soft clouds",
                    f"soft clouds that agree with the first half by {agree}",
                ],
            ),
        ),
        table=compared(
            "How far the halves agree",
            "agreement",
            ("Two halves",),
            (shared,),
            (max(found, 0.0),),
            ((1 - shared**2) / math.sqrt(independent),),
            {"brightness of the nebula": (f"{brightness_r:g} R",)},
        ),
        planned=(shared,),
        measured=(found,),
        sigma=((1 - shared**2) / math.sqrt(independent),),
    )


DIALS = {
    "width_px": Dial(label="Smoothed over", unit="pixel", low=1, high=12, step=0.5, example="6", start=6),
    "brightness_r": Dial(label="Glow of a nebula", unit="R", low=0, high=30, step=1, example="0", start=0),
}


def _truth() -> str:
    """By how alike neighbours are in the smoothed stack of an empty sky."""
    picture = run(**{name: dial.start for name, dial in DIALS.items()}).tiles[1].brightness
    alike = float(np.corrcoef(picture[:, :-1].ravel(), picture[:, 1:].ravel())[0, 1])
    return "Soft clouds" if alike > 0.5 else "An even grey"


EXPERIMENT = Experiment(
    belief="“Noise reduction brings out the faint nebula.”",
    ask=Ask(
        key="smoothing",
        question="You smooth a stack of empty sky. What will you see?",
        choices=("An even grey", "Soft clouds", "A ring"),
        truth=lambda: _truth(),
    ),
    does="A stack of empty sky is smoothed. Do its clouds come back in the other half of the subs?",
    dials=DIALS,
    run=run,
)
