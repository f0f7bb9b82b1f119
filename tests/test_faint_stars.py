"""Stars too faint to be taken out: their counts, what they do to a patch, and what is said of it."""

import dataclasses
import math
from pathlib import Path

import astropy.units as u
import numpy as np
import pytest
from astropy.coordinates import SkyCoord
from hypothesis import given
from hypothesis import strategies as st

from expocalc.base.words import say_number
from expocalc.budget.blame import Blame, Effort
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.rates import rates
from expocalc.budget.stack import snr_ceiling, stack_snr2
from expocalc.budget.stacked import patch_of
from expocalc.light.star_counts import galactic, lumps, stars_brighter, stars_per_mag
from expocalc.plan import Plan, PlanError

MONO = Path(__file__).parents[1] / "notebooks/plans/mono-single-lines.toml"


@pytest.fixture(scope="module")
def mono():
    return Plan.read(MONO).with_values({("routine", "background_flatness"): "perfect"})


def crowded(plan, removed_to="15 mag", **more):
    changes = {("target", "stars_removed_to"): removed_to}
    return plan.with_values(changes | {("target", name): value for name, value in more.items()})


@pytest.mark.parametrize("place", [(83.8, -5.4), (311.4, 30.7), (10.7, 41.3), (0, 90), (266.4, -29.0)])
def test_galactic_coordinates_are_astropy_s(place):
    reference = SkyCoord(*place, unit="deg").galactic
    lon, b = galactic(*place)
    assert b == pytest.approx(reference.b.deg, abs=1e-3)
    assert math.cos(math.radians(b)) * ((lon - reference.l.deg + 180) % 360 - 180) == pytest.approx(0, abs=2e-3)


def test_counts_per_magnitude_are_the_slope_of_those_brighter():
    """The paper's two fits are of one model: they agree to a fourth, where each is good to 15 %."""
    for lon, b in ((0, 90), (90, 30), (180, 20), (90, 60)):
        m = np.arange(9, 23, 0.5)
        slope = (stars_brighter(m + 0.05, lon, b) - stars_brighter(m - 0.05, lon, b)) / 0.1
        assert stars_per_mag(m, lon, b) == pytest.approx(slope, rel=0.25)


def test_counts_lie_about_those_of_a_catalogue_of_the_whole_sky():
    """UCAC4 (Zacharias et al. 2013) has 9.4e2 stars/deg2 brighter than 15 over all the sky, 2.2e3 brighter than 16.

    A mean over the sky by this formula, whose lowest 20 degrees lack the stars of the plane, must be less, not by far.
    """
    b = np.degrees(np.arcsin(np.linspace(0.0125, 0.9875, 40)))
    lon = np.arange(5, 360, 10)
    for m, counted in ((15, 955), (16, 2155)):
        mean = np.mean([[float(stars_brighter(m, one, other)) for one in lon] for other in b])
        assert 0.3 < mean / counted < 1.0


def test_variance_is_that_of_stars_thrown_at_random():
    """Campbell's theorem against a simulation: stars of the counts over many patches."""
    rng, area, low, high = np.random.default_rng(3), 400.0, 14.0, 20.0
    lon, b = 90.0, 30.0
    m = np.arange(low, high, 0.05) + 0.025
    expected = area * 0.05 * stars_per_mag(m, lon, b) / 3600**2
    counts = rng.poisson(expected, (400_000, m.size))
    light = counts @ 10 ** (-0.4 * m)
    whole = lumps(low, lon, b) - lumps(high, lon, b)
    assert light.var() == pytest.approx(area * whole, rel=0.1)


@given(st.floats(8, 24), st.floats(0, 360), st.floats(-90, 90))
def test_fewer_stars_taken_out_leave_more_lumps(m, lon, b):
    assert lumps(m, lon, b) > lumps(m + 0.5, lon, b) > 0


def test_a_ceiling_that_grows_with_the_side_of_the_patch():
    """s side / f: by hand, and no hours go beyond it."""
    patch = Patch(side_px=10.0, sub_s=60.0, signal_e_s=np.array([0.1]), light_e_s=np.array([2.0]), faint_e_s=0.05)
    assert float(snr_ceiling(patch, Habits())) == pytest.approx(0.1 * 10 / 0.05)
    wide = dataclasses.replace(patch, side_px=20.0)
    assert float(snr_ceiling(wide, Habits())) == pytest.approx(40)
    beside = Habits(background_px=10.0)  # a background patch of the same size has lumps of its own
    assert float(snr_ceiling(patch, beside)) == pytest.approx(20 / math.sqrt(2))
    assert float(stack_snr2(patch, Habits(), 1e12)) == pytest.approx(400, rel=1e-3)
    uneven = Habits(flatness=0.1 / 2.1 / 20)
    assert float(snr_ceiling(patch, uneven)) == pytest.approx(20 / math.sqrt(2))


def test_a_plan_states_it_and_it_is_off_otherwise(mono):
    light = mono.case.target.named_lights[0][0]
    filter_ = mono.case.filters[0]
    assert patch_of(mono.case, rates(mono.case, filter_), light, 300).faint_e_s == 0
    lumpy = crowded(mono)
    rate = rates(lumpy.case, filter_)
    patch = patch_of(lumpy.case, rate, light, 300)
    place = galactic(float(mono.case.target.right_ascension.value), float(mono.case.target.declination.value))
    star_e_s = float(rate.ab_zero_e_s[0]) / rate.scale_arcsec**2  # of magnitude 0
    assert patch.faint_e_s[0] == pytest.approx(star_e_s * math.sqrt(lumps(15, *place)) * rate.scale_arcsec)
    assert lumpy.solve().rows[0].snr_ceiling < mono.solve().rows[0].snr_ceiling
    assert crowded(mono, star_crowding=4).solve().rows[0].snr_ceiling == pytest.approx(
        lumpy.solve().rows[0].snr_ceiling / 2, rel=0.02
    )


def test_hours_ceiling_range_and_words_know_them(mono):
    even, lumpy = mono.solve(), crowded(mono, "15.5 mag", star_crowding=3)
    found = lumpy.solve()
    row = found.rows[0]
    rate = rates(lumpy.case, lumpy.case.filters[0])
    blame = Blame.of(Effort(lumpy.case, rate, row.light, row.sub_s))
    if row.kept_h is None:
        assert blame.capping == "faint stars"
        assert "stars too faint to be taken out ends it" in found.filters[0].verdict
    else:
        assert row.kept_h > even.rows[0].kept_h
    assert blame.hours_h["faint stars"] == pytest.approx(even.rows[0].clock_h, rel=0.03)
    assert lumpy.spread().rows[0].range.p50_h > mono.spread().rows[0].range.p50_h


def test_a_goal_beyond_names_the_stars_and_what_lifts_it(mono):
    verdict = crowded(mono, "13 mag").solve().filters[0].verdict
    assert "is out of reach" in verdict
    assert "stars too faint to be taken out" in verdict
    assert "stars taken out down to" in verdict


def test_a_target_in_the_milky_way_hears_that_they_are_not_counted(mono):
    """Only where nobody says of them, and where there are many."""
    said = "° from the plane of the Milky Way: stars too faint to be taken out are not counted."
    _, latitude = galactic(float(mono.case.target.right_ascension.value), float(mono.case.target.declination.value))
    assert abs(latitude) < 20
    assert f"The target lies {say_number(abs(latitude))}{said}" in mono.solve().filters[0].verdict
    told = crowded(mono).solve().filters[0].verdict
    assert said not in told
    assert f"The target lies {say_number(abs(latitude))}° from the plane of the Milky Way: stars too faint" in told
    assert "stars too faint to be taken out are counted as at 20°, and there are more." in told
    far = crowded(mono).with_values({("target", "right_ascension"): "192.9 deg", ("target", "declination"): "27.1 deg"})
    assert "plane of the Milky Way" not in far.solve().filters[0].verdict
    pole = mono.with_values({("target", "right_ascension"): "192.9 deg", ("target", "declination"): "27.1 deg"})
    assert said not in pole.solve().filters[0].verdict
    nowhere = mono.with_values({("target", "right_ascension"): None, ("target", "declination"): None})
    assert said not in nowhere.solve().filters[0].verdict


def test_without_a_place_it_is_refused(mono):
    gone = {("target", "right_ascension"): None, ("target", "declination"): None}
    with pytest.raises(PlanError, match="stars_removed_to must have a position beside it"):
        mono.with_values({**gone, ("target", "stars_removed_to"): "15 mag"})
    assert u.Quantity(15, "mag") == crowded(mono).case.target.stars_removed_to
