import dataclasses
import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from expocalc.budget.doubt import INPUTS, Doubt
from expocalc.budget.spread import DRAWS, spread, spread_steps
from expocalc.plan import Plan

PLANS = Path(__file__).resolve().parents[1] / "notebooks/plans"
NAMES = ("mono-single-lines", "colour-dual-band")


@pytest.fixture(scope="module", params=NAMES)
def plan(request):
    return Plan.read(PLANS / f"{request.param}.toml")


@pytest.fixture(scope="module")
def mono():
    bare = {("routine", "darks"): "perfect", ("routine", "flats"): "perfect", ("routine", "stacking"): "mean"}
    return Plan.read(PLANS / "mono-single-lines.toml").with_values(bare)


def exact_reading(plan):
    return plan.with_values({("sky", "brightness_error"): "0 mag/arcsec2"})


def width(row):
    return row.range.p90_h / row.range.p10_h


# -- the noun


def test_doubt_reads_percent_and_factor_alike():
    assert Doubt(read_noise="12 %").read_noise == pytest.approx(Doubt(read_noise=1.12).read_noise)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("target", 0.3, 'target must be at least 1, got 0.3; write it like "10 %" or the factor 1.1'),
        ("target", "-20 %", "target must be at least 0, got -0.2"),
        ("dark_current", math.nan, "dark_current must be a finite number"),
        ("filter_centre", 0.5, "filter_centre needs a unit convertible to nm"),
        ("filter_centre", "-1 nm", "filter_centre must be at least 0 nm"),
        ("lamp_colour", -1, "lamp_colour must be at least 0"),
    ],
)
def test_doubt_refuses(field, value, words):
    with pytest.raises((TypeError, ValueError), match=words):
        Doubt(**{field: value})


def test_every_doubt_is_an_input_with_words_and_is_shown():
    fields = [field.name for field in dataclasses.fields(Doubt)]
    assert set(INPUTS) == {*fields, "sky_reading", "lamps_told"}
    assert set(Doubt().shown) == set(fields)
    assert all(Doubt.none().size(name) == 0 for name in fields)


# -- the spread


def test_without_doubts_every_draw_is_the_plan(plan):
    sure = exact_reading(plan)
    found = spread(sure.case, Doubt.none(), draws=50)
    answer = sure.solve()
    assert [(row.filter_name, row.light) for row in found.rows] == [(r.filter_name, r.light) for r in answer.rows]
    for row, of_plan in zip(found.rows, answer.rows, strict=True):
        assert row.range.p10_h == row.range.p50_h == row.range.p90_h == pytest.approx(of_plan.kept_h, rel=1e-12)
        assert row.shares == {}
    for one in answer.filters:
        assert found.filters[one.filter_name].p50_h == pytest.approx(one.kept_h, rel=1e-12)


def test_median_is_near_the_plan_and_tenths_lie_around_it(plan):
    found, answer = spread(plan.case, Doubt(practice="none", flatness=1)), plan.solve()
    for row, of_plan in zip(found.rows, answer.rows, strict=True):
        assert row.range.p10_h < of_plan.kept_h < row.range.p90_h
        assert row.range.p50_h == pytest.approx(of_plan.kept_h, rel=0.15)
        assert row.kept_h.shape == (DRAWS,)
        assert (row.kept_h > 0).all()


def test_practice_multiplies_the_hours_at_best(plan):
    """Each draw is the same plan, longer by its own factor; the SNR after some hours is that of hours at best."""
    best, planned = (spread(plan.case, Doubt(practice=given)) for given in ("none", "published"))
    for less, more in zip(best.rows, planned.rows, strict=True):
        np.testing.assert_allclose(more.kept_h, less.kept_h * more.practice, rtol=1e-12)
        assert more.practice.min() == 1 < np.median(more.practice) < 2.5
        assert less.range.p50_h < more.range.p50_h
        assert less.range.out_of_reach == more.range.out_of_reach
        assert "practice" in more.shares
        assert "practice" not in less.shares
        assert (more.snr_at([5.0]) <= less.snr_at([5.0])).all()
    own = spread(plan.case, Doubt(practice=1.5)).rows[0]
    np.testing.assert_allclose(own.kept_h, 1.5 * best.rows[0].kept_h, rtol=1e-12)


def test_same_seed_same_draws_other_seed_others(mono):
    first, again, other = (spread(mono.case, Doubt(), 500, seed).rows[0].kept_h for seed in (1, 1, 2))
    np.testing.assert_array_equal(first, again)
    assert not np.isclose(first, other).any()


def test_an_input_keeps_its_draws_when_the_plan_grows(mono):
    alone = mono.with_values({("filters",): list(mono.values["filters"][:1])})
    found = mono.with_values({("target", "light"): list(mono.values["target"]["light"][:1])})
    assert len(found.solve().rows) == 2
    np.testing.assert_allclose(
        spread(alone.case, Doubt(), 500).rows[0].kept_h, spread(mono.case, Doubt(), 500).rows[0].kept_h, rtol=1e-12
    )


def test_pieces_change_nothing(mono, monkeypatch):
    whole = spread(mono.case, Doubt(), 900)
    monkeypatch.setattr("expocalc.budget.spread._CHUNK", 250)
    pieces = spread(mono.case, Doubt(), 900)
    for a, b in zip(whole.rows, pieces.rows, strict=True):
        np.testing.assert_allclose(a.kept_h, b.kept_h, rtol=1e-12)
        np.testing.assert_allclose(a.snr_at([1.0, 3.0]), b.snr_at([1.0, 3.0]), rtol=1e-12)
        assert a.shares == pytest.approx(b.shares)


def test_steps_tell_how_far_they_are_and_can_be_left(mono, monkeypatch):
    monkeypatch.setattr("expocalc.budget.spread._CHUNK", 100)
    done = list(spread_steps(mono.case, Doubt(), 500))
    assert done == pytest.approx(np.arange(1, 11) / 10)
    left = spread_steps(mono.case, Doubt(), 500)
    assert list(itertools.islice(left, 3)) == done[:3]
    left.close()


def test_no_draws_are_refused(mono):
    with pytest.raises(ValueError, match="draws must be at least 1, got 0"):
        spread(mono.case, Doubt(), draws=0)


def test_shares_are_ranked_and_sum_to_one_or_less(plan):
    for row in spread(plan.case, Doubt(), 10_000).rows:
        shares = list(row.shares.values())
        assert shares == sorted(shares, reverse=True)
        assert 0.7 < sum(shares) < 1.05
        assert set(row.shares) <= set(INPUTS)


@pytest.mark.parametrize("name", ["target", "efficiency", "extinction", "dark_current"])
def test_a_smaller_doubt_has_a_smaller_share_and_a_narrower_range(mono, name):
    def of(factor):
        return spread(mono.case, dataclasses.replace(Doubt(), **{name: factor}), 4000).rows[0]

    usual, small = of(1.3 if name != "dark_current" else 5.0), of(1.02)
    assert small.shares[name] < usual.shares[name]
    assert width(small) < width(usual)


def test_a_measured_sky_takes_the_place_of_the_doubts_of_the_sky(mono):
    rate = mono.solve().rows[0].sky_e_s
    measured = mono.with_values({("sky", "measured"): {"H-alpha 5 nm": f"{rate} electron/s"}})
    doubt = Doubt(target=1, practice="none")
    before, after = (spread(p.case, doubt, 4000) for p in (mono, measured))
    of_sky = {"sky_reading", "lamp_mix", "lamp_colour", "natural_sky"}
    assert of_sky <= set(before.rows[0].shares)
    assert not of_sky & set(after.rows[0].shares)
    assert "measured_sky" in after.rows[0].shares
    assert after.rows[0].range.p50_h == pytest.approx(before.rows[0].range.p50_h, rel=0.03)
    assert width(after.rows[0]) < width(before.rows[0])
    np.testing.assert_allclose(after.rows[1].kept_h, before.rows[1].kept_h)  # the other filter's sky is as it was


def test_a_sky_measured_in_magnitudes_moves_with_the_efficiency_a_rate_does_not(mono):
    """A background-limited patch: hours go as sky over the square of the signal."""
    row = mono.solve().rows[0]
    only = dataclasses.replace(Doubt.none(), efficiency=1.1)
    quiet = {
        ("camera", "gains", "high", "read_noise"): "0 electron",
        ("camera", "dark_current", "rate"): "0 electron/s",
    }

    def sd(value):
        measured = mono.with_values({**quiet, ("sky", "measured"): {"H-alpha 5 nm": value}})
        return np.std(np.log(spread(measured.case, only, 2000).rows[0].kept_h))

    by_rate, by_magnitude = sd(f"{row.sky_e_s} electron/s"), sd(f"{row.sky_mag_ab} mag/arcsec2")
    assert by_magnitude == pytest.approx(math.log(1.1), rel=0.07)
    assert by_rate > 1.5 * by_magnitude


def test_one_lamp_has_no_doubt_of_the_mix(mono):
    one = exact_reading(mono).with_values({("sky", "lamps"): {"led-3000K": 1.0}})
    row = spread(one.case, dataclasses.replace(Doubt.none(), lamp_mix=3), 100).rows[0]
    np.testing.assert_allclose(row.kept_h, row.kept_h[0])


def test_a_goal_beyond_the_floor_has_no_hours_and_no_shares(mono):
    beyond = mono.with_values({("routine", "background_flatness"): 0.5})
    row = spread(beyond.case, Doubt(), 200).rows[0]
    assert row.range.out_of_reach == 1
    assert row.range.p10_h == math.inf
    assert row.shares == {}


def test_a_filter_that_passes_nothing_has_no_row(mono):
    none = mono.with_values({("target", "light"): [{"line": "S II", "brightness": "5 R"}]})
    found = spread(none.case, Doubt(), 100)
    assert found.rows == ()
    assert found.filters == {}


def test_snr_in_its_band_meets_the_goal_at_the_hours_of_the_range(plan):
    for row in spread(plan.case, Doubt()).rows:
        low, middle, high = row.snr_at([row.range.p10_h, row.range.p50_h, row.range.p90_h])
        goal = plan.case.goal.snr
        assert [high[0], middle[1], low[2]] == pytest.approx([goal] * 3, rel=0.02)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    "reading",
    [
        {"luminance": "0.3 mcd/m2"},
        {"bortle": 1},
        {"bortle": 9},
        {"naked_eye_limit": 6.5},
        {"zenith_brightness": "22 mag/arcsec2", "reading_band": "meter"},
        {"zenith_brightness": "21.9 mag/arcsec2", "reading_band": "cie-V"},
    ],
)
def test_every_kind_of_reading_has_a_spread(mono, reading):
    rest = {key: value for key, value in mono.values["sky"].items() if key == "lamps"}
    even = mono.with_values({("routine", "background_flatness"): "perfect"})  # so that all draws get there
    plan = _with_sky(even, {**rest, **reading})
    for row in spread(plan.case, Doubt(), 1000).rows:
        assert np.isfinite(row.kept_h).all()
        assert row.range.p10_h < row.range.p90_h
    sure = plan.with_values({("sky", "brightness_error"): "0 mag/arcsec2"})
    for row, of_plan in zip(spread(sure.case, Doubt.none(), 3).rows, sure.solve().rows, strict=True):
        assert row.range.p50_h == pytest.approx(of_plan.kept_h, rel=1e-9)


def _with_sky(plan, values):
    changes = {("sky", key): None for key in plan.values["sky"] if key not in values}
    return plan.with_values({**changes, **{("sky", key): value for key, value in values.items()}})
