"""The night as it was beside its model: whether the air stayed clear, and how bright the sky was."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_number, say_span
from expocalc.frames.tell.course import MODEL, Course
from expocalc.frames.tell.ledger import Entry

__all__ = ["Beside", "beside_model"]

_BEST, _CLEAR = 0.9, 0.05
"""The night's clear moments: within a twentieth of its best tenth, or within three of a sub's own errors."""
_HAZY = 0.95
"""Mean light below this share, beyond its interval, is haze or cloud."""
_TRAILED = 1.5
_LEAST = 3


@dataclass(frozen=True, kw_only=True)
class Beside:
    """One filter's night over its model: value, and the interval that holds it in 68 cases of 100.

    Attributes
    ----------
    light, sky : tuple of float
        Mean of the stars' light over what clear air of the night's best moments lets through at each hour; mean of the
        sky over the model's. Value, low, high. [-]
    """

    light: tuple[float, float, float]
    sky: tuple[float, float, float]

    @property
    def hazy(self) -> bool:
        """Whether light is missing beyond the interval."""
        return self.light[2] < _HAZY

    def words(self, shown: str) -> str:
        """One sentence, with its full stop."""
        air = "hazy or clouded" if self.hazy else "clear"
        light = say_span(*(say_number(100 * one, 3) for one in self.light[1:]))
        sky = say_span(*(say_number(one, 3) for one in self.sky[1:]))
        return (
            f"Beside the night's model in {shown} the air was {air}: {light} % of the stars' light at its best "
            f"moments arrived, and the sky was {sky} times as bright."
        )


def beside_model(entries: Sequence[Entry], course: Course) -> dict[str, Beside]:
    """Each filter's night over its model, by filter; none where the plan alone is known, or too few subs tell it."""
    if course.source != MODEL:
        return {}
    found = {}
    light = np.array([one.transparency for one in entries]) / course.light
    sky = np.array([one.sky_electron_s for one in entries]) / course.sky_e_s
    tells = np.isfinite(light) & np.isfinite(sky) & np.array([one.star_elongation < _TRAILED for one in entries])
    for name in dict.fromkeys(one.filter for one in entries):
        mine = tells & np.array([one.filter == name for one in entries])
        if mine.sum() < _LEAST:
            continue
        found[name] = Beside(light=_mean(light[mine] / _clear(light[mine])), sky=_mean(sky[mine]))
    return found


def _clear(light: Floats) -> float:
    """Light of the clear moments: their mean, since the best sub alone is the luckiest too."""
    top = float(np.quantile(light, _BEST))
    error = 1.4826 * float(np.median(np.abs(np.diff(light)))) / math.sqrt(2)  # haze changes slowly, chance does not
    return float(light[np.abs(light - top) <= max(_CLEAR * top, 3 * error)].mean())


def _mean(values: Floats) -> tuple[float, float, float]:
    mean, error = float(values.mean()), float(values.std(ddof=1)) / math.sqrt(values.size)
    return mean, mean - error, mean + error
