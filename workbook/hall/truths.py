"""What each guess should have been: worked out by the experiment that it is about, as its dials stand at first."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from types import MappingProxyType

import numpy as np

from expocalc.base.quantity import read_quantity
from workbook.workshop.experiments import EXPERIMENTS
from workbook.workshop.experiments.outcome import Outcome

__all__ = ["TRUTHS", "truth"]


def _correlation(outcome: Outcome) -> float:
    """How alike neighbours are in the second picture."""
    picture = outcome.tiles[1].brightness
    return float(np.corrcoef(picture[:, :-1].ravel(), picture[:, 1:].ravel())[0, 1])


def _left_of_the_grain(outcome: Outcome) -> float:
    """Grain on the town's frames after the sky was taken off, over what all of the sky's light makes."""
    return outcome.measured[0] / outcome.planned[0]


def _enough_percent(outcome: Outcome) -> float:
    """Lowest peak whose SNR is within 2 % of that at a third. [%]"""
    peaks = [float(row[0].split()[0]) for row in outcome.table.rows]
    return min(peak for peak, snr in zip(peaks, outcome.planned, strict=True) if snr >= 0.98 * outcome.planned[-1])


def _dark_sub_over_town(outcome: Outcome) -> float:
    town, _, dark = (read_quantity("Sub", row[1], "s") for row in outcome.table.rows)
    return dark / town


def _of(number: float, *steps: tuple[float, str], beyond: str) -> str:
    """Word of the first step that the number does not exceed."""
    return next((word for most, word in steps if number <= most), beyond)


Truth = Callable[[Outcome], float | str]
TRUTHS: Mapping[str, tuple[str, Truth]] = MappingProxyType(
    {
        "four-times-light": ("photon rain", lambda o: o.planned[1] / o.planned[0]),
        "sky-off": (
            "subtracted sky",
            lambda o: _of(_left_of_the_grain(o), (0.2, "It goes away"), (0.8, "It is halved"), beyond="It stays"),
        ),
        "short-subs": ("short or long", lambda o: 100 * ((o.planned[0] / o.planned[1]) ** 2 - 1)),
        "one-third": (
            "histogram",
            lambda o: _of(
                _enough_percent(o), (5, "At a few per cent is enough"), (15, "At a tenth"), beyond="At a third"
            ),
        ),
        "more-gain": (
            "gain",
            lambda o: _of(
                float(o.table.rows[1][2]) / float(o.table.rows[0][2]), (0.95, "Fewer"), (1.05, "As many"), beyond="More"
            ),
        ),
        "double-hours": ("hours", lambda o: o.planned[1] / o.planned[0]),
        "per-patch": ("per patch", lambda o: o.planned[3]),
        "smoothing": ("noise reduction", lambda o: _of(_correlation(o), (0.5, "An even grey"), beyond="Soft clouds")),
        "moon-hours": ("Moon", lambda o: (o.planned[0] / o.planned[1]) ** 2),
        "dark-subs": (
            "dark place",
            lambda o: _of(_dark_sub_over_town(o), (0.9, "Shorter"), (1.1, "As long"), beyond="Longer"),
        ),
        "f-ratio": (
            "f-ratio",
            lambda o: _of(
                o.planned[1] / o.planned[0], (0.7, "Much worse"), (1.4, "About the same"), beyond="Much better"
            ),
        ),
    }
)
"""Experiment and rule, by the guess's key; a guess about one's own gear has no truth here."""


@cache
def truth(key: str) -> float | str | None:
    """Value or word that the experiment comes to; None where no experiment tells.

    Parameters
    ----------
    key : str
        Of the guess.

    Examples
    --------
    >>> round(truth("double-hours"), 2), truth("my-hours")
    (1.41, None)
    """
    if key not in TRUTHS:
        return None
    name, rule = TRUTHS[key]
    experiment = EXPERIMENTS[name]
    return rule(experiment.run(**experiment.start))
