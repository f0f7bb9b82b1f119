"""Light is grainy: even light falls on pixels like rain, and its grain is the square root of the count."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from expocalc.base.words import say_given, say_number
from expocalc.frames.measure.picture import stretch
from expocalc.frames.simulate.detector import even_detector
from expocalc.frames.simulate.scene import even_scene
from expocalc.frames.simulate.shoot import sub
from expocalc.gear.gain import GainSetting
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Chart, Experiment, Outcome, Tile, compared, curve_grid

__all__ = ["EXPERIMENT", "run"]

TIMES = (1, 4, 16, 64)
EVEN = 0.01
"""A grain of this share of the light looks even (common practice, no source)."""
START = 100
_SHAPE, _SEED = (96, 96), 101
_PERFECT = GainSetting(
    read_noise="0 electron", electrons_per_adu=1, bias_level=0, full_well="10000000 electron", bits=32
)
"""A camera that counts every electron and adds nothing."""


def run(photons: float) -> Outcome:
    """Even light of this many photons in a pixel, and of more, on a camera that catches each."""
    counts = [photons * times for times in TIMES]
    detector = even_detector(_PERFECT, 0.0, _SHAPE)
    frames = [
        sub(even_scene(count, _SHAPE), detector, 1.0, np.random.default_rng(_SEED + times))
        for count, times in zip(counts, TIMES, strict=True)
    ]
    pixels = _SHAPE[0] * _SHAPE[1]
    planned = tuple(1 / math.sqrt(count) for count in counts)
    measured = tuple(float(frame.std(ddof=1) / frame.mean()) if frame.any() else math.nan for frame in frames)
    # standard error of a standard deviation of Poisson numbers, and of a mean (Kendall & Stuart, ch. 10)
    sigma = tuple(
        share * math.sqrt((2 + 1 / count) / 4 / pixels + 1 / count / pixels)
        for share, count in zip(planned, counts, strict=True)
    )
    root = math.sqrt(photons)
    line = curve_grid(1, 1e6)
    return Outcome(
        takeaway=(
            f"{say_number(photons).removesuffix('.0')} photon{'s' if photons > 1 else ''} on average: pixels differ by "
            f"about {say_number(root).removesuffix('.0')}, which is "
            f"{_percent(1 / root)}. Four times the light halves that to {_percent(0.5 / root)}."
        ),
        take_home="The grain is the square root of the count. Four times the light: half the grain, as a share of it.",
        holds=planned[0] <= EVEN,
        basis=("Each picture shows perfectly even light, from black (none) to white (twice the average)."),
        tiles=tuple(
            Tile(
                brightness=stretch(frame / count, 0.0, 2.0),
                words=f"{'' if times == 1 else f'{times} × the light: '}{say_number(count, 3)} photons each",
                describes=f"even light with a grain of {_percent(share)} of its brightness",
            )
            for frame, count, times, share in zip(frames, counts, TIMES, planned, strict=True)
        ),
        table=compared(
            "How much pixels differ, as a share of the light",
            "grain, share of the light",
            tuple(f"{times} ×" for times in TIMES),
            planned,
            measured,
            sigma,
            {
                "photons in a pixel": tuple(say_number(count, 3) for count in counts),
                "square root": tuple(say_number(math.sqrt(count), 3) for count in counts),
            },
        ),
        planned=planned,
        measured=measured,
        sigma=sigma,
        chart=Chart(
            title="The more light, the finer the grain",
            x_label="photons in a pixel",
            y_label="grain, share of the light",
            describes=(
                "Grain as a share of the light falls with the square root of the photons; four points lie on the line."
            ),
            x=line,
            curves={"1 / √photons": 1 / np.sqrt(line)},
            points=tuple(zip(counts, measured, strict=True)),
        ),
    )


def _percent(share: float) -> str:
    """In three figures, so that a half is seen to be one."""
    return f"{say_given(100 * share)} %"


@cache
def _start() -> Outcome:
    return run(START)


EXPERIMENT = Experiment(
    belief="“Even light gives an even picture.”",
    ask=Ask(
        key="four-times-light",
        question=(
            "Four times as much light falls on each pixel. The grain, as a share of the light, becomes how many times "
            "as large?"
        ),
        unit="times",
        truth=lambda: _start().planned[1] / _start().planned[0],
        mark=lambda times: (4 * START, times * _start().planned[0]),
    ),
    does="Even light falls on a perfect camera: once, and with 4, 16 and 64 times as much of it.",
    dials={
        "photons": Dial(
            label="Photons in a pixel",
            unit="",
            low=1,
            high=10000,
            step=0.05,
            log=True,
            example="100",
            start=START,
        ),
    },
    run=run,
)
