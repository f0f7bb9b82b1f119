"""What an experiment shows: pictures, a chart, one sentence, and the formula's numbers beside the pictures'."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_number
from expocalc.frames.measure.picture import stretch
from expocalc.frames.simulate.scene import Mask
from workbook.parts.table import Table
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial

__all__ = ["CHANCE", "Chart", "Experiment", "Outcome", "Tile", "compared", "curve_grid", "tiles_of", "visible"]

PLAIN_SNR, HINT_SNR = 5.0, 2.0
"""From the one on a thing is plain, from the other on a hint of it shows (common practice, no source)."""
CHANCE = 3.0
"""Standard errors that chance seldom passes: what stands behind a ±."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Tile:
    """One picture.

    Attributes
    ----------
    brightness : ndarray
        0 (black) to 1 (white), shape (rows, columns).
    words : str
        What stands under it; with `describes` also what a screen reader says.
    describes : str
        What is to be seen, in words.
    full : ndarray of bool, optional
        Pixels to mark, because they hold no more light.
    """

    brightness: Floats
    words: str
    describes: str
    full: Mask | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Chart:
    """Curves of the model, and points where the frames were measured.

    Attributes
    ----------
    title, x_label, y_label, describes : str
    x : ndarray
    curves : mapping of str to ndarray
        At most four, by what stands at their ends.
    points : tuple of (float, float)
        Measured on the pictures.
    here : tuple of (float, float), optional
        Where the dials stand, marked with these words.
    log_x, log_y : bool
        Whether an axis goes by factors.
    """

    title: str
    x_label: str
    y_label: str
    describes: str
    x: Floats
    curves: Mapping[str, Floats]
    points: tuple[tuple[float, float], ...] = ()
    here: tuple[float, float] | None = None
    log_x: bool = True
    log_y: bool = True


@dataclass(frozen=True, kw_only=True, eq=False)
class Outcome:
    """All that an experiment shows after a run.

    Attributes
    ----------
    takeaway : str
        One line with the numbers of this run.
    take_home : str
        What to remember of it; it is true of this run.
    holds : bool
        Whether the quoted belief is true of this run.
    basis : str
        What the pictures are.
    tiles : tuple of Tile
    table : Table
        Plan and frames, side by side.
    planned, measured : tuple of float
        For each picture, the number by the plan's formula and the same measured on the frames.
    sigma : tuple of float
        Standard error of each measured number: how far chance may take it from the planned one.
    chart : Chart, optional
    """

    takeaway: str
    take_home: str
    holds: bool
    basis: str
    tiles: tuple[Tile, ...]
    table: Table
    planned: tuple[float, ...]
    measured: tuple[float, ...]
    sigma: tuple[float, ...]
    chart: Chart | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Experiment:
    """A belief that can be tried.

    Attributes
    ----------
    belief : str
        What many say; it stands over the experiment.
    ask : Ask
        What is guessed before the run.
    does : str
        What will be taken, in a sentence.
    dials : mapping of str to Dial
        What can be turned, by the names of the arguments of `run`.
    run : callable
        From the dials' values to an :class:`Outcome`; the same values give the same outcome.
    """

    belief: str
    ask: Ask
    does: str
    run: Callable[..., Outcome]
    dials: Mapping[str, Dial] = field(default_factory=dict)

    @property
    def start(self) -> dict[str, float]:
        """Where the dials stand at first."""
        return {name: dial.start for name, dial in self.dials.items()}


def compared(
    caption: str, what: str, names: tuple[str, ...], planned: tuple[float, ...], measured: tuple[float, ...],
    sigma: tuple[float, ...], more: Mapping[str, tuple[str, ...]] | None = None,
) -> Table:  # fmt: skip
    """Table of the formula's numbers beside the pictures'; ± is how far chance reaches.

    Parameters
    ----------
    caption, what : str
        What the table is about, and what is counted: "SNR of the patch".
    names : tuple of str
        One for each picture.
    planned, measured, sigma : tuple of float
        As in :class:`Outcome`.
    more : mapping of str to tuple of str, optional
        Further columns, finished words.

    Examples
    --------
    >>> compared("Grain", "grain", ("1 h",), (2.0,), (2.04,), (0.03,), {"subs": ("12",)}).rows
    (('1 h', '12', '2.00', '2.04 ± 0.09'),)
    """
    others = dict(more or {})
    said = [say_number(one, 3) for one in planned]
    chance = [say_number(CHANCE * one, 1) for one in sigma]
    found = [f"{say_number(one, 3)} ± {reach}" for one, reach in zip(measured, chance, strict=True)]
    return Table(
        caption=caption,
        head=("Picture", *others, f"{what}, by the formula", f"{what}, on the pictures"),
        rows=tuple(zip(names, *others.values(), said, found, strict=True)),
    )


def tiles_of(
    pictures: list[Floats], limits: tuple[float, float], words: list[str], describes: list[str]
) -> tuple[Tile, ...]:
    """Pictures under one stretch."""
    return tuple(
        Tile(brightness=stretch(picture, *limits), words=said, describes=seen)
        for picture, said, seen in zip(pictures, words, describes, strict=True)
    )


def curve_grid(low: float, high: float, count: int = 61) -> Floats:
    """Places of a curve, each the same factor after the last."""
    return np.geomspace(low, high, count)


def visible(snr: float) -> str:
    """How a thing of this SNR looks, in a word; the blind test tells of one's own eyes.

    Examples
    --------
    >>> visible(0.8), visible(3.0), visible(12.0)
    ('hidden in the grain', 'a hint', 'plain to see')
    """
    return "plain to see" if snr >= PLAIN_SNR else "a hint" if snr >= HINT_SNR else "hidden in the grain"
