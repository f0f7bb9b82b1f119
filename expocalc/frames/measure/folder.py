"""Many subs at once: each file measured by itself, on all cores, then the same stars found again in all of them."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, ProcessPoolExecutor, wait
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from expocalc.base.curve import Floats
from expocalc.frames.measure.behind import Behind
from expocalc.frames.measure.same_stars import BRIGHTEST, light_of_same
from expocalc.frames.measure.sub import SubFound, measure_sub
from expocalc.frames.read.fits import SUFFIXES, read_frame, with_mosaic
from expocalc.frames.read.header import FrameError

__all__ = ["SubLine", "find_frames", "measure_folder", "measure_one", "transparencies"]

_BEST = 0.9
"""Quantile of the subs' light at which clear moments are looked for."""
_CLEAR = 0.1
"""Subs whose light is as near to it count as clear."""
_SERIAL = 3
_WORTH_BYTES = 150_000_000
"""Files of less than that in all are measured before other processes have started."""
_AHEAD = 3
_ENDED = "the process that read it was ended; memory ran out, or the file was cut while it was read"


@dataclass(frozen=True, eq=False, kw_only=True)
class SubLine:
    """What one sub tells, small enough to be sent between processes.

    Attributes
    ----------
    path : pathlib.Path
    known : Known
        Header's and person's values.
    sky_e_s, noise_e : mapping of str to float
        By colour. [electron s-1], [electron]
    gain_e_adu : float
        [electron/ADU]
    stars : int
    fwhm_px, elongation : float
    places : ndarray
        Row and column of the brightest stars, shape (stars, 2). [pixel]
    flux_e_s : ndarray
        Their light. [electron s-1]
    warnings : tuple of str
    """

    path: Path
    known: Any
    sky_e_s: Mapping[str, float]
    noise_e: Mapping[str, float]
    gain_e_adu: float
    stars: int
    fwhm_px: float
    elongation: float
    places: Floats
    flux_e_s: Floats
    warnings: tuple[str, ...]


def find_frames(folder: str | Path) -> list[Path]:
    """FITS files of a folder, by name.

    Raises
    ------
    FrameError
        If there is no such folder, or no FITS file in it.
    """
    folder = Path(folder)
    try:
        names = [
            entry.name for entry in os.scandir(folder) if entry.name.lower().endswith(SUFFIXES) and entry.is_file()
        ]
    except OSError as error:
        msg = f"{folder} can't be read: {error.strerror or error}"
        raise FrameError(msg) from None
    found = [folder / name for name in sorted(names) if not name.startswith(".")]
    if not found:
        msg = f"{folder} holds no FITS file ({', '.join(SUFFIXES[:3])}, packed ones too)"
        raise FrameError(msg)
    return found


def line_of(found: SubFound) -> SubLine:
    """The part of a measurement that the night needs."""
    stars, k = found.stars, found.gain.electrons_per_adu
    usable = np.flatnonzero(~stars.full)[:BRIGHTEST]
    return SubLine(
        path=found.frame.path, known=found.frame.known,
        sky_e_s={colour: one.sky_e_s for colour, one in found.colours.items()},
        noise_e={colour: one.noise_e for colour, one in found.colours.items()},
        gain_e_adu=k, stars=stars.count, fwhm_px=stars.usual_fwhm_px, elongation=stars.usual_elongation,
        places=np.stack([stars.row, stars.column], axis=1)[usable],
        flux_e_s=stars.flux_adu[usable] * k / found.exposure_s, warnings=found.warnings,
    )  # fmt: skip


Task = tuple[Path, Mapping[str, Any], Behind, str | None]
Result = SubLine | str | None
Measure = Callable[[Task], Result]


def measure_one(task: Task) -> Result:
    """One file: its line, a sentence on why not, or None for a bias, dark or flat."""
    path, given, behind, mosaic = task
    try:
        frame = with_mosaic(read_frame(path, given), mosaic)
        if frame.known.kind not in (None, "sub"):
            return None
        if (frame.known.combined or 1) > 1:
            return f"{frame.name} is made of {frame.known.combined} frames (NCOMBINE) and is not counted as a sub"
        return line_of(measure_sub([frame], behind))
    except FrameError as error:
        return str(error)


def measure_folder(
    paths: Sequence[Path],
    behind: Behind,
    given: Mapping[str, Any] | None = None,
    mosaic: str | None = None,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
    measure: Measure | None = None,
) -> tuple[list[SubLine], list[str]]:
    """Measure many subs.

    Parameters
    ----------
    paths : sequence of pathlib.Path
    behind : Behind
        What all of them hold beside light.
    given : mapping, optional
        Fields of the header that a person gave.
    mosaic : str, optional
        Of the plan's camera, for files whose header names none.
    workers : int, optional
        Processes, this one among them; where none is given one a core, or this one alone where that is quicker. Each
        holds one frame at a time.
    progress : callable, optional
        Called with how many are done and how many there are; what it raises stops the work.
    measure : callable, optional
        What is done to each file: :func:`measure_one`.

    Returns
    -------
    list of SubLine
        In the order of `paths`, without biases, darks and flats.
    list of str
        One sentence for each file that can't be used.
    """
    tell = progress or (lambda _done, _all: None)
    tasks = [(path, dict(given or {}), behind, mosaic) for path in paths]
    workers = workers or (1 if _bytes_of(paths) < _WORTH_BYTES else os.cpu_count() or 1)
    work = measure or measure_one
    alone = workers == 1 or len(tasks) <= _SERIAL
    results: dict[int, Result] = {}
    tell(0, len(tasks))
    for at, result in _one_by_one(tasks, work) if alone else _on_cores(tasks, work, workers):
        results[at] = result
        tell(len(results), len(tasks))
    ordered = [results[at] for at in range(len(tasks))]
    lines = [one for one in ordered if isinstance(one, SubLine)]
    return lines, [one for one in ordered if isinstance(one, str)]


def _bytes_of(paths: Sequence[Path]) -> int:
    total = 0
    for path in paths:
        with contextlib.suppress(OSError):  # a file that is gone is named when it is its turn
            total += path.stat().st_size
    return total


def _one_by_one(tasks: Sequence[Task], measure: Measure) -> Iterator[tuple[int, Result]]:
    for at, task in enumerate(tasks):
        yield at, measure(task)


def _on_cores(tasks: Sequence[Task], measure: Measure, workers: int) -> Iterator[tuple[int, Result]]:
    """Results as they come; files whose process was ended are tried again, each in a process of its own."""
    suspects: list[int] = []
    left = list(range(len(tasks)))
    while left:
        suspects += yield from _together(tasks, left, measure, workers - 1)
    for at in suspects:
        if (yield from _together(tasks, [at], measure, 1)):
            yield at, f"{tasks[at][0].name} could not be measured: {_ENDED}"


def _together(
    tasks: Sequence[Task], left: list[int], measure: Measure, processes: int
) -> Generator[tuple[int, Result], None, list[int]]:
    """Measure what is left: in other processes, and in this one, which need not wait until they have started.

    Returns what was at work when a process was ended; the rest is still in `left` then.
    """
    pool = ProcessPoolExecutor(processes, mp_context=multiprocessing.get_context("spawn"))
    running: dict[Any, int] = {}
    try:
        while left or running:
            while left and len(running) < _AHEAD * processes:
                running[pool.submit(measure, tasks[left[0]])] = left[0]
                del left[0]
            if left:
                at = left.pop(0)
                yield at, measure(tasks[at])
            for done in wait(running, timeout=0 if left else None, return_when=FIRST_COMPLETED).done:
                yield running[done], done.result()
                del running[done]
    except BrokenExecutor:
        return list(running.values())
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
    return []


def transparencies(lines: Sequence[SubLine]) -> Floats:
    """Light of the same stars in each sub over that of the clear moments of all, shape (subs,); NaN without stars.

    The subs are of one filter. Where no sub is clear, neither is the scale: a whole night under even haze shows 1.
    """
    if not lines:
        return np.empty(0)
    reference = max(lines, key=lambda line: line.stars)
    corner = np.max([line.places.max(axis=0, initial=0.0) for line in lines], axis=0)
    ratio = np.array(
        [light_of_same(one.places, one.flux_e_s, reference.places, reference.flux_e_s, corner) for one in lines]
    )
    known = ratio[np.isfinite(ratio)]
    if not known.size:
        return ratio
    top = np.quantile(known, _BEST)
    return ratio / known[np.abs(known / top - 1) <= _CLEAR].mean()
