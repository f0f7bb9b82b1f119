"""What the counts tell of losses, and which sub length and cadence follow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_number, say_span
from expocalc.budget.counts import Count
from expocalc.night.cadence import CADENCES, Cadence, best_cadence
from expocalc.night.losses import Interval, Losses, learn_losses
from expocalc.night.night import Tonight
from expocalc.night.worth import reference_of
from expocalc.plan import Plan, Where
from workbook.parts.table import Table

__all__ = ["Dither", "counts_table", "dither", "dither_table", "learned_changes", "with_count", "without_counts"]

DRAWN = (1, 2, 4, 8)
"""Cadences that have a curve."""


@dataclass(frozen=True, eq=False)
class Dither:
    """Hours against sub length for a few cadences, in the filter in view.

    Attributes
    ----------
    filter_name : str
        As it is shown.
    sub_s : ndarray
        [s]
    cadences : tuple of int
    hours : tuple of ndarray
        One per cadence. [h]
    found : Cadence or None
        None where no hours reach the goal.
    losses : Losses or None
        None without counts.
    sentences : tuple of str
    """

    filter_name: str
    sub_s: Floats
    cadences: tuple[int, ...]
    hours: tuple[Floats, ...]
    found: Cadence | None
    losses: Losses | None
    sentences: tuple[str, ...]


def dither(night: Tonight, filter_name: str) -> Dither:
    """What is drawn and said of losses."""
    case = night.case
    filter_ = next(f for f in case.filters if f.name == filter_name)
    counts = case.routine.counts
    losses = learn_losses(counts) if counts else None
    reference = reference_of(case, filter_)
    name = reference.shown
    nothing = Losses(None, None, _NONE, "", np.empty((0, 2))) if losses is None else losses
    said = (losses.sentence if losses else _NO_COUNTS,)
    if reference.light is None or not np.isfinite(reference.need_h):
        return Dither(name, np.array([]), (), (), None, losses, (*said, f"{name} reaches no goal here."))
    found = best_cadence(case, reference, nothing)
    shown = tuple(every for every in CADENCES if every in DRAWN)
    rows = tuple(found.hours[CADENCES.index(every)] for every in shown)
    return Dither(name, found.sub_s, shown, rows, found, losses, (*said, _best(found, name), _cost(night, found)))


_NO_COUNTS = (
    "Count the subs that you took and those that were spoiled: two sessions of different sub length or dither cadence "
    "tell what dithers and what hours cost. Until then the plan's own losses hold."
)
_NONE = Interval(low=0.0, middle=0.5, high=1.0)
"""Share of spoiled subs where none were counted: from none to all."""


def _best(found: Cadence, filter_name: str) -> str:
    length = say_span(say_duration(found.low_s), say_duration(found.high_s))
    every = say_span(str(found.low_every), str(found.high_every))
    return f"In {filter_name} the fewest hours take subs of {length} and a dither every {every} subs."


def _cost(night: Tonight, found: Cadence) -> str:
    """What the plan's own cadence costs against the best, at the sub length nearest to the best."""
    every = night.case.routine.dither_every
    if every is None:
        return ""
    nearest = min(CADENCES, key=lambda one: abs(one - every))
    ours, best = float(found.hours[CADENCES.index(nearest)].min()), float(found.hours.min())
    if ours <= best * 1.005:
        return f"Your dither every {every} subs costs nothing against that."
    return f"Your dither every {every} subs costs {say_number(100 * (ours / best - 1))} % more hours."


def with_count(
    plan: Plan, sub_length: str, every: str, taken: str, spoiled: str
) -> dict[Where, list[dict[str, object]]]:
    """The plan's change for one more session, from typed texts; ValueError in one sentence."""
    entry: dict[str, object] = {"sub_length": sub_length.strip()}
    if every.strip().lower() not in ("", "never"):
        entry["dither_every"] = _whole("Dither every", every, "2")
    entry["taken"], entry["spoiled"] = _whole("Taken", taken, "120"), _whole("Spoiled", spoiled, "6")
    return {("routine", "counts"): [*_entries(plan), entry]}


def _whole(name: str, text: str, example: str) -> int:
    try:
        return int(text)
    except ValueError:
        msg = f'{name} must be a whole number, got "{text[:40]}"; write it like {example}'
        raise ValueError(msg) from None


def without_counts(plan: Plan) -> dict[Where, object]:
    """The plan's change for no sessions at all, or without the last one where there are several."""
    left = _entries(plan)[:-1]
    return {("routine", "counts"): left or None}


def _entries(plan: Plan) -> list[dict[str, object]]:
    return [dict(one) for one in plan.values.get("routine", {}).get("counts", [])]


def learned_changes(losses: Losses | None) -> dict[Where, object]:
    """The plan's change that puts the losses that were learned into it; ValueError where they are not known apart."""
    if losses is None or losses.per_dither is None or losses.per_hour is None:
        msg = "These counts don't tell the two losses apart yet; add a session of another length or cadence"
        raise ValueError(msg)
    return {
        ("routine", "lost_per_dither"): float(f"{losses.per_dither.middle:.3g}"),
        ("routine", "lost_per_hour"): float(f"{losses.per_hour.middle:.3g}"),
    }


def counts_table(counts: Sequence[Count]) -> Table:
    """The sessions as they stand in the plan."""
    rows = tuple(
        (
            say_duration(float(one.sub_length.value)),
            "never" if one.dither_every is None else f"every {one.dither_every}",
            str(one.taken),
            str(one.spoiled),
        )
        for one in counts
    )
    return Table(caption="Sessions that were counted", head=("Sub", "Dither", "Taken", "Spoiled"), rows=rows)


def dither_table(shown: Dither) -> Table:
    """Hours by sub length and cadence."""
    wanted = np.unique(np.linspace(0, max(shown.sub_s.size - 1, 0), 12).astype(int)) if shown.sub_s.size else []
    rows = tuple(
        (say_duration(float(shown.sub_s[at])), *(say_duration(3600 * float(row[at])) for row in shown.hours))
        for at in wanted
    )
    head = ("Sub", *(f"dither every {every}" for every in shown.cadences))
    return Table(caption=f"Equivalent dark hours to the goal at best in {shown.filter_name}", head=head, rows=rows)
