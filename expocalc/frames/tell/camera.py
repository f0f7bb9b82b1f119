"""The camera's bench: biases, flats and darks to read noise, electrons per ADU, wells, pattern and dark current.

References
----------
.. [emva] EMVA Standard 1288, Release 4.0, 2021: what is named here as there (DSNU, PRNU, saturation, linearity) is
   defined there; the read noise here holds the steps of the converter, the one without steps leaves them out as there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from expocalc.base.words import say_number
from expocalc.frames.measure.activation import Activation, activation
from expocalc.frames.measure.darks import DarkRate, dark_rates
from expocalc.frames.measure.pair import Pair
from expocalc.frames.measure.transfer import fit_line, full_well, linearity, unsaturated
from expocalc.frames.read.header import FrameError
from expocalc.frames.tell.bench_found import Bench, Value
from expocalc.frames.tell.bench_frames import BenchFrames, Progress, biases_of, darks_of, flats_of
from expocalc.frames.tell.camera_section import USUAL_STEP_K, camera_section

__all__ = ["bench"]


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
    work = BenchFrames(given, progress)
    bias_pairs, bias = biases_of(work, biases)
    if not flats:
        msg = "a bench needs a pair of flats: without light nothing tells electrons per ADU"
        raise FrameError(msg)
    points = flats_of(work, flats, bias_pairs)
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

    dark_points, hot = darks_of(work, darks, bias_pairs, bias, k)
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
    work: BenchFrames,
    points: Sequence[tuple[str, Pair, float | None, str]],
    darks: Sequence[Pair],
    good: Any,
    k: float,
    k_share: float,
) -> dict[str, Value]:
    pairs = [pair for _, pair, *_ in points]
    found = full_well(pairs, darks, good, k)
    levels = np.array([pair.mean_adu - dark.mean_adu for pair, dark in zip(pairs, darks, strict=True)])
    if found is None:
        most = say_number(k * levels[good].max(), 3)
        work.warnings.append(f"No flat fills the well: it holds more than {most} electrons")
        full = Value()
    else:
        at, low, high = (k * level for level in found)
        full = Value(value=at, low=low - at * k_share, high=high + at * k_share)
    errors = np.array([pair.mean_error_adu for pair in pairs])
    usable = levels[good]
    if usable.max() < 1.5 * usable.min():
        work.warnings.append(
            f"All flats are of one level ({points[0][3]} and others): the line rests on it and the biases alone, and "
            "says nothing of linearity"
        )
    # the nonuniformity at half of saturation [emva]_
    half = (full.value / k if full.value else levels.max()) / 2
    nearest = min(np.flatnonzero(good), key=lambda i: abs(levels[i] - half))
    pair, dark = pairs[int(nearest)], darks[int(nearest)]
    square = (pair.pattern_adu2 - dark.pattern_adu2) / levels[nearest] ** 2
    error = math.hypot(pair.pattern_error_adu2, dark.pattern_error_adu2) / levels[nearest] ** 2
    straight = None
    colour = points[0][0]
    chosen = [i for i, (c, _, seconds, _) in enumerate(points) if c == colour and seconds and good[i]]
    if chosen:
        top = full.value / k if full.value else float(levels[chosen].max())
        straight = linearity(np.array([points[i][2] for i in chosen], dtype=float), levels[chosen], errors[chosen], top)
    if straight is None:
        work.warnings.append("Linearity needs flats of three different EXPTIME or more under a steady lamp")
    return {
        "full_well_electron": full,
        "prnu": Value.root(square, error),
        "linearity_error": Value.of((straight.error, straight.low, straight.high)) if straight else Value(),
    }


def _dark_values(
    work: BenchFrames,
    rates: Sequence[DarkRate],
    law: Activation | None,
    hot: tuple[float, float, float] | None,
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
            f"Darks of one temperature do not tell how dark current falls with cooling: {USUAL_STEP_K} K per halving "
            "is assumed"
        )
    if hot is not None:
        values["hot_pixel_share"] = Value.of(hot)
    return values
