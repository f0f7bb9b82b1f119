"""Equivalent hours of an autumn beside a sum by hand: CCD equation, airmass, extinction, gradient, moonlight."""

import datetime as dt

import numpy as np
import pytest

from expocalc.light.moon import Moon, moon_factor, moon_spectrum
from expocalc.night.moments import ZENITH, moments_of, rates_over
from expocalc.night.nights import nights_from
from expocalc.night.windows import almanac_of
from expocalc.night.worth import reference_of
from expocalc.plan import Plan

DEMO = Plan.read("notebooks/plans/mono-single-lines.toml")
PERFECT = DEMO.with_values(
    {("routine", "darks"): "perfect", ("routine", "flats"): "perfect", ("goal", "snr"): 200}  # whole subs don't matter
)
LINES_NM = {"H-alpha 5 nm": 656.3, "O III 5 nm": 500.7}
NIGHTS = [dt.date(2026, 9, 1) + dt.timedelta(days=11 * n) for n in range(8)]
STEP_S = 600.0


def by_hand(case, filter_, at):
    """SNR^2 per second of a pixel against that at the zenith without the Moon."""
    zenith = rates_over(case, filter_, ZENITH)
    signal, sky, dark = (
        float(np.ravel(x)[0]) for x in (next(iter(zenith.extended.values())), zenith.sky_e_s, zenith.dark_e_s)
    )
    line = LINES_NM[filter_.name]
    curve = case.sky.extinction_curve(float(case.site.elevation.value))
    k, k_v = float(curve(line)), float(curve(550.0))
    down = 90 - at.altitude_deg
    airmass = 1 / (np.cos(np.radians(down)) + 0.50572 * (96.07995 - down) ** -1.6364)  # Kasten & Young 1989
    s = signal * 10 ** (-0.4 * k * (airmass - 1))
    b = sky * 10 ** (0.4 * 0.4 * (down / 45) ** 2)  # the plan's gradient of 0.4 mag at 45 degrees
    passes = filter_.curve_in(case.telescope)
    for n in np.flatnonzero(at.moon_altitude_deg > 0):
        moon = Moon(
            phase_angle=f"{at.moon_phase_deg[n]} deg", altitude=f"{at.moon_altitude_deg[n]} deg",
            separation=f"{at.moon_separation_deg[n]} deg",
        )  # fmt: skip
        b[n] += sky * (moon_factor(case.sky, passes, moon_spectrum(moon, float(at.altitude_deg[n]), k_v)) - 1)
    sub_s = reference_of(case, filter_).sub_s
    noise = case.camera.setting.read_variance_e2

    def rate(signal, sky):
        return (signal * sub_s) ** 2 / ((signal + sky + dark) * sub_s + noise)

    return rate(s, b) / rate(signal, sky)


@pytest.fixture(scope="module")
def sums():
    """Hours of both kinds, of the nights together, by filter."""
    found = {}
    for plan in (PERFECT, DEMO):
        case, ours, hand = plan.case, np.zeros(2), np.zeros(2)
        references = [reference_of(case, f) for f in case.filters]
        for date in NIGHTS:
            nights = nights_from(case, almanac_of(case), references, date, 1)
            ours += [hours.equivalent_dark_h for hours in nights.hours(0)]
            for window in nights.windows[0]:
                edges = np.linspace(window.begin_s, window.end_s, 2 + int(window.hours * 3600 / STEP_S))
                at = moments_of(case, almanac_of(case), (edges[1:] + edges[:-1]) / 2)
                hand += [float((by_hand(case, f, at) * np.diff(edges)).sum()) / 3600 for f in case.filters]
        found[plan] = ours, hand
    return found


def test_hours_are_those_of_a_sum_by_hand(sums):
    ours, hand = sums[PERFECT]
    assert ours == pytest.approx(hand, rel=1e-3)


def test_what_darks_and_flats_leave_costs_a_hundredth(sums):
    # the sum by hand knows no masters: their noise is common to all subs, and weighs more where the signal is weak
    ours, hand = sums[DEMO]
    assert 1 - ours / hand == pytest.approx([0.006, 0.012], abs=0.003)
