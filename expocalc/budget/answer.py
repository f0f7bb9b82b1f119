"""The answer to a case: one row per filter and light, one summary per filter."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

import numpy as np

from expocalc.base.noun import suggest
from expocalc.budget.case import Case
from expocalc.budget.limits import limits_of
from expocalc.budget.rates import Rates, rates
from expocalc.budget.row import Answer, FilterAnswer, Row
from expocalc.budget.solved import REASONS, Solved, solve
from expocalc.budget.terms import Terms, terms_of
from expocalc.gear.filter import Filter

__all__ = ["answer", "answer_filter", "filter_named"]


_WHOLE = ("shot", "kept")


def answer(case: Case) -> Answer:
    """Answer for all filters of a case.

    Parameters
    ----------
    case : Case

    Returns
    -------
    Answer
        A filter that passes none of the target's light has one row without light and hours.
    """
    return _answer(case, case.filters)


def answer_filter(case: Case, filter_: Filter) -> tuple[FilterAnswer, tuple[Row, ...]]:
    """Answer for one filter.

    Parameters
    ----------
    case : Case
    filter_ : Filter

    Returns
    -------
    FilterAnswer, tuple of Row
    """
    found = _answer(case, (filter_,))
    return found.filters[0], found.rows


def _answer(case: Case, filters: Sequence[Filter]) -> Answer:
    terms, delivered = terms_of(case), [rates(case, filter_) for filter_ in filters]
    rows = _rows(solve(case, terms, delivered), filters, delivered)
    summaries = []
    for filter_, rate in zip(filters, delivered, strict=True):
        own = tuple(row for row in rows if row.filter_name == filter_.name)
        most = max(own, key=_need)
        words = partial(_words, case, terms, filter_, rate, own, most)
        summaries.append(FilterAnswer(neediest=most, words=words, rates=rate))
    return Answer(title=case.title, filters=tuple(summaries), rows=rows)


def _words(case: Case, terms: Terms, filter_: Filter, rate: Rates, own: tuple[Row, ...], most: Row) -> tuple[str, ...]:
    from expocalc.budget.edges import edges  # most answers are asked for their numbers alone
    from expocalc.budget.verdict import verdict

    said = verdict(case, rate, own, limits_of(terms, rate), most)
    return (*said, *(edge.sentence for edge in edges(case, filter_)))


def _need(row: Row) -> tuple[float, float]:
    """What a light asks for: subs to shoot, and kept ones; no number of them is the most."""
    return tuple(math.inf if subs is None else subs for subs in (row.kept, row.shot))  # type: ignore[return-value]


def _rows(solved: Solved, filters: Sequence[Filter], delivered: Sequence[Rates]) -> tuple[Row, ...]:
    count = len(solved.lights)
    colours, reasons = (np.zeros(count, dtype=int) + places for places in (solved.colour, solved.bounded_by))
    names = (None,) if len(delivered[0].colours) == 1 else delivered[0].colours
    rows = []
    each = zip(_each(solved.numbers, count), _each(solved.shares, count), strict=True)
    for at, (numbers, shares) in enumerate(each):
        filter_, light = solved.lights[at]
        said: dict[str, Any] = {name: None if x != x else x for name, x in numbers.items()}  # NaN alone is not itself
        said |= {name: None if said[name] is None else int(said[name]) for name in _WHOLE}
        rows.append(
            Row(
                filter_name=filters[filter_].name,
                filter_shown=filters[filter_].shown_name,
                light=light,
                colour=None if light is None else names[colours[at]],
                noise_share=shares,
                bounded_by=REASONS[reasons[at]],
                **said,
            )
        )
    return tuple(rows)


def _each(values: Mapping[str, Any], count: int) -> list[dict[str, float]]:
    """The numbers of each row by their names."""
    columns = [
        (numbers if getattr(numbers, "shape", ()) == (count,) else np.full(count, numbers)).tolist()
        for numbers in values.values()
    ]
    return [dict(zip(values, row, strict=True)) for row in zip(*columns, strict=True)]


def filter_named(case: Case, name: str) -> Filter:
    """The case's filter of that name; ValueError with the near name where there is none."""
    names = [f.name for f in case.filters]
    if name not in names:
        msg = f"filter must be one of {', '.join(names)}, got {name!r}{suggest(name, names)}"
        raise ValueError(msg)
    return case.filters[names.index(name)]
