"""The five questions of the slip; the model answers them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from expocalc.budget.noise import shortest_sub_s, sub_variance_e2
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.reach import subs_for_snr
from expocalc.budget.stack import snr_per_pixel
from workbook.workshop.numbers import read_number_kindly

__all__ = ["QUESTIONS", "SlipQuestion"]


@dataclass(frozen=True, kw_only=True)
class SlipQuestion:
    """One question, its answer, and how far off an answer may be.

    Attributes
    ----------
    key : str
    question : str
    unit : str
    answer : callable
        Works it out from the model.
    within : float
        Share by which an answer may be off.
    """

    key: str
    question: str
    unit: str
    answer: Callable[[], float]
    within: float

    def is_right(self, text: str) -> bool:
        """Whether a typed text answers it; a word or nothing does not."""
        try:
            return abs(read_number_kindly(text, self.unit) / self.answer() - 1) <= self.within
        except ValueError:
            return False


def _scatter() -> float:
    return float(np.sqrt(sub_variance_e2(1.0, 100.0, 0.0)))


def _snr_of_double_hours() -> float:
    faint = Patch(side_px=1.0, sub_s=300.0, signal_e_s=np.array([0.01]), light_e_s=np.array([1.0]))
    one, two = (float(snr_per_pixel(faint, Habits(), subs)) for subs in (60, 120))
    return two / one


def _subs_needed(sky_e_s: float) -> float:
    """Subs for a faint thing where the sky alone makes the grain: no read noise."""
    faint = Patch(side_px=1.0, sub_s=300.0, signal_e_s=np.array([1e-4]), light_e_s=np.array([sky_e_s]))
    return float(subs_for_snr(faint, Habits(), 10.0))


def _hours_of_dark_sky() -> float:
    return _subs_needed(1.0) / _subs_needed(0.1)


def _sub_of_double_read_noise() -> float:
    short, long = (float(shortest_sub_s(0.1, noise**2, 0.05)) for noise in (1.5, 3.0))
    return long / short


def _moonlit_hours() -> float:
    return 6 * _subs_needed(1.0) / _subs_needed(3.0)


QUESTIONS: tuple[SlipQuestion, ...] = (
    SlipQuestion(
        key="grain", unit="", answer=_scatter, within=0.1,
        question="A pixel catches 100 photons on average. About how far do its counts stray from that?",
    ),
    SlipQuestion(
        key="hours", unit="times", answer=_snr_of_double_hours, within=0.05,
        question="You shoot for twice as many hours. How many times better is the SNR?",
    ),
    SlipQuestion(
        key="dark-sky", unit="times", answer=_hours_of_dark_sky, within=0.05,
        question=(
            "You drive to a sky that is 10 times darker. For a faint nebula, how many times fewer hours do you need?"
        ),
    ),
    SlipQuestion(
        key="read-noise", unit="times", answer=_sub_of_double_read_noise, within=0.05,
        question="A friend's camera has twice your read noise. How many times as long must a sub be?",
    ),
    SlipQuestion(
        key="moon", unit="hours", answer=_moonlit_hours, within=0.1,
        question="The Moon makes your sky 3 times brighter. How many dark hours are 6 of these moonlit hours worth?",
    ),
)  # fmt: skip
"""The same before and after."""
