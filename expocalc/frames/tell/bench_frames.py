"""The frames of a camera's bench: read one or two at a time, checked to belong together, compared in pairs."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from expocalc.frames.measure.darks import BiasLevel, DarkPoint, hot_share, less_bias
from expocalc.frames.measure.pair import Pair, compare
from expocalc.frames.measure.skies import ceiling_of
from expocalc.frames.read.fits import Frame, read_frame, read_known
from expocalc.frames.read.header import FrameError

__all__ = ["BenchFrames", "Progress", "biases_of", "darks_of", "flats_of", "sort_bench"]

_TEMPERATURE_K = 2.0
_UNLIKE = 0.2
_TOLD = ("bits", "NCOMBINE", "whole", "without a number")
"""What a frame is told for in a bench, of all that is odd about it."""

Progress = Callable[[str], None]


class BenchFrames:
    """The frames of one bench, read one or two at a time."""

    def __init__(self, given: Mapping[str, Any] | None, progress: Progress | None) -> None:
        self.given = given
        self.progress = progress or (lambda _: None)
        self.warnings: list[str] = []
        self.shape: tuple[int, int] | None = None
        self.size_of = ""
        self.first: Frame | None = None
        self.step = math.inf
        self.used = 0

    def read(self, path: str | Path, kind: str) -> Frame:
        """One frame; FrameError where it does not belong to those before."""
        self.progress(f"reading {Path(path).name}")
        frame = read_frame(path, self.given)
        self.used += 1
        if self.shape is None:
            self.shape, self.size_of = frame.shape, frame.name
        elif frame.shape != self.shape:
            msg = (
                f"{frame.name} has {frame.shape[1]} x {frame.shape[0]} pixels and {self.size_of} {self.shape[1]} x "
                f"{self.shape[0]}; a bench takes frames of one size"
            )
            raise FrameError(msg)
        self._alike(frame, kind)
        if frame.step_adu:
            self.step = min(self.step, frame.step_adu)
        self.warnings += [note for note in frame.notes if any(word in note for word in _TOLD)]
        return frame

    def _alike(self, frame: Frame, kind: str) -> None:
        said = frame.known.kind
        if said is not None and said != kind and not (kind == "bias" and said == "dark"):
            msg = f"{frame.name} is a {said} by its header and was given as a {kind}; put it in its place"
            raise FrameError(msg)
        if self.first is None:
            self.first = frame
            return
        one, other = self.first.known, frame.known
        if None not in (one.gain_setting, other.gain_setting) and one.gain_setting != other.gain_setting:
            msg = (
                f"{frame.name} was taken at gain {other.gain_setting:g} and {self.first.name} at "
                f"{one.gain_setting:g}; a bench takes frames of one gain"
            )
            raise FrameError(msg)
        if one.electrons_per_adu and other.electrons_per_adu and one.electrons_per_adu != other.electrons_per_adu:
            msg = (
                f"{frame.name} says {other.electrons_per_adu:g} electrons per ADU and {self.first.name} "
                f"{one.electrons_per_adu:g}; a bench takes frames of one gain"
            )
            raise FrameError(msg)
        if kind == "bias" and one.temperature_deg_c is not None and other.temperature_deg_c is not None:
            if abs(one.temperature_deg_c - other.temperature_deg_c) > _TEMPERATURE_K:
                self.warnings.append(
                    f"{frame.name} was taken at {other.temperature_deg_c:g} °C and {self.first.name} at "
                    f"{one.temperature_deg_c:g} °C"
                )


def sort_bench(
    paths: Sequence[Path], progress: Progress | None = None
) -> tuple[list[Path], list[tuple[Path, Path]], list[Path]]:
    """Biases, pairs of flats and darks among files, by what their headers call them.

    Parameters
    ----------
    paths : sequence of pathlib.Path
    progress : callable, optional
        As in :func:`bench`.

    Returns
    -------
    biases : list of pathlib.Path
        The first two.
    flats : list of pairs of pathlib.Path
        The first two of each length of exposure.
    darks : list of pathlib.Path

    Raises
    ------
    FrameError
        If two biases or a pair of flats are not among them.
    """
    kinds: dict[str, list[Path]] = {"bias": [], "dark": []}
    lengths: dict[float | None, list[Path]] = {}
    for path in paths:
        (progress or (lambda _: None))(f"sorting {path.name}")
        known = read_known(path)
        if known.kind == "flat":
            lengths.setdefault(known.exposure_s, []).append(path)
        elif known.kind in kinds:
            kinds[known.kind].append(path)
    flats = [(group[0], group[1]) for group in lengths.values() if len(group) > 1]
    if len(kinds["bias"]) < 2 or not flats:
        msg = (
            f"a bench needs two biases and two flats of one length, told by IMAGETYP; among {len(paths)} files are "
            f"{len(kinds['bias'])} biases, {sum(map(len, lengths.values()))} flats and {len(kinds['dark'])} darks"
        )
        raise FrameError(msg)
    return kinds["bias"][:2], flats, kinds["dark"]


def biases_of(work: BenchFrames, paths: Sequence[str | Path]) -> tuple[dict[str, Pair], Frame]:
    """The first two biases compared, colour by colour, and the first itself."""
    if len(paths) < 2:
        msg = f"a bench needs two biases, got {len(paths)}; their difference is the read noise"
        raise FrameError(msg)
    first, second = work.read(paths[0], "bias"), work.read(paths[1], "bias")
    found = {
        colour: _less_overscan(compare(planes, second.planes[colour], step_adu=first.step_adu), first, second)
        for colour, planes in first.planes.items()
    }
    return found, first


def _less_overscan(pair: Pair, first: Frame, second: Frame) -> Pair:
    """The pair's level above its frames' own overscan, where they have one."""
    over = ((first.overscan_adu or 0.0) + (second.overscan_adu or 0.0)) / 2
    return replace(pair, mean_adu=pair.mean_adu - over) if over else pair


def flats_of(
    work: BenchFrames, pairs: Sequence[Sequence[str | Path]], darks: Mapping[str, Pair]
) -> list[tuple[str, Pair, float | None, str]]:
    """Each pair of flats in each colour: colour, pair, length of exposure, name of the first file. [s]"""
    found = []
    for paths in pairs:
        if len(paths) != 2:
            msg = f"flats come in pairs of the same light, got {len(paths)}: {', '.join(Path(p).name for p in paths)}"
            raise FrameError(msg)
        first, second = work.read(paths[0], "flat"), work.read(paths[1], "flat")
        ceiling = min(ceiling_of(first.pixels), ceiling_of(second.pixels), _flat_ceiling(first))
        for colour, planes in first.planes.items():
            pair = compare(
                planes, second.planes[colour], dark_adu=darks[colour].mean_adu + (first.overscan_adu or 0.0),
                ceiling_adu=ceiling, step_adu=first.step_adu,
            )  # fmt: skip
            pair = _less_overscan(pair, first, second)
            if abs(pair.ratio - 1) > _UNLIKE:
                msg = (
                    f"{first.name} is {pair.ratio:.2f} times as bright as {second.name}; the two flats of a pair "
                    "must be of one level"
                )
                raise FrameError(msg)
            found.append((colour, pair, first.known.exposure_s, first.name))
    return found


def _flat_ceiling(frame: Frame) -> float:
    """Ceiling of a flat that is full all over, where no number stands above the middle."""
    highest = float(frame.pixels.max())
    return highest if np.count_nonzero(frame.pixels == frame.pixels.max()) > 0.02 * frame.pixels.size else math.inf


def darks_of(
    work: BenchFrames, paths: Sequence[str | Path], biases: Mapping[str, Pair], bias: Frame, k: float
) -> tuple[list[DarkPoint], tuple[float, float, float] | None]:
    """Level of each dark, and the share of hot pixels with its interval; none without darks."""
    level = BiasLevel.of(list(biases.values()))
    points = []
    longest: list[tuple[float, Any]] = []
    for path in paths:
        frame = work.read(path, "dark")
        seconds = frame.exposure_s()
        if bias.known.exposure_s and bias.known.exposure_s > seconds:
            msg = (
                f"{bias.name} was exposed for {bias.known.exposure_s:g} s, longer than the dark {frame.name} "
                f"({seconds:g} s); were biases and darks swapped?"
            )
            raise FrameError(msg)
        less, mean, error = less_bias(frame.pixels, bias.pixels, level)
        mean -= frame.overscan_adu or 0.0
        if mean < -5 * math.hypot(error, level.error_adu) - 1.0:
            work.warnings.append(
                f"{frame.name} lies {-mean:.3g} ADU below the biases: the bias moves, or biases and darks are swapped"
            )
        temperature = frame.known.temperature_deg_c
        if temperature is None:
            temperature = frame.known.set_temperature_deg_c
        points.append(
            DarkPoint(
                seconds=seconds, temperature_deg_c=temperature, electrons=mean * k, error_e=error * k,
                bias_error_e=level.error_adu * k,
            )
        )  # fmt: skip
        longest = [one for one in (*longest, (seconds, less)) if one[0] >= seconds][-2:]
    if not longest:
        return points, None
    again = longest[1][1] if len(longest) > 1 and longest[1][0] == longest[0][0] else None
    return points, hot_share(longest[0][1], again)
