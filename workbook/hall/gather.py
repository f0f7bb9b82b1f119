"""Everybody's guesses, eyes and slips, read from the guests' folders; no names go with them."""

from __future__ import annotations

import ast
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

import nbformat
import numpy as np

from expocalc.base.words import say_number
from workbook.copies import shipped
from workbook.hall.evening import LESSONS
from workbook.workshop.ask import Ask
from workbook.workshop.experiments import EXPERIMENTS
from workbook.workshop.keep import Kept
from workbook.workshop.numbers import read_range_kindly
from workbook.workshop.opening import ASK as OPENING

__all__ = ["Asked", "Guesses", "asked", "guesses"]

BARS = 10
_LONG = 20.0
"""Guesses that span more than this factor are drawn by factors."""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A question that a lesson asks: its key, words, unit, choices, and the page that it stands on."""

    key: str
    question: str
    unit: str
    choices: tuple[str, ...]
    page: str


@cache
def asked() -> tuple[Asked, ...]:
    """All questions in the order of the lessons, as the notebooks that we ship ask them."""
    found: dict[str, Asked] = {}
    for page in LESSONS:
        for cell in nbformat.read(shipped() / page, as_version=4).cells:
            if cell.cell_type == "code":
                calls = [node for node in ast.walk(ast.parse(cell.source)) if isinstance(node, ast.Call)]
                for one in (_asked(call, page) for call in calls):
                    if one is not None:  # what one page asks and another tells is asked once
                        found.setdefault(one.key, one)
    return tuple(found.values())


def _asked(call: ast.Call, page: str) -> Asked | None:
    """Question of a call in a lesson: of an experiment, of the opening picture, or a guess of its own."""
    name = call.func.id if isinstance(call.func, ast.Name) else ""
    if name == "Trial":
        return _of(EXPERIMENTS[ast.literal_eval(call.args[0])].ask, page)
    if name == "Opening":
        return _of(OPENING, page)
    if name != "Guess":
        return None
    given = dict(zip(("key", "question", "unit", "folder", "choices"), map(ast.literal_eval, call.args), strict=False))
    given |= {word.arg: ast.literal_eval(word.value) for word in call.keywords}
    return Asked(
        key=given["key"], question=given["question"], unit=given.get("unit", ""),
        choices=tuple(given.get("choices", ())), page=page,
    )  # fmt: skip


def _of(ask: Ask, page: str) -> Asked:
    return Asked(key=ask.key, question=ask.question, unit=ask.unit, choices=ask.choices, page=page)


@dataclass(frozen=True, kw_only=True)
class Guesses:
    """What all guessed, as bars.

    Attributes
    ----------
    names : tuple of str
        What stands under each bar.
    counts : tuple of int
    edges : tuple of float
        Of the bars, one more than there are; empty for words to choose from.
    log : bool
        Whether each bar is the same factor wide.
    total, unread : int
        Guesses that are drawn, and those that no number could be read from.
    """

    names: tuple[str, ...]
    counts: tuple[int, ...]
    edges: tuple[float, ...] = ()
    log: bool = False
    total: int = 0
    unread: int = 0

    def sentence(self) -> str:
        """How many there are.

        Examples
        --------
        >>> Guesses(names=(), counts=(), total=3, unread=1).sentence()
        '3 guesses, and 1 in words that hold no number.'
        """
        said = "1 guess" if self.total == 1 else f"{self.total} guesses"
        return f"{said}, and {self.unread} in words that hold no number." if self.unread else f"{said}."


def guesses(one: Asked, folders: list[Path]) -> Guesses:
    """Everybody's guesses at one question.

    Parameters
    ----------
    one : Asked
    folders : list of pathlib.Path
        The guests'.
    """
    typed = [str(Kept(folder / Path(one.page).parent).read("guesses").get(one.key, "")).strip() for folder in folders]
    typed = [text for text in typed if text]
    if one.choices:
        counts = tuple(typed.count(choice) for choice in one.choices)
        return Guesses(names=one.choices, counts=counts, total=sum(counts), unread=len(typed) - sum(counts))
    numbers = []
    for text in typed:
        try:
            numbers.append(sum(read_range_kindly(text, one.unit)) / 2)
        except ValueError:
            continue
    return _bars(np.sort([number for number in numbers if np.isfinite(number)]), len(typed))


def _bars(numbers: np.ndarray, typed: int) -> Guesses:
    """A histogram whose ends a few wild guesses can't drag away: those stand in the outermost bars."""
    unread = typed - len(numbers)
    if not len(numbers):
        return Guesses(names=(), counts=(), unread=unread)
    low, high = (float(end) for end in np.quantile(numbers, (0.05, 0.95), method="nearest"))
    log = low > 0 and high / low > _LONG
    if low == high:
        low, high = (low - abs(low) / 2, high + abs(high) / 2) if low else (-1.0, 1.0)
    edges = np.geomspace(low, high, BARS + 1) if log else np.linspace(low, high, BARS + 1)
    counts, _ = np.histogram(np.clip(numbers, edges[0], edges[-1]), edges)
    names = tuple(f"{say_number(a)} to {say_number(b)}" for a, b in pairwise(edges))
    return Guesses(
        names=names, counts=tuple(int(count) for count in counts), edges=tuple(float(edge) for edge in edges), log=log,
        total=len(numbers), unread=unread,
    )  # fmt: skip
