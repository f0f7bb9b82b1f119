"""What stacking by median and by clipped mean costs: our tables against frames, and against published figures."""

import math
import runpy
from pathlib import Path

import numpy as np
import pytest
from astropy.stats import sigma_clip
from astropy.table import Table

from expocalc.base.table import DATA
from expocalc.budget.estimator import clipped_mean_factor, estimator_warning, median_factor

SIGMAS = 4
MAKE = runpy.run_path(str(Path(__file__).with_name("stacking_tables.py")))


def _normal_median_factor(subs: int) -> float:
    return float(median_factor(subs, 1e6, 0.0, 0.0))


@pytest.mark.parametrize("subs", [3, 4, 9, 10, 31, 64])
@pytest.mark.parametrize("step", [0.0, 0.3, 0.5])
def test_median_table_against_whole_frames(subs, step):
    """Every value drawn and rounded; the table was made from the two middle ones alone."""
    draws = 40_000
    rng = np.random.default_rng(subs)
    place = rng.random((draws, 1)) * step
    values = rng.normal(0, math.sqrt(1 - step**2 / 12), (draws, subs)) + place
    if step:
        values = np.rint(values / step) * step
    error2 = (np.median(values, axis=1) - place[:, 0]) ** 2
    ours = float(median_factor(subs, 1e6, 0.0, step * 1e3))
    assert ours == pytest.approx(subs * error2.mean(), abs=SIGMAS * subs * error2.std() / math.sqrt(draws))


@pytest.mark.parametrize(("subs", "clip"), [(4, 1.5), (10, 2.0), (15, 2.5), (40, 2.0), (100, 3.0), (300, 1.7)])
def test_clipped_table_against_whole_frames(subs, clip):
    draws = 4_000_000 // subs
    values = np.random.default_rng(subs).standard_normal((draws, subs))
    clipped = MAKE["clipped_means"](values, clip)
    ours = float(clipped_mean_factor(subs, clip))
    assert ours == pytest.approx(subs * clipped.var(ddof=1), rel=SIGMAS * math.sqrt(2 / draws))


@pytest.mark.parametrize("subs", [5, 22, 60])
def test_the_tables_come_from_the_script(subs):
    """A few rows made again with other draws."""
    rng = np.random.default_rng(7)
    table = Table.read(DATA / "stacking_median.ecsv", format="ascii.ecsv")
    row = np.asarray(table["factor"][table["subs"] == subs])
    draws = 200_000
    np.testing.assert_allclose(row, MAKE["median_factors"](subs, draws, rng), rtol=SIGMAS * math.sqrt(2 / draws))
    table = Table.read(DATA / "stacking_clipped.ecsv", format="ascii.ecsv")
    row = np.asarray(table["factor"][table["subs"] == subs])
    again = np.array(MAKE["clip_factors"](subs, 20_000 * subs, rng))
    common = row > 1.1  # rarer rejections are too few here to tell their error, which is up to twice a normal one's
    assert common.sum() >= 5
    assert np.all(np.abs(again - row)[common] < SIGMAS * 2 * (row[common] - 1) * math.sqrt(2 / 20_000))


def test_variance_of_the_median_of_many():
    """Kendall & Stuart, The Advanced Theory of Statistics: 2/pi in variance for many values (from memory)."""
    assert 1 / _normal_median_factor(10_000) == pytest.approx(2 / math.pi, abs=0.001)


def test_variance_of_the_median_of_three():
    """Closed form for three normal values: 1 - sqrt(3)/pi (David & Nagaraja 2003, Order Statistics; from memory)."""
    assert _normal_median_factor(3) / 3 == pytest.approx(1 - math.sqrt(3) / math.pi, rel=0.002)


def test_even_numbers_are_better_for_the_median_than_odd():
    for even in (4, 10, 20, 50):
        assert _normal_median_factor(even) < min(_normal_median_factor(even - 1), _normal_median_factor(even + 1))


@pytest.mark.parametrize(
    ("subs", "efficiency"),
    # efficiencies of the median of n normal values by an earlier simulation of 2e5 to 4e5 draws
    [(3, 0.747), (4, 0.839), (5, 0.696), (7, 0.682), (9, 0.671), (10, 0.724), (15, 0.655), (20, 0.684), (25, 0.648),
     (31, 0.646), (50, 0.654), (101, 0.640)],
)  # fmt: skip
def test_median_efficiency_of_an_earlier_simulation(subs, efficiency):
    assert 1 / _normal_median_factor(subs) == pytest.approx(efficiency, rel=SIGMAS * math.sqrt(2 / 2e5))


@pytest.mark.parametrize("subs", [10, 30])
@pytest.mark.parametrize("clip", [2.0, 3.0])
def test_clipping_of_astropy(subs, clip):
    """astropy.stats.sigma_clip, one pass about the median, rejects what we do with our sample sigma for its own."""
    values = np.random.default_rng(5).standard_normal((20_000, subs))
    as_theirs = clip * math.sqrt(subs / (subs - 1))  # it divides by n, we by n - 1
    theirs = sigma_clip(values, sigma=as_theirs, maxiters=1, cenfunc="median", axis=1).mean(axis=1)
    np.testing.assert_allclose(MAKE["clipped_means"](values, clip), np.asarray(theirs), rtol=0, atol=1e-12)


def test_lone_outliers_of_ten_standard_deviations():
    """By an earlier simulation: rejected at 3 sigma in 51 % of cases at N = 10, 97 % at 12, never at 8 or fewer."""
    rng = np.random.default_rng(3)

    def rejected(subs: int, clip: float = 3.0) -> float:
        values = rng.standard_normal((20_000, subs))
        values[:, 0] += 10
        away = np.abs(values[:, 0] - np.median(values, axis=1))
        return float(np.mean(away > clip * values.std(axis=1, ddof=1)))

    assert rejected(8) == 0
    assert rejected(10) == pytest.approx(0.51, abs=0.015)
    assert rejected(12) == pytest.approx(0.97, abs=0.01)
    for clip, subs in ((2.0, 15), (3.0, 15), (4.0, 26)):  # from where we do not warn any more
        assert estimator_warning("clipped mean", subs, clip) is None
        assert estimator_warning("clipped mean", subs - 1, clip) is not None
        assert rejected(subs, clip) > 0.98
