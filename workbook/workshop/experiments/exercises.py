"""One exercise for each lesson; the model works out the answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

from expocalc.budget.routine import Routine
from workbook.workshop.exercise import Exercise
from workbook.workshop.experiments import photon_rain
from workbook.workshop.experiments.night_count import Night, kept_h, subs_in
from workbook.workshop.experiments.rig import SIDE_PX, rig_of

__all__ = ["EXERCISES", "MOON_H", "MOON_TIMES", "NIGHT", "SUB_MIN", "Task", "exercise"]

SUB_MIN = 3.0
SNR_AT, AFTER_H = 10.0, 4.0
MOON_TIMES, MOON_H = 2.8, 4.0
_FAINT_E_S = 1e-6
NIGHT = Night(
    dark_h=8.0,
    sub_s=300.0,
    routine=Routine(dead_time="2 s", dither_every=3, dither_time="20 s"),
    stops_min=5 * 3 + 8 + 5,
    rejected=0.12,
)


@dataclass(frozen=True, kw_only=True)
class Task:
    """An exercise; the fields are those of :class:`workbook.workshop.exercise.Exercise`."""

    question: str
    answer: Callable[[], float]
    low: float
    high: float
    unit: str
    why: str
    hints: tuple[str, str]


def _grain_percent() -> float:
    return 100 * photon_rain.run(10000.0).planned[0]


def _sub_min() -> float:
    """Shortest sub of twice the read noise, where that of the read noise itself takes so many minutes."""
    rig, read_noise_e = rig_of(), float(rig_of().setting.read_noise.value)
    one, two = (rig.read_by(times * read_noise_e).shortest_sub_s() for times in (1, 2))
    return SUB_MIN * two / one


def _hours() -> float:
    """Hours for twice the SNR, of a shell that has the given SNR after the given hours."""
    rig = rig_of()
    side = SNR_AT / rig.snr(300.0, AFTER_H * 12, SIDE_PX) * SIDE_PX
    return rig.hours(300.0, 2 * SNR_AT, side)


def _dark_hours() -> float:
    """Hours without the Moon that give the SNR of the moonlit ones, where the sky makes all of the grain."""
    rig = replace(rig_of(), dark_e_s=0.0).with_target(_FAINT_E_S).read_by(0.0)
    lit = replace(rig, sky_e_s=MOON_TIMES * rig.sky_e_s)
    return rig.hours(300.0, lit.snr(300.0, MOON_H * 12))


EXERCISES: Mapping[int, Task] = MappingProxyType(
    {
        1: Task(
            question="Each pixel gets 10 000 photons on average. How large is the grain, in per cent of the light?",
            answer=_grain_percent,
            low=0.9,
            high=1.1,
            unit="%",
            why="The square root of 10 000 is 100, and 100 of 10 000 is 1 %.",
            hints=(
                "Set the box of the first experiment to 10000, and look at the first picture's numbers.",
                "The grain is the square root of the count. What share of the count is that?",
            ),
        ),
        2: Task(
            question=(
                f"A camera with 1.4 electrons of read noise needs subs of {SUB_MIN:g} minutes under your sky. "
                "Another one has twice the "
                "read noise, 2.8 electrons. How long must its subs be?"
            ),
            answer=_sub_min,
            low=11,
            high=13,
            unit="min",
            why=f"Read noise counts times itself. Twice as much asks for subs four times as long: 4 times {SUB_MIN:g}.",
            hints=(
                "Read noise counts times itself. What is 2.8 times 2.8, over 1.4 times 1.4?",
                "The sky in a sub must grow by that same factor, so the sub must too.",
            ),
        ),
        3: Task(
            question="After 4 hours a patch has an SNR of 10. How many hours in all until its SNR is 20?",
            answer=_hours,
            low=15.5,
            high=16.5,
            unit="h",
            why="Twice the SNR takes four times the hours: 4 times 4 is 16.",
            hints=(
                "SNR grows like the square root of the hours.",
                "Which number has 2 as its square root? Take so many times the 4 hours.",
            ),
        ),
        4: Task(
            question=(
                f"The Moon makes the sky {MOON_TIMES:g} times as bright in your filter. You shoot for {MOON_H:g} hours "
                "in its light. Take all of the grain to be the sky's. How many hours without the Moon would be worth "
                "the same?"
            ),
            answer=_dark_hours,
            low=1.35,
            high=1.55,
            unit="h",
            why=(
                f"Hours pay for the square of the grain, and that goes with the sky: {MOON_H:g} over {MOON_TIMES:g} "
                "is 1.4."
            ),
            hints=(
                f"The square of the grain goes up as the sky does: {MOON_TIMES:g} times.",
                "Divide the hours by that factor.",
            ),
        ),
        5: Task(
            question=(
                "Eight hours of dark. Subs of 300 s, 2 s to save each, 20 s to move the aim after "
                "every third. Focus five times "
                "for 3 minutes, turn the mount over for 8, centre for 5. Later you throw away 12 % "
                "of the subs. How many hours "
                "of light do you keep?"
            ),
            answer=lambda: kept_h(NIGHT),
            low=6.1,
            high=6.7,
            unit="h",
            why=(
                f"{subs_in(NIGHT)} subs fit, which is {subs_in(NIGHT) * NIGHT.sub_s / 3600:g} hours; 88 % "
                f"of that is {kept_h(NIGHT):.1f}."
            ),
            hints=(
                "Take the stops off first: 15, 8 and 5 minutes. Then see how long one sub takes with its pauses.",
                "One sub takes 300 + 2 + 20/3 seconds. Count how many fit, times 300 s, times 0.88.",
            ),
        ),
    }
)
"""By the lesson's number."""


def exercise(lesson: int, folder: str | Path = ".") -> Exercise:
    """The exercise of a lesson as the last line of its cell."""
    return Exercise(f"exercise-{lesson}", folder=folder, **vars(EXERCISES[lesson]))
