"""The numbers of an experiment as plain lines, for a cell that prints them."""

from __future__ import annotations

from expocalc.base.words import say_number
from workbook.workshop.experiments import EXPERIMENTS

__all__ = ["say"]

_CHANCE = 4.0
"""Standard errors within which frames agree with the plan."""


def say(name: str) -> str:
    """What the plan says of each picture of an experiment, and whether the frames agree.

    Parameters
    ----------
    name : str
        One of :data:`workbook.workshop.experiments.EXPERIMENTS`, with its dials as they stand first.

    Examples
    --------
    >>> print(say("photon rain"))
    1 ×: grain, share of the light, by the plan 0.100, and the frames agree
    4 ×: grain, share of the light, by the plan 0.0500, and the frames agree
    16 ×: grain, share of the light, by the plan 0.0250, and the frames agree
    64 ×: grain, share of the light, by the plan 0.0125, and the frames agree
    """
    experiment = EXPERIMENTS[name]
    found = experiment.run(**experiment.start)
    lines = []
    for row, plan, frames, error in zip(found.table.rows, found.planned, found.measured, found.sigma, strict=True):
        agree = "agree" if abs(frames - plan) < _CHANCE * error else "do not agree"
        lines.append(f"{row[0]}: {found.table.head[-2]} {say_number(plan, 3)}, and the frames {agree}")
    return "\n".join(lines)
