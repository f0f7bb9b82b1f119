"""What each guess should have been: worked out by the experiment that asks for it, as its dials stand at first."""

from __future__ import annotations

from functools import cache

from workbook.workshop.ask import Ask
from workbook.workshop.experiments import EXPERIMENTS
from workbook.workshop.opening import ASK

__all__ = ["asks", "truth"]


def asks() -> dict[str, Ask]:
    """Questions that have a truth, by their keys; a guess about one's own gear has none."""
    return {one.key: one for one in (ASK, *(experiment.ask for experiment in EXPERIMENTS.values()))}


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
    one = asks().get(key)
    return None if one is None else one.truth()
