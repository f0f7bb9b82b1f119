"""What the view of the stack shows: noise against the number of subs and against the side of squares, and the words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from expocalc.base.words import say_number
from expocalc.budget.answer import answer_filter, filter_named
from expocalc.budget.noise import sub_variance_e2
from expocalc.frames.measure.folder import find_frames
from expocalc.frames.measure.grain import falling, half_difference, noise_by_block
from expocalc.frames.measure.pile import pile
from expocalc.frames.read.fits import read_known
from expocalc.frames.tell.sky import behind_of
from expocalc.plan import Plan
from workbook.parts.table import Table

__all__ = ["StackPicture", "look_at_stack", "numbers"]


@dataclass(frozen=True, eq=False, kw_only=True)
class StackPicture:
    """A stack, drawn and said; lists are ready to draw.

    Attributes
    ----------
    subs : list of int
    noise, square_root, predicted : list of float
        Of a pixel, measured, by the square root from the first, and by the plan. [electron]
    side : list of int
        [pixel]
    block_noise, block_line : list of float
        [electron]
    half_noise : float
        Of half of the difference of two halves of the subs. [electron]
    headline : str
    others : tuple of str
    """

    subs: list[int]
    noise: list[float]
    square_root: list[float]
    predicted: list[float]
    side: list[int]
    block_noise: list[float]
    block_line: list[float]
    half_noise: float
    headline: str
    others: tuple[str, ...]


def look_at_stack(
    plan: Plan, folder: Path, asked: str, filter_name: str, left_out: frozenset[str], report: Callable[[float], None]
) -> StackPicture:
    """Lay the subs of a folder on each other and say whether the grain falls as it should.

    Parameters
    ----------
    left_out : frozenset of str
        File names that the view of the night left out.

    Raises
    ------
    FrameError
        With one sentence.
    """
    case = plan.case
    paths = []
    for path in find_frames(folder / asked.strip()):
        known = read_known(path)
        if path.name not in left_out and known.kind in (None, "sub") and (known.combined or 1) == 1:
            paths.append(path)
    behind = behind_of(case)
    mosaic = None if case.camera.mosaic == "none" else case.camera.mosaic
    setting = case.camera.setting
    found = pile(paths, setting.electrons_per_adu, behind, mosaic, lambda done, of: report(0.9 * done / of))
    falls = falling(found.pictures, found.subs)
    half = half_difference(*found.halves)
    blocks = noise_by_block(half)
    now = answer_filter(case, filter_named(case, filter_name))[0]
    at = now.rates.colours.index("G") if "G" in now.rates.colours else 0
    dark_sky = float(now.rates.sky_e_s[at] + now.rates.dark_e_s)
    variance = float(sub_variance_e2(dark_sky, found.sub_s, setting.read_variance_e2))
    predicted = [(variance / n) ** 0.5 for n in found.subs]
    half_noise = float(np.diff(np.percentile(half, [15.865, 84.135]))[0] / 2)
    headline, others = _words(falls.noise[-1], predicted[-1], half_noise, found.subs[-1], blocks.excess)
    return StackPicture(
        subs=list(found.subs), noise=falls.noise.tolist(), square_root=falls.line.tolist(), predicted=predicted,
        side=blocks.side_px.tolist(), block_noise=blocks.noise.tolist(), block_line=blocks.line.tolist(),
        half_noise=half_noise, headline=headline, others=(*others, *(f"{w}." for w in found.warnings)),
    )  # fmt: skip


_SHARED = 1.15
_ALIKE = 1.3
_AGREES = 1.15


def _words(noise: float, predicted: float, half: float, subs: int, excess: float) -> tuple[str, tuple[str, ...]]:
    """Headline and what it rests on: which term makes the grain differ."""
    ratio, shared = noise / predicted, noise / half
    first = f"{subs} subs: the grain is {say_number(noise)} electron in a pixel, the plan says {say_number(predicted)}"
    rest = [
        f"Two halves of the subs differ by a grain of {say_number(half)} electron: that much is chance. "
        + (
            f"The picture's is {say_number(shared)} times as much: the rest is the same in both halves, pattern or "
            "nebula and faint stars, which more subs do not remove."
            if shared > _SHARED
            else "The picture has no more than that: nothing is shared by all subs."
        ),
        (
            f"The widest squares are {say_number(excess)} times as noisy as independent pixels would be: neighbours "
            "are alike (rows, slopes, smoothing)."
            if excess > _ALIKE
            else "Wider squares get quieter as they should: neighbouring pixels are independent."
        ),
    ]
    if ratio > _AGREES and half / predicted > _AGREES:
        return f"{first}: more chance than planned, so a brighter sky or more read noise.", tuple(rest)
    if ratio > _AGREES:
        return f"{first}: what all subs share makes the difference.", tuple(rest)
    if ratio < 1 / _AGREES:
        return f"{first}: quieter than it can be, so a darker sky, or electrons per ADU that are not these.", tuple(
            rest
        )
    return f"{first}: it falls as it should.", tuple(rest)


def numbers(shown: StackPicture) -> Table:
    """Noise by number of subs, then by side of squares."""
    rows = [
        (f"{n} sub{'s' if n > 1 else ''}", *(say_number(v, 3) for v in (noise, line, planned)))
        for n, noise, line, planned in zip(shown.subs, shown.noise, shown.square_root, shown.predicted, strict=True)
    ]
    rows += [
        (f"squares of {side} px, halves' difference", say_number(noise, 3), say_number(line, 3), "")
        for side, noise, line in zip(shown.side, shown.block_noise, shown.block_line, strict=True)
    ]
    return Table(
        caption="Noise of a pixel (or of a square's mean), electron",
        head=("Picture", "Measured", "By the square root", "Plan"),
        rows=tuple(rows),
    )
