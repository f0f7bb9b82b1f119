"""A nebula that no pixel shows is plain to an eye that pools over a patch."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from expocalc.base.words import say_number
from expocalc.frames.measure.picture import binned, measured_snr
from expocalc.frames.simulate.scene import Mask
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import (
    HINT_SNR,
    PLAIN_SNR,
    Chart,
    Experiment,
    Outcome,
    compared,
    tiles_of,
    visible,
)
from workbook.workshop.experiments.rig import rig_of
from workbook.workshop.experiments.shell import Sight, limits_e, stacks

__all__ = ["EXPERIMENT", "SIDES", "run"]

SIDES = (1, 2, 4, 8)
SUB_S = 300.0
START_H = 6.0
_SEED = 109


@lru_cache(maxsize=8)
def _whole(seen: Sight, side: int) -> tuple[Mask, Mask]:
    """Squares that lie wholly on the shell, and wholly on empty sky."""
    shell, sky = (binned(mask.astype(float), side) == 1 for mask in (seen.shell, seen.sky))
    return shell, sky


def run(hours: float) -> Outcome:
    """One stack of the shell, pixel by pixel and averaged over ever larger squares."""
    rig = rig_of()
    subs = max(1, round(hours * 3600 / SUB_S))
    seen, (picture,) = stacks(rig, SUB_S, (subs,), _SEED)
    pictures, planned, measured, sigma = [], [], [], []
    for side in SIDES:
        shell, sky = _whole(seen, side)
        small = binned(picture, side)
        found = measured_snr(small, shell, sky)
        pictures.append(small)
        # the background's grain stands for the noise here, since few squares lie on the shell
        planned.append(rig.target_e_s * SUB_S * side / rig.grain_e(SUB_S, subs))
        measured.append(found.snr_pixel)
        sigma.append(math.hypot(math.sqrt(1 / shell.sum() + 1 / sky.sum()), planned[-1] / math.sqrt(2 * sky.sum())))
    names = tuple("One pixel" if side == 1 else f"{side} × {side} pixels" for side in SIDES)
    return Outcome(
        takeaway=(
            f"The same {subs * SUB_S / 3600:.3g} h: SNR {say_number(planned[0])} in one pixel, "
            f"{say_number(planned[-1])} in a square of {SIDES[-1]} × {SIDES[-1]}: {visible(planned[0])} in one pixel, "
            f"{visible(planned[-1])} in the square."
        ),
        take_home=(
            "Your eye pools over a patch: the SNR grows with the side of the patch. Twice the side, twice the SNR. "
            "An SNR means little until you say of which patch."
        ),
        holds=planned[0] < HINT_SNR and planned[-1] >= PLAIN_SNR,
        basis="One stack of H-alpha, demo plan, averaged over squares; one stretch for all four.",
        tiles=tiles_of(
            pictures,
            limits_e(rig, SUB_S, rig.grain_e(SUB_S, subs) / 2),
            list(names),
            [f"SNR {say_number(one)} in each square" for one in planned],
        ),
        table=compared("SNR of one square of the shell", "SNR", names, tuple(planned), tuple(measured), tuple(sigma)),
        chart=Chart(
            title="SNR against the side of the square",
            x_label="side of the square, pixels",
            y_label="SNR of the square",
            describes="The SNR grows in step with the side: twice the side is twice the SNR.",
            x=np.array(SIDES, dtype=float),
            curves={"this stack": np.array(planned)},
            points=tuple(zip(map(float, SIDES), measured, strict=True)),
        ),
        planned=tuple(planned),
        measured=tuple(measured),
        sigma=tuple(sigma),
    )


def _snr(side: int) -> float:
    rig = rig_of()
    return rig.target_e_s * SUB_S * side / rig.grain_e(SUB_S, round(START_H * 3600 / SUB_S))


EXPERIMENT = Experiment(
    belief="“What hides in each pixel can be plain in a patch.”",
    ask=Ask(
        key="per-patch",
        question="One pixel of the shell has an SNR of 1. What is the SNR of a square of 8 by 8 pixels?",
        truth=lambda: _snr(SIDES[-1]) / _snr(1),
        mark=lambda snr: (float(SIDES[-1]), snr * _snr(1)),
    ),
    does="One stack of a faint shell, looked at pixel by pixel and in larger squares.",
    dials={
        "hours": Dial(
            label="Hours of light", unit="h", low=1, high=40, step=0.02, log=True, example="6", start=START_H
        ),
    },
    run=run,
)
