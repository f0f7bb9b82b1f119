"""What the view of the stack shows: noise against the number of subs and against the side of squares, and the words."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from expocalc.base.words import say_number
from expocalc.frames.measure.folder import find_frames
from expocalc.frames.measure.pile import pile
from expocalc.frames.read.fits import read_known
from expocalc.frames.simulate.scene import Mask
from expocalc.frames.tell.plan_side import behind_of
from expocalc.frames.tell.stack import StackTold, square, tell_stack
from expocalc.plan import Plan
from workbook.parts.table import Table

__all__ = ["Asked", "StackPicture", "look_at_stack", "numbers", "read_square"]

_SQUARE = re.compile(r"\s*(\d+)\s*[,;]\s*(\d+)\s*[,;]\s*(\d+)\s*")


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a person typed; empty where nothing was."""

    folder: str
    filter_name: str
    patch: str = ""
    sky: str = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class StackPicture:
    """A stack, drawn and said.

    Attributes
    ----------
    told : StackTold
    headline : str
    others : tuple of str
    """

    told: StackTold
    headline: str
    others: tuple[str, ...]


def read_square(name: str, text: str) -> tuple[int, int, int] | None:
    """Row, column and side of a typed square, None for nothing; ValueError with one sentence else."""
    if not text.strip():
        return None
    found = _SQUARE.fullmatch(text)
    if not found:
        msg = f'{name} must be row, column and side in pixels, got {text[:40]!r}; write it like "300, 500, 20"'
        raise ValueError(msg)
    row, column, side = (int(number) for number in found.groups())
    return row, column, side


def _masks(asked: Asked, shape: tuple[int, int], corner: tuple[int, int], step: int) -> tuple[Mask | None, Mask | None]:
    """Squares of the frame's pixels on the stack's picture."""
    squares = [read_square("Patch", asked.patch), read_square("Sky", asked.sky)]
    if (squares[0] is None) != (squares[1] is None):
        msg = "Patch and Sky are needed both, or none: SNR is told by one beside the other"
        raise ValueError(msg)
    found: list[Mask | None] = []
    for one in squares:
        if one is None:
            found.append(None)
            continue
        row, column, side = one
        found.append(square(shape, (row - corner[0]) // step, (column - corner[1]) // step, max(side // step, 1)))
    return found[0], found[1]


def look_at_stack(
    plan: Plan, folder: Path, asked: Asked, left_out: frozenset[str], report: Callable[[float], None]
) -> StackPicture:
    """Lay the subs of a folder on each other and say whether the grain falls as it should.

    Parameters
    ----------
    left_out : frozenset of str
        File names that the view of the night left out.

    Raises
    ------
    FrameError, ValueError
        With one sentence.
    """
    case = plan.case
    read_square("Patch", asked.patch), read_square("Sky", asked.sky)  # refused before anything takes time
    paths = []
    for path in find_frames(folder / asked.folder.strip()):
        known = read_known(path)
        if path.name not in left_out and known.kind in (None, "sub") and (known.combined or 1) == 1:
            paths.append(path)
    mosaic = None if case.camera.mosaic == "none" else case.camera.mosaic
    gain = case.camera.setting.electrons_per_adu
    found = pile(paths, gain, behind_of(case), mosaic, lambda done, of: report(0.9 * done / of))
    patch, sky = _masks(asked, found.pictures[-1].shape, found.corner, 1 if mosaic is None else 2)
    told = tell_stack(found, case, asked.filter_name, patch, sky)
    first, *rest = told.sentences
    return StackPicture(told=told, headline=first, others=(*rest, *(f"{one}." for one in found.warnings)))


def numbers(shown: StackPicture) -> Table:
    """Noise by number of subs, then by side of squares."""
    told = shown.told
    by_subs = zip(told.falling.subs, told.falling.noise, told.falling.line, told.predicted_e, strict=True)
    rows = [
        (f"{n} sub{'s' if n > 1 else ''}", *(say_number(float(value), 3) for value in values)) for n, *values in by_subs
    ]
    rows += [
        (f"squares of {side} px, halves' difference", say_number(float(noise), 3), say_number(float(line), 3), "")
        for side, noise, line in zip(told.blocks.side_px, told.blocks.noise, told.blocks.line, strict=True)
    ]
    if told.measured is not None:
        planned = "" if told.predicted_snr is None else say_number(told.predicted_snr, 3)
        rows.append(("SNR of the patch", say_number(told.measured.snr_patch, 3), "", planned))
    return Table(
        caption="Noise of a pixel (or of a square's mean), electron",
        head=("Picture", "Measured", "By the square root", "Plan"),
        rows=tuple(rows),
    )
