"""The numbers of an experiment as plain lines, for a cell that prints them."""

from __future__ import annotations

from expocalc.base.words import say_number
from workbook.workshop.experiments import EXPERIMENTS
from workbook.workshop.experiments.outcome import CHANCE

__all__ = ["say"]


def say(name: str) -> str:
    """What the formula says of each picture of an experiment, and whether the pictures agree.

    Parameters
    ----------
    name : str
        One of :data:`workbook.workshop.experiments.EXPERIMENTS`, with its dials as they stand first.

    Examples
    --------
    >>> print(say("photon rain"))
    1 ×: grain, share of the light, by the formula 0.100, and the pictures agree
    4 ×: grain, share of the light, by the formula 0.0500, and the pictures agree
    16 ×: grain, share of the light, by the formula 0.0250, and the pictures agree
    64 ×: grain, share of the light, by the formula 0.0125, and the pictures agree
    """
    experiment = EXPERIMENTS[name]
    found = experiment.run(**experiment.start)
    lines = []
    for row, formula, counted, error in zip(found.table.rows, found.planned, found.measured, found.sigma, strict=True):
        agree = "agree" if abs(counted - formula) < CHANCE * error else "do not agree"
        lines.append(f"{row[0]}: {found.table.head[-2]} {say_number(formula, 3)}, and the pictures {agree}")
    return "\n".join(lines)
