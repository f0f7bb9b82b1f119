"""The sky through a night beside published values and facts of the trade."""

import datetime as dt

import numpy as np
import pytest

from expocalc.light.airmass import natural_factor, van_rhijn
from expocalc.night.moments import moments_of
from expocalc.night.night import tonight_of
from expocalc.night.windows import almanac_of
from expocalc.night.worth import reference_of, worth_over
from expocalc.plan import Plan


def test_van_rhijn_of_a_layer_at_90_100_and_250_km():
    # van Rhijn 1921; Leinert et al. 1998, A&AS 127, 1, sec. 5: secants of a thin shell, computed from the formula
    z = [45, 60, 70, 80, 90]
    assert van_rhijn(z).round(4).tolist() == pytest.approx([1.3951, 1.9219, 2.6595, 4.1902, 6.0154], abs=2e-3)
    assert van_rhijn([60, 90], 100.0).tolist() == pytest.approx([1.9140, 5.7133], abs=2e-3)
    assert float(van_rhijn(60, 250.0)) == pytest.approx(1.8092, abs=2e-3)


def test_van_rhijn_is_the_path_through_a_shell():
    # geometry: the chord through a thin shell 90 km up, from the ground
    for zenith in (30.0, 60.0, 85.0):
        c, r, h = np.cos(np.radians(zenith)), 6378.0, 90.0

        def distance(height, c=c, r=r):
            return -r * c + np.sqrt((r * c) ** 2 + 2 * r * height + height**2)

        assert distance(h + 0.01) - distance(h) == pytest.approx(0.01 * float(van_rhijn(zenith)), rel=1e-3)


def test_a_dark_sky_brightens_towards_the_horizon_as_published():
    # Krisciunas & Schaefer 1991 eq. 2, the same law with their airmass: X 10^(-0.4 k (X - 1))
    for altitude in (60.0, 40.0, 30.0):
        x = 1 / np.sqrt(1 - 0.96 * np.cos(np.radians(altitude)) ** 2)
        published = x * 10 ** (-0.4 * 0.172 * (x - 1))
        assert float(natural_factor(altitude, 0.172)) == pytest.approx(published, rel=0.03)


@pytest.fixture(scope="module")
def dark_site():
    """The demo plan under a country sky."""
    plan = Plan.read("notebooks/plans/mono-single-lines.toml")
    return plan.with_values({("sky", "zenith_brightness"): "21.3 mag/arcsec2", ("sky", "reading_band"): "bessell-V"})


def test_a_moon_that_rises_after_midnight_ends_a_session_of_long_exposures(dark_site):
    # common practice, no source: a Moon that rises at about one ends the session in O III early
    night = tonight_of(dark_site.case, dt.date(2026, 10, 3))
    assert 22 <= night.evening.local(night.moon.rise_s).hour or night.evening.local(night.moon.rise_s).hour <= 2
    case, almanac = night.case, almanac_of(night.case)
    t = night.moon.rise_s + np.array([-1800.0, 5400.0])
    before, after = (worth_over(case, reference_of(case, f), moments_of(case, almanac, t)).worth for f in case.filters)
    for worth in (before, after):
        assert worth[1] < 0.8 * worth[0]
    assert after[1] / after[0] < before[1] / before[0]  # O III loses more than H-alpha


def test_moonlight_is_blue_as_patat_found(dark_site):
    # Patat 2003, A&A 400, 1183, sec. 7: ten days after new Moon the sky rises far more in B than in I
    bands = [{"name": name, "passbands": [{"standard": f"bessell-{name}"}]} for name in ("B", "I")]
    plan = dark_site.with_values({("filters",): bands, ("target", "light"): [{"continuum": "25 mag/arcsec2"}]})
    night = tonight_of(plan.case, dt.date(2026, 10, 21))
    almanac = almanac_of(plan.case)
    t = np.array([night.moon.transit_s])
    at = moments_of(plan.case, almanac, t)
    rises = []
    for filter_ in plan.case.filters:
        rate = worth_over(plan.case, reference_of(plan.case, filter_), at).rates
        rises.append(2.5 * np.log10(float((rate.sky_e_s / (rate.sky_e_s - rate.moon_e_s))[0, 0])))
    assert rises[0] > rises[1] + 0.8
    assert 1.5 < rises[0] < 4.5
    assert 0.3 < rises[1] < 2.0
