"""How much light a night gives: the clock's hours less pauses, less what is thrown away."""

from __future__ import annotations

from dataclasses import dataclass

from expocalc.budget.routine import Routine

__all__ = ["Night", "kept_h", "subs_in"]


@dataclass(frozen=True, kw_only=True)
class Night:
    """A night at the telescope.

    Attributes
    ----------
    dark_h : float
        Hours of darkness. [h]
    sub_s : float
        Length of a sub. [s]
    routine : Routine
        Its dead time and dither.
    stops_min : float
        Time for focus, flip and centring, all together. [min]
    rejected : float
        Share of the subs that is thrown away.
    """

    dark_h: float
    sub_s: float
    routine: Routine
    stops_min: float
    rejected: float


def subs_in(night: Night) -> int:
    """Whole subs that fit into a night.

    Examples
    --------
    >>> subs_in(Night(dark_h=1, sub_s=300, routine=Routine(), stops_min=30, rejected=0.0))
    6
    """
    return int((night.dark_h * 3600 - night.stops_min * 60) / (night.sub_s + night.routine.dead_s))


def kept_h(night: Night) -> float:
    """Hours of light that are kept. [h]"""
    return subs_in(night) * night.sub_s / 3600 * (1 - night.rejected)
