"""What the comparison panel draws and says about two plans: numbers and finished words, no widgets."""

from __future__ import annotations

import math
from dataclasses import dataclass

from workbook.compare import words as say
from workbook.compare.facts import facts_table
from workbook.compare.reasons import Reason, reasons, total_hours
from workbook.compare.sides import SIDES, Pair, Side, pairs_of, whole_hours
from workbook.parts.places import nice_above, nice_below
from workbook.parts.table import Table

__all__ = ["Comparison", "Words", "compare", "reasons_table"]

_EVEN = 1.05
"""Hours closer than this factor are no difference that anyone would notice: common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Words:
    """The verdict: which side wins, by how much and why; what speaks against it; what it rests on."""

    headline: str
    others: str
    basis: str


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """All that the panel shows of two plans.

    Attributes
    ----------
    words : Words
    pairs : tuple of Pair
    hours_reach : tuple of float
        Ends of the axis of hours. [h]
    winner : str
        "left" or "right"; "" where there is none.
    reasons : tuple of Reason
        Sections in which the plans differ; empty where no side wins or none differs.
    facts : Table
        Both sides in a few lines.
    differs : bool
        Whether the two plans say different things.
    """

    words: Words
    pairs: tuple[Pair, ...]
    hours_reach: tuple[float, float]
    winner: str
    reasons: tuple[Reason, ...]
    facts: Table
    differs: bool

    @property
    def reasons_title(self) -> str:
        """What the figure of reasons shows."""
        if not self.reasons:
            if not self.pairs:
                return "Nothing to compare"
            if self.differs:
                return "Neither reaches its goal: no hours to weigh"
            return "Nothing differs yet that could be a reason"
        if not self.winner:
            return "Hours of the quicker side with one thing of the other"
        return f"Hours of {self.winner} with one thing of {'left' if self.winner == 'right' else 'right'}"


def compare(left: Side, right: Side, same_h: float) -> Comparison:
    """Compare two plans.

    Parameters
    ----------
    left, right : Side
    same_h : float
        Clock hours for each filter after which both signals are compared. [h]

    Returns
    -------
    Comparison
    """
    lights = left.lights & right.lights
    hours = [total_hours(side.case, side.found, lights) for side in (left, right)] if lights else [math.inf] * 2
    at = 0 if hours[0] <= hours[1] else 1
    why: tuple[Reason, ...] = ()
    if math.isfinite(hours[at]):
        first, second = (left, right) if at == 0 else (right, left)
        why = reasons(first.plan, first.found, second.plan, lights)
    pairs = pairs_of(left, right)
    said = [whole_hours(side, lights) for side in (left, right)]
    wins = math.isfinite(hours[at]) and hours[1 - at] > hours[at] * _EVEN and said[1 - at] > said[at]
    return Comparison(
        words=Words(
            headline=say.headline(pairs, lights, said, at, wins, why, hours[1 - at] / hours[at] if wins else 1.0),
            others=say.others(at, wins, why),
            basis=say.basis(left, right, lights),
        ),
        pairs=pairs,
        hours_reach=_reach(pairs),
        winner=SIDES[at] if wins else "",
        reasons=why,
        facts=facts_table(left, right, same_h),
        differs=left.plan.values != right.plan.values,
    )


def _reach(pairs: tuple[Pair, ...]) -> tuple[float, float]:
    """Ends of the axis, with room for words on both sides; words for what never is take some of the picture's width."""
    told = [h for pair in pairs for h in (pair.left_h, pair.right_h) if h is not None]
    hours = [h for h in told if math.isfinite(h)]
    if not hours:
        return 1.0, 100.0
    return nice_below(min(hours) / (2.5 if len(hours) == len(told) else 5)), nice_above(max(hours) * 2.5)


def reasons_table(found: Comparison) -> Table:
    """Table behind the figure of reasons."""
    loser = "left" if found.winner == "right" else "right"
    return Table(
        caption=f"Hours of {found.winner or 'the quicker side'} with one thing from {loser}, over its own hours",
        head=("Taken from the other side", "Hours", "Why"),
        rows=tuple((reason.section, say.say_times(reason.times), reason.words) for reason in found.reasons),
    )
