"""Subs laid on each other by their stars and averaged as they are read: pictures of ever more, and two halves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from expocalc.base.curve import Floats
from expocalc.frames.measure.behind import Behind
from expocalc.frames.measure.grain import stack_steps
from expocalc.frames.measure.same_stars import BRIGHTEST, shift_of
from expocalc.frames.measure.skies import skies_of
from expocalc.frames.read.fits import read_frame, with_mosaic
from expocalc.frames.read.header import FrameError

__all__ = ["Pile", "pile"]

MOST_PX = 1200
"""Side of the middle part that is looked at."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Pile:
    """Subs on each other, their sky's level taken off; of a mosaic the green pixels alone, as they lie.

    Attributes
    ----------
    pictures : tuple of ndarray
        Means of the first 1, 4, 16 … subs. [electron]
    subs : tuple of int
        Behind each.
    halves : (ndarray, ndarray)
        Means of the even and of the odd ones. [electron]
    corner : (int, int)
        Row and column of the frames where the pictures begin. [pixel]
    sub_s : float
        [s]
    level_e : float or None
        Sky and dark current of a pixel of one sub, mean of all; None where the bias is not known. [electron]
    warnings : tuple of str
    """

    pictures: tuple[Floats, ...]
    subs: tuple[int, ...]
    halves: tuple[Floats, Floats]
    corner: tuple[int, int]
    sub_s: float
    level_e: float | None
    warnings: tuple[str, ...]


def pile(
    paths: Sequence[Path],
    electrons_per_adu: float,
    behind: Behind,
    mosaic: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Pile:
    """Lay subs on each other in whole pixels (even ones on a mosaic) and average them.

    Parameters
    ----------
    paths : sequence of pathlib.Path
        Two or more, of one length.
    electrons_per_adu : float
        [electron/ADU]
    behind : Behind
        For the level at which pixels are full.
    mosaic : str, optional
        Of the plan's camera.
    progress : callable, optional
        Called with how many are done and how many there are; what it raises stops the work.

    Returns
    -------
    Pile

    Raises
    ------
    FrameError
        If there are fewer than two, or a file can't be used.
    """
    if len(paths) < 2:
        msg = f"a stack is looked at from two subs or more, got {len(paths)}"
        raise FrameError(msg)
    steps = stack_steps(len(paths))
    first_places = window = total = None
    halves: list[Floats] = []
    pictures, warnings = [], []
    seconds, corner, levels = 0.0, (0, 0), 0.0
    for at, path in enumerate(paths):
        (progress or (lambda _done, _all: None))(at, len(paths))
        frame = with_mosaic(read_frame(path), mosaic)
        skies, stars = skies_of(frame, behind.full_adu or np.inf)
        places = np.stack([stars.row, stars.column], axis=1)[:BRIGHTEST]
        main = "G" if "G" in skies else "mono"
        if first_places is None or total is None or window is None:
            first_places, seconds = places, frame.exposure_s()
            window = _window(frame.shape)
            corner = window[0], window[2]
            total = np.zeros((window[1] - window[0], window[3] - window[2]))
            halves = [np.zeros_like(total), np.zeros_like(total)]
        step = 2 if frame.known.mosaic else 1
        by = shift_of(places, first_places)
        if by is None:
            warnings.append(f"The stars of {path.name} are not found again; it is laid on the others as it is")
            by = np.zeros(2)
        down, across = (round(float(x) / step) * step for x in by)
        moved = np.roll(frame.pixels, (down, across), axis=(0, 1))[window[0] : window[1], window[2] : window[3]]
        electrons = (moved - skies[main].level_adu) * electrons_per_adu
        total += electrons
        levels += skies[main].level_adu * electrons_per_adu / len(paths)
        halves[at % 2] += electrons
        if at + 1 in steps:
            pictures.append(total / (at + 1))
    count = len(paths)
    if mosaic is not None:
        pictures, halves = ([_green(one, mosaic) for one in some] for some in (pictures, halves))
    level_e = None if behind.bias_adu is None else levels - behind.bias_adu * electrons_per_adu
    return Pile(
        pictures=tuple(pictures), subs=tuple(steps), corner=corner, sub_s=seconds, level_e=level_e,
        warnings=tuple(warnings),
        halves=(halves[0] / ((count + 1) // 2), halves[1] / max(count // 2, 1)),
    )  # fmt: skip


def _window(shape: tuple[int, int]) -> tuple[int, int, int, int]:
    """The middle part, a margin for the dither left out; even places, so that a mosaic keeps its order."""
    found = []
    for side in shape:
        kept = min(side * 9 // 10, MOST_PX) // 2 * 2
        start = (side - kept) // 2 // 2 * 2
        found += [start, start + kept]
    return found[0], found[1], found[2], found[3]


def _green(picture: Floats, mosaic: str) -> Floats:
    """One of the greens of a mosaic."""
    at = mosaic.index("G")
    return picture[at // 2 :: 2, at % 2 :: 2]
