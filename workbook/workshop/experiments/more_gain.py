"""Gain makes numbers bigger. It makes no light."""

from __future__ import annotations

from dataclasses import replace

from expocalc.base.words import say_duration, say_number, say_share
from expocalc.frames.measure.picture import stretch
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Experiment, Outcome, Tile, compared
from workbook.workshop.experiments.rig import demo, rig_of
from workbook.workshop.experiments.shell import limits_e, shoot, snrs

__all__ = ["EXPERIMENT", "run"]

HOURS = 5.0
NAMES = ("low", "high")
HARDLY = 0.05
"""A share of the SNR that is hard to see."""
START = 300.0
_SEED = 105


def run(sub_s: float) -> Outcome:
    """The same light at the two gains of the demo plan's camera, as it stands in the file and in electrons."""
    rigs = [replace(rig_of(), setting=demo().case.camera.gains[name]) for name in NAMES]
    subs = max(1, round(HOURS * 3600 / sub_s))
    shots = [shoot(rig, sub_s, (subs,), _SEED + at)[0] for at, rig in enumerate(rigs)]
    steps = [rig.setting.electrons_per_adu for rig in rigs]
    low, high = limits_e(rigs[0], sub_s, 1.5 * rigs[0].grain_e(sub_s, subs))
    signals = [shot.sight.signal_e(shot.picture) for shot in shots]
    wells = [float(rig.setting.full_well.value) for rig in rigs]
    in_file = [
        Tile(
            brightness=stretch(shot.picture / step, 0.0, high / steps[1]),
            words=f"{name.capitalize()} gain, numbers in the file",
            describes=f"the sky is {say_number(rigs[0].sky_e_s * sub_s / step)} units bright",
        )
        for name, shot, step in zip(NAMES, shots, steps, strict=True)
    ]
    in_electrons = [
        Tile(
            brightness=stretch(shot.picture, low, high),
            words=f"{name.capitalize()} gain, counted in electrons",
            describes=f"the shell, a ring, at SNR {say_number(shot.planned)}",
        )
        for name, shot in zip(NAMES, shots, strict=True)
    ]
    sky_e = rigs[0].sky_e_s * sub_s
    won = shots[1].planned / shots[0].planned - 1
    alike = rigs[1].read_by(float(rigs[0].setting.read_noise.value)).snr(sub_s, subs)
    return Outcome(
        takeaway=(
            f"High gain writes {say_number(steps[0] / steps[1])} times the numbers for the same "
            f"{say_number(sky_e)} electrons "
            f"of sky. The light is the same. The SNR goes from {say_number(shots[0].planned, 3)} to "
            f"{say_number(shots[1].planned, 3)}, because read noise falls from "
            f"{rigs[0].setting.read_noise.value:g} to {rigs[1].setting.read_noise.value:g} electrons: in subs of "
            f"{say_duration(sub_s)} that {_matters(won)}. With the read noise left as it was, the "
            f"SNR would be {say_number(alike, 3)}."
        ),
        take_home=(
            f"Gain makes numbers, not light: each pixel still caught {say_number(sky_e)} electrons of sky. What a "
            "higher gain can change is the read noise, which counts in short subs, and how much a pixel holds: "
            f"{wells[1]:g} electrons here, not {wells[0]:g}."
        ),
        holds=False,
        basis=(
            f"{HOURS:g} h of H-alpha, {subs} subs of {say_duration(sub_s)}. Each pair of pictures shares one stretch."
        ),
        tiles=(*in_file, *in_electrons),
        table=compared(
            "SNR of a patch at two gains",
            "SNR",
            NAMES,
            **snrs(shots),
            more={
                "sky, units in the file": tuple(say_number(sky_e / step, 3) for step in steps),
                "sky, electrons": tuple(say_number(float(s.picture[s.sight.sky].mean()), 3) for s in shots),
                "shell, electrons": tuple(say_number(one, 2) for one in signals),
                "a pixel holds, electrons": tuple(f"{well:g}" for well in wells),
            },
        ),
        **snrs(shots),
    )


def _matters(won: float) -> str:
    return "hardly counts" if won < HARDLY else f"counts: {say_share(won)} more SNR"


def _truth() -> str:
    """By the electrons of sky on the frames at both gains."""
    low, high = (float(row[2]) for row in run(START).table.rows)
    return "Fewer" if high < 0.95 * low else "More" if high > 1.05 * low else "As many"


EXPERIMENT = Experiment(
    belief="“More gain catches more light.”",
    ask=Ask(
        key="more-gain",
        question="You turn the gain up. How many electrons of sky are in each pixel?",
        choices=("More", "As many", "Fewer"),
        truth=lambda: _truth(),
    ),
    does="The same light at the two gains of one camera: first the numbers in the file, then electrons.",
    dials={
        "sub_s": Dial(
            label="Length of a sub", unit="s", low=5, high=600, step=0.02, log=True, example="300", start=START
        ),
    },
    run=run,
)
