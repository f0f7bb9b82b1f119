"""The answer as a table and in words, for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence

from expocalc.base.words import say_duration, say_number
from expocalc.budget.lamps_told import LampsTold
from expocalc.budget.planned import planned_sentence
from expocalc.budget.row import Answer, Row
from expocalc.budget.spread import Spread

__all__ = ["report"]


def _number(value: float | None) -> str:
    return "-" if value is None else say_number(value, 3)


def _length(seconds: float | None) -> str:
    return "-" if seconds is None else say_duration(seconds)


def _hours(hours: float | None) -> str:
    return "-" if hours is None else say_duration(3600 * hours)


def _median(row: Row) -> str:
    return _number(row.median_adu) if row.median_adu is not None else f"bias+{_number(row.median_adu_above_bias)}"


# Heading, unit below it, and what stands in a row; the first three are words.
_COLUMNS: Sequence[tuple[str, str, Callable[[Row], str]]] = (
    ("filter", "", lambda r: r.filter_shown),
    ("light", "", lambda r: r.light or "none"),
    ("colour", "", lambda r: r.colour or ""),
    ("target", "e-/s", lambda r: _number(r.target_e_s)),
    ("sky", "e-/s", lambda r: _number(r.sky_e_s)),
    ("dark", "e-/s", lambda r: _number(r.dark_e_s)),
    ("shortest", "", lambda r: _length(r.sub_shortest_s)),
    ("best", "", lambda r: _length(r.sub_best_s)),
    ("longest", "", lambda r: _length(r.sub_longest_s)),
    ("sub", "", lambda r: _length(r.sub_s)),
    ("median", "ADU", _median),
    ("shoot", "subs", lambda r: "-" if r.shot is None else str(r.shot)),
    ("kept", "", lambda r: _hours(r.kept_h)),
    ("clock", "", lambda r: _hours(r.clock_h)),
)
_WORDS = 3
_WIDTH = 100


def report(answer: Answer, spread: Spread, lamps: LampsTold | None = None) -> str:
    """An answer as a table, its verdicts and the spread of the hours.

    Parameters
    ----------
    answer : Answer
    spread : Spread
        Of the same plan.
    lamps : LampsTold, optional
        What measured rates say of the plan's town.

    Returns
    -------
    str
        Lines of text.
    """
    columns = [
        [heading, unit, *(say(row) for row in answer.rows)]
        for heading, unit, say in _COLUMNS
        if heading != "colour" or any(row.colour for row in answer.rows)
    ]
    words = _WORDS - (len(_COLUMNS) - len(columns))
    padded = []
    for place, column in enumerate(columns):
        width = max(map(len, column))
        padded.append([cell.ljust(width) if place < words else cell.rjust(width) for cell in column])
    lines = ["  ".join(cells).rstrip() for cells in zip(*padded, strict=True)]
    rule = "-" * max(map(len, lines))
    likely = {name: planned_sentence(answer.of_filter(name).kept_h, hours) for name, hours in spread.filters.items()}
    said = [(one.verdict, likely.get(one.filter_name)) for one in answer.filters]
    verdicts = [textwrap.fill(" ".join(filter(None, sentences)), _WIDTH) for sentences in said]
    told = [] if lamps is None else ["", textwrap.fill("Lamps from rates: " + " ".join(lamps.sentences), _WIDTH)]
    return "\n".join([answer.title, "", *lines[:2], rule, *lines[2:], "", *verdicts, *told])
