"""Makes the stacking factors of expocalc/data by simulation: python tests/evidence/stacking_tables.py (two minutes).

The stacking factor is N times the variance of the stacked value over the variance of one value, for values that are
normal: 1 for the mean.

Median: the two middle ones of N values are drawn directly, as order statistics of a uniform variable (David & Nagaraja
2003, Order Statistics, 3rd ed., section 2.3: the k-th of N is Beta(k, N - k + 1), the next one above it is the least of
the N - k left), turned into normal values and rounded to the converter's steps, whose place against the mean is drawn
too.

Clipped mean: frames are drawn in full. The mean of normal values is independent of everything that does not shift with
it (Basu 1955, Sankhya 15, 377), the difference clipped mean - mean included, so that only the variance of that
difference, which is small, carries statistical error.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from scipy.special import ndtri

SEED = 20261124
MEDIAN_DRAWS = 4_000_000
CLIP_VALUES = 12_000_000
"""Drawn for each number of subs: 400,000 stacks of 30, 6,000 of 2,000."""
DATA = Path(__file__).resolve().parents[2] / "expocalc" / "data"

MEDIAN_SUBS = (*range(1, 65), *(n for n in (100, 200, 500, 1000, 3000, 10_000)))
STEP_SHARES = (0.0, 0.01, 0.03, 0.06, 0.1, 0.15, 0.2, 0.25)
"""Native step squared over the variance of one value."""
CLIP_SUBS = (*range(2, 21), 22, 25, 30, 35, 40, 50, 60, 80, 100, 200, 500, 2000)
CLIPS = (*(round(1.5 + 0.1 * i, 1) for i in range(26)), 4.5, 5.0, 6.0, 10.0)


def middle_two(subs: int, draws: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """The two middle ones of `subs` standard normal values; twice the same where `subs` is odd."""
    k = (subs + 1) // 2
    lower = rng.beta(k, subs - k + 1, draws)
    if subs % 2:
        return ndtri(lower), ndtri(lower)
    upper = 1 - (1 - lower) * rng.random(draws) ** (1 / (subs - k))
    return ndtri(lower), ndtri(upper)


def median_factors(subs: int, draws: int, rng: np.random.Generator) -> list[float]:
    """Stacking factor of the median for each of STEP_SHARES."""
    low, high = middle_two(subs, draws, rng)
    place = rng.random(draws)
    found = []
    for share in STEP_SHARES:
        if share == 0:
            error = (low + high) / 2
        else:
            step = math.sqrt(share)
            smooth = math.sqrt(1 - share / 12)  # the variance of one value holds that of rounding
            mid = (np.rint(low * smooth / step + place) + np.rint(high * smooth / step + place)) / 2
            error = (mid - place) * step
        found.append(float(subs * np.mean(error**2)))
    return found


def clipped_means(values: np.ndarray, clip: float, ddof: int = 1) -> np.ndarray:
    """Mean of what lies within `clip` sample standard deviations of the median, one pass, along the last axis."""
    median = np.median(values, axis=-1, keepdims=True)
    kept = np.abs(values - median) <= clip * values.std(axis=-1, ddof=ddof, keepdims=True)
    return (values * kept).sum(axis=-1) / kept.sum(axis=-1)


def clip_factors(subs: int, values: int, rng: np.random.Generator) -> list[float]:
    """Stacking factor of the clipped mean for each of CLIPS."""
    found = np.zeros(len(CLIPS))
    stacks = values // subs
    for size in (stacks // 20,) * 20:
        drawn = rng.standard_normal((size, subs))
        away = np.abs(drawn - np.median(drawn, axis=1, keepdims=True)) / drawn.std(axis=1, ddof=1, keepdims=True)
        mean = drawn.mean(axis=1)
        order = np.argsort(away, axis=1)  # the kept values are the first ones in order of distance
        ranked = np.take_along_axis(away, order, axis=1)
        sums = np.cumsum(np.take_along_axis(drawn, order, axis=1), axis=1)
        for i, clip in enumerate(CLIPS):
            last = (ranked <= clip).sum(axis=1) - 1
            found[i] += np.mean((sums[np.arange(size), last] / (last + 1) - mean) ** 2) / 20
    return [float(1 + subs * part) for part in found]


def _write(name: str, columns: list[tuple[str, str]], meta: dict[str, str], rows: list[str]) -> None:
    head = ["%ECSV 1.0", "---", "datatype:"]
    head += [f"- {{name: {column}, datatype: float64, description: {text}}}" for column, text in columns]
    head += ["meta:", *(f'  {key}: "{text}"' for key, text in meta.items()), "schema: astropy-2.0"]
    lines = [*(f"# {line}" for line in head), " ".join(column for column, _ in columns), *rows]
    (DATA / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


def main() -> None:
    rng = np.random.default_rng(SEED)
    common = {
        "author": "this project, made by tests/evidence/stacking_tables.py",
        "year": "2026",
        "licence": "that of this project",
    }
    rows = []
    for subs in MEDIAN_SUBS:
        both = median_factors(subs, MEDIAN_DRAWS, rng)
        if subs > 64:  # beyond, even and odd differ by less than the table needs to tell
            both = list(np.mean([both, median_factors(subs + 1, MEDIAN_DRAWS, rng)], axis=0))
        rows += [f"{subs + 0.5 * (subs > 64):g} {u:g} {k:.4f}" for u, k in zip(STEP_SHARES, both, strict=True)]
    _write(
        "stacking_median.ecsv",
        [
            ("subs", "number of values; above 64 the mean of an even and an odd number"),
            ("step_share", "native step squared over the variance of one value"),
            ("factor", "N times mean squared error of the median over the variance of one value"),
        ],
        {
            "title": "Stacking factor of the median of normal values rounded to the converter's steps",
            **common,
            "note": f"Simulated: {MEDIAN_DRAWS} draws a cell, seed {SEED}, relative error "
            f"{math.sqrt(2 / MEDIAN_DRAWS):.4f}. The mean lies anywhere between two steps with equal chance and stays "
            "there in all subs; the variance of one value holds that of rounding.",
        },
        rows,
    )
    rng = np.random.default_rng(SEED)
    rows = []
    for subs in CLIP_SUBS:
        factors = clip_factors(subs, CLIP_VALUES, rng)
        rows += [f"{subs:g} {c:g} {k:.5f}" for c, k in zip(CLIPS, factors, strict=True)]
    _write(
        "stacking_clipped.ecsv",
        [
            ("subs", "number of values"),
            ("clip", "sample standard deviations from the median beyond which a value is left out"),
            ("factor", "N times variance of the clipped mean over the variance of one value"),
        ],
        {
            "title": "Stacking factor of the mean clipped once about the median, normal values",
            **common,
            "note": f"Simulated: {CLIP_VALUES} values for each number of subs, seed {SEED}; factor - 1 has a relative "
            "error of sqrt(2 subs / values), 0.002 at 30 subs. Standard deviation with subs - 1.",
        },
        rows,
    )


if __name__ == "__main__":
    main()
