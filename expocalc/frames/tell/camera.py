"""The camera's bench: biases, flats and darks to read noise, electrons per ADU, wells, pattern and dark current.

References
----------
.. [emva] EMVA Standard 1288, Release 4.0, 2021: what is named here as there (DSNU, PRNU, saturation, linearity) is
   defined there; the read noise here holds the steps of the converter, the one without steps leaves them out as there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from expocalc.frames.measure.darks import Activation, DarkPoint, DarkRate, activation, dark_rates, hot_share
from expocalc.frames.measure.pair import Pair, compare
from expocalc.frames.measure.sub import ceiling_of
from expocalc.frames.measure.transfer import Line, fit_line, linearity, unsaturated
from expocalc.frames.read.fits import Frame, read_frame, read_known
from expocalc.frames.read.header import FrameError

__all__ = ["Bench", "Value", "as_json", "bench", "camera_section", "camera_toml", "sort_bench"]

_TEMPERATURE_K = 2.0
_UNLIKE = 0.2
_TOLD = ("bits", "NCOMBINE", "whole", "without a number")
"""What a frame is told for in a bench, of all that is odd about it."""
_USUAL_STEP_K = 6
"""Warming that doubles a dark current: common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Value:
    """A number and the interval that holds it in 68 cases of 100; `value` is None where frames do not tell it."""

    value: float | None = None
    low: float | None = None
    high: float | None = None

    @classmethod
    def around(cls, value: float, error: float, least: float = -math.inf) -> Value:
        """From a standard error."""
        return cls(value=value, low=max(value - error, least), high=value + error)

    @classmethod
    def root(cls, square: float, error: float, scale: float = 1.0) -> Value:
        """Square root of a measured square, not below 0, times `scale`."""
        ends = (math.sqrt(max(x, 0.0)) * scale for x in (square, square - error, square + error))
        value, low, high = ends
        return cls(value=value, low=low, high=high)


@dataclass(frozen=True, eq=False, kw_only=True)
class Bench:
    """What biases, flats and darks tell; the names are those of the JSON.

    Attributes
    ----------
    values : mapping of str to Value
    lines : mapping of str to Line
        Photon transfer of each colour; all share `electrons_per_adu`.
    darks : tuple of DarkRate
    dark_points : tuple of DarkPoint
    law : Activation or None
    bias_adu : float
        [ADU]
    quantisation_share : float
        Of the read noise squared. [-]
    warnings : tuple of str
    section : mapping
        Of a plan file.
    """

    values: Mapping[str, Value]
    line: Line
    darks: tuple[DarkRate, ...] = ()
    dark_points: tuple[DarkPoint, ...] = ()
    law: Activation | None = None
    bias_adu: float
    quantisation_share: float
    warnings: tuple[str, ...] = ()
    section: Mapping[str, Any] = field(default_factory=dict)


Progress = Callable[[str], None]


class _Bench:
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


def _biases(work: _Bench, paths: Sequence[str | Path]) -> tuple[dict[str, Pair], Frame]:
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


def _flats(
    work: _Bench, pairs: Sequence[Sequence[str | Path]], darks: Mapping[str, Pair]
) -> list[tuple[str, Pair, float | None, str]]:
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


def _full_well(points: Sequence[tuple[Pair, Pair, bool]], k: float, k_error: float) -> tuple[Value, str]:
    """Where the flats stop to grow: between the highest level on the line and the full one [emva]_."""
    below = [one.mean_adu - dark.mean_adu for one, dark, good in points if good]
    above = [one.mean_adu - dark.mean_adu for one, dark, good in points if not good]
    above = [level for level in above if not below or level > max(below) * 0.999]
    if not above:
        return Value(), f"No flat fills the well: it holds more than {k * max(below):.3g} electrons"
    top = max(above)
    error = top * k_error
    return Value(value=top * k, low=(max(below) if below else top) * k - error, high=top * k + error), ""


def _dark_part(
    work: _Bench, paths: Sequence[str | Path], biases: Mapping[str, Pair], bias: Frame, k: float
) -> tuple[list[DarkPoint], tuple[float, float] | None]:
    base = float(np.mean([pair.mean_adu for pair in biases.values()]))
    base_error = float(np.mean([pair.mean_error_adu for pair in biases.values()]))
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
        less = frame.pixels.astype(np.float32)
        with np.errstate(invalid="ignore"):  # two infinite pixels are left out below
            less -= bias.pixels
        good = less[np.isfinite(less)]
        level = bias.pixels[np.isfinite(bias.pixels)].mean(dtype=np.float64)
        above = float(level) - (frame.overscan_adu or 0.0) - base
        mean = float(good.mean(dtype=np.float64)) + above
        spread = float(good.std(dtype=np.float64))
        error = math.hypot(spread / math.sqrt(2 * good.size), base_error)
        if mean < -5 * error - 1.0:
            work.warnings.append(
                f"{frame.name} lies {-mean:.3g} ADU below the biases: the bias moves, or biases and darks are swapped"
            )
        temperature = frame.known.temperature_deg_c
        if temperature is None:
            temperature = frame.known.set_temperature_deg_c
        points.append(DarkPoint(seconds=seconds, temperature_deg_c=temperature, electrons=mean * k, error_e=error * k))
        longest = [one for one in (*longest, (seconds, less)) if one[0] >= seconds][-2:]
    if not longest:
        return points, None
    again = longest[1][1] if len(longest) > 1 and longest[1][0] == longest[0][0] else None
    return points, hot_share(longest[0][1], again)


def bench(
    biases: Sequence[str | Path],
    flats: Sequence[Sequence[str | Path]],
    darks: Sequence[str | Path] = (),
    given: Mapping[str, Any] | None = None,
    progress: Progress | None = None,
    today: date | None = None,
) -> Bench:
    """Measure a camera.

    Parameters
    ----------
    biases : sequence of path
        Two.
    flats : sequence of pairs of path
        Pairs of the same light, at several levels.
    darks : sequence of path, optional
        Of one or several lengths and temperatures.
    given : mapping, optional
        Fields of :class:`expocalc.frames.read.header.Known` that stand above the headers'.
    progress : callable, optional
        Called with what is done next; it may raise to stop.
    today : datetime.date, optional
        Date of the camera section; today's where none is given.

    Returns
    -------
    Bench

    Raises
    ------
    FrameError
        With one sentence that names the file, if frames do not belong together or tell nothing.

    Notes
    -----
    At most three frames are in memory at a time.
    """
    work = _Bench(given, progress)
    bias_pairs, bias = _biases(work, biases)
    if not flats:
        msg = "a bench needs a pair of flats: without light nothing tells electrons per ADU"
        raise FrameError(msg)
    points = _flats(work, flats, bias_pairs)
    dark_of = [bias_pairs[colour] for colour, *_ in points]
    pairs = [pair for _, pair, *_ in points]
    good = unsaturated(pairs, dark_of)
    if not good.any():
        bright = any(p.mean_adu - d.mean_adu > 10 * d.variance_adu2**0.5 for p, d in zip(pairs, dark_of, strict=True))
        why = "all flats are full" if bright else "no flat is brighter than the biases"
        msg = f"{why} ({points[0][3]} and others); take pairs from dark to nearly full"
        raise FrameError(msg)
    line = fit_line(pairs, dark_of, good)
    if line is None:
        msg = f"the noise of the flats does not grow with their level ({points[0][3]} and others): are they flats?"
        raise FrameError(msg)
    k, k_share = line.electrons_per_adu, line.error / line.electrons_per_adu
    values = {"electrons_per_adu": Value.around(k, line.error)}
    values |= _noise_values(bias_pairs, k, k_share, work.step)
    values |= _flat_values(work, points, dark_of, good, k, k_share)
    step = work.step if math.isfinite(work.step) else 1.0
    values["native_step_adu"] = Value(value=step, low=step, high=step)

    dark_points, hot = _dark_part(work, darks, bias_pairs, bias, k)
    rates = dark_rates(dark_points)
    law = activation(rates)
    values |= _dark_values(work, rates, law, hot, bias.known.temperature_deg_c)
    read2 = float(np.mean([pair.variance_adu2 for pair in bias_pairs.values()]))
    found = Bench(
        values=values, line=line, darks=rates, dark_points=tuple(dark_points), law=law,
        bias_adu=float(np.mean([pair.mean_adu for pair in bias_pairs.values()])) + (bias.overscan_adu or 0.0),
        quantisation_share=step**2 / 12 / read2 if read2 else 0.0,
        warnings=tuple(dict.fromkeys(work.warnings)),
    )  # fmt: skip
    section = camera_section(found, today or date.today())
    return Bench(**{**vars(found), "section": section})


def _noise_values(pairs: Mapping[str, Pair], k: float, k_share: float, step: float) -> dict[str, Value]:
    variance = float(np.mean([pair.variance_adu2 for pair in pairs.values()]))
    error = math.sqrt(sum(pair.variance_error_adu2**2 for pair in pairs.values())) / len(pairs)
    read = math.sqrt(variance) * k
    read_error = read * math.hypot(error / (2 * variance) if variance else 0.0, k_share)
    pattern = float(np.mean([pair.pattern_adu2 for pair in pairs.values()]))
    pattern_error = math.sqrt(sum(pair.pattern_error_adu2**2 for pair in pairs.values())) / len(pairs)
    median = float(np.mean([pair.median_noise_adu for pair in pairs.values()])) * k
    steps = step**2 / 12 if math.isfinite(step) else 0.0
    return {
        "read_noise_electron": Value.around(read, read_error, 0.0),
        "read_noise_median_electron": Value.around(median, read_error * 1.65, 0.0),
        "read_noise_without_steps_electron": Value.root(variance - steps, error, k),
        "dsnu_electron": Value.root(pattern, pattern_error, k),
    }


def _flat_values(
    work: _Bench,
    points: Sequence[tuple[str, Pair, float | None, str]],
    darks: Sequence[Pair],
    good: Any,
    k: float,
    k_share: float,
) -> dict[str, Value]:
    triples = [(pair, dark, bool(ok)) for (_, pair, *_), dark, ok in zip(points, darks, good, strict=True)]
    full, said = _full_well(triples, k, k_share)
    if said:
        work.warnings.append(said)
    levels = np.array([pair.mean_adu - dark.mean_adu for pair, dark, _ in triples])
    usable = levels[np.asarray(good)]
    if usable.max() < 1.5 * usable.min():
        work.warnings.append(
            "All flats are of one level: the line rests on it and the biases alone, and says nothing of linearity"
        )
    # the nonuniformity at half of saturation [emva]_
    half = (full.value / k if full.value else levels.max()) / 2
    at = min(np.flatnonzero(good), key=lambda i: abs(levels[i] - half))
    pair, dark, _ = triples[int(at)]
    square = (pair.pattern_adu2 - dark.pattern_adu2) / levels[at] ** 2
    error = math.hypot(pair.pattern_error_adu2, dark.pattern_error_adu2) / levels[at] ** 2
    straight = None
    colour = points[0][0]
    chosen = [i for i, (c, _, seconds, _) in enumerate(points) if c == colour and seconds and good[i]]
    if chosen:
        top = full.value / k if full.value else float(levels[chosen].max())
        straight = linearity(np.array([points[i][2] for i in chosen], dtype=float), levels[chosen], top)
    if straight is None:
        work.warnings.append("Linearity needs flats of three different EXPTIME or more under a steady lamp")
    return {
        "full_well_electron": full,
        "prnu": Value.root(square, error),
        "linearity_error": Value.around(straight.error, straight.spread, 0.0) if straight else Value(),
    }


def _dark_values(
    work: _Bench,
    rates: Sequence[DarkRate],
    law: Activation | None,
    hot: tuple[float, float] | None,
    temperature_deg_c: float | None,
) -> dict[str, Value]:
    names = ("dark_electron_s", "activation_ev", "glow_electron_s", "hot_pixel_share")
    values = dict.fromkeys(names, Value())
    if not rates:
        return values
    known = [r for r in rates if r.temperature_deg_c is not None]
    if known and temperature_deg_c is not None:
        chosen = min(known, key=lambda r: abs(float(r.temperature_deg_c or 0.0) - temperature_deg_c))
    else:
        chosen = rates[0]
    values["dark_electron_s"] = Value.around(chosen.rate_e_s, chosen.error_e_s)
    if chosen.rate_e_s < -2 * chosen.error_e_s:
        work.warnings.append("The dark current comes out below 0: the bias level moved between biases and darks")
    for rate in rates:
        if rate.bend is not None and abs(rate.bend) > 4:
            way = "faster" if rate.bend > 0 else "more slowly"
            work.warnings.append(f"The darks grow {way} than in proportion to time: glow or a moving bias")
    if law is not None:
        values["activation_ev"] = Value(value=law.ev, low=law.low_ev, high=law.high_ev)
        if law.glow_e_s is not None:
            values["glow_electron_s"] = Value(value=law.glow_e_s, low=law.glow_low_e_s, high=law.glow_high_e_s)
    else:
        work.warnings.append(
            f"Darks of one temperature do not tell how dark current falls with cooling: {_USUAL_STEP_K} K per halving "
            "is assumed"
        )
    if hot is not None:
        values["hot_pixel_share"] = Value.around(*hot, 0.0)
    return values


def _said(value: float, unit: str) -> str:
    return f"{value:.4g} {unit}"


def camera_section(found: Bench, today: date) -> dict[str, Any]:
    """What a plan's section [camera] takes from a bench: gain, gains and, from darks, dark_current."""
    name = f"measured {today.isoformat()}"
    value = {key: one.value for key, one in found.values.items()}
    k = float(value["electrons_per_adu"] or 1.0)
    step = int(value["native_step_adu"] or 1)
    bits = 16 - int(math.log2(step))
    highest = (2**bits - 1) * step
    section: dict[str, Any] = {
        "gain": name,
        "gains": {
            name: {
                "read_noise": _said(value["read_noise_electron"] or 0.0, "electron"),
                "electrons_per_adu": float(f"{k:.5g}"),
                "native_step": step,
                "bias_level": round(found.bias_adu, 1),
                "full_well": _said(value["full_well_electron"] or (highest - found.bias_adu) * k, "electron"),
                "bits": bits,
            }
        },
    }
    rate = value["dark_electron_s"]
    at = next((r.temperature_deg_c for r in found.darks if r.rate_e_s == rate), None)
    if rate is not None and rate >= 0 and at is not None:
        falls = (
            {"activation": _said(float(value["activation_ev"]), "eV")}
            if value["activation_ev"]
            else {"doubles_every": f"{_USUAL_STEP_K} K"}
        )
        section["dark_current"] = {"rate": _said(rate, "electron/s"), "at": f"{at:g} deg_C", **falls}
    return section


def camera_toml(found: Bench) -> str:
    """The camera section as text, to paste into a plan."""
    import tomlkit

    document = tomlkit.document()
    document.add(tomlkit.comment("measured from frames; interval of 68 cases in 100:"))
    for key, one in found.values.items():
        if one.value is not None and one.low is not None and one.high is not None:
            document.add(tomlkit.comment(f"{key}: {one.value:.4g} ({one.low:.4g} to {one.high:.4g})"))
    document.add("camera", found.section)
    return tomlkit.dumps(document)


def as_json(found: Bench) -> dict[str, Any]:
    """A bench as plain data, units in the keys; what frames do not tell is None."""
    data: dict[str, Any] = {}
    for key, one in found.values.items():
        data[key] = one.value
        data[f"{key}_interval"] = None if one.low is None or one.high is None else [one.low, one.high]
    line = found.line
    return {
        **data,
        "bias_level_adu": found.bias_adu,
        "quantisation_share": found.quantisation_share,
        "photon_transfer": {
            "level_adu": line.level_adu.tolist(),
            "variance_adu2": line.variance_adu2.tolist(),
            "residual": line.residual.tolist(),
            "fitted": line.fitted.tolist(),
        },
        "dark_by_temperature": [
            {"temperature_deg_c": r.temperature_deg_c, "dark_electron_s": r.rate_e_s, "error_electron_s": r.error_e_s}
            for r in found.darks
        ],
        "warnings": list(found.warnings),
        "camera": dict(found.section),
    }
