"""Rates by arrays: the same as one by one, exact behind any air, and what has no light has none."""

import dataclasses
import runpy
from collections.abc import Mapping
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expocalc.base.curve import Curve
from expocalc.budget.doubt import Doubt
from expocalc.budget.drawn import draw
from expocalc.budget.moment import MoonPlace, Off, moment_of
from expocalc.budget.passed import passed
from expocalc.budget.rates import rates, rates_at
from expocalc.gear.response import response
from expocalc.light.air import transmission
from expocalc.light.airmass import airmass
from expocalc.plan import Plan

HERE = Path(__file__).resolve().parent
MADE = SimpleNamespace(**runpy.run_path(str(HERE / "solved_plans.py")))
MONO = Plan.read(HERE.parent / "notebooks/plans/mono-single-lines.toml")


def numbers(rate):
    return {
        **{name: getattr(rate, name) for name in ("sky_e_s", "model_sky_e_s", "moon_e_s", "ab_zero_e_s")},
        **{name: getattr(rate, name) for name in ("bright_star_e_s", "dark_e_s", "fwhm_px", "peak_share")},
        **rate.extended,
        **rate.stars,
    }


def scalars_of(thing, at, shape):
    """The same moment or doubt at one place of its arrays."""

    def one(value):
        if isinstance(value, MoonPlace):
            return MoonPlace(*map(one, value))
        if isinstance(value, Mapping) and all(isinstance(entry, np.ndarray | float) for entry in value.values()):
            return {name: one(entry) for name, entry in value.items()}
        return float(np.broadcast_to(value, shape)[at]) if isinstance(value, np.ndarray) else value

    return dataclasses.replace(thing, **{f.name: one(getattr(thing, f.name)) for f in dataclasses.fields(thing)})


@settings(max_examples=25)
@given(st.sampled_from(list(MADE.kept("stated")[0])), st.integers(0, 2**32 - 1), st.sets(st.integers(0, 12)))
def test_any_broadcast_equals_its_scalars(number, seed, spread_out):
    """Each input a number, a row or a column, as it comes."""
    case = MADE.plan_of("stated", number).case
    random = np.random.default_rng(seed)
    turn = iter(range(100))

    def array(low, high, usual):
        if next(turn) % 13 not in spread_out:
            return usual
        return random.uniform(low, high, [(4,), (3, 1), (3, 4)][random.integers(3)])

    moment = moment_of(case)
    moon = MoonPlace(
        phase_deg=array(0, 180, 90.0), altitude_deg=array(-20, 90, 30.0), separation_deg=array(1, 150, 60.0)
    )
    moment = dataclasses.replace(
        moment,
        natural=array(0.5, 2, moment.natural),
        town={lamp: array(0, 1e-3, usual) for lamp, usual in moment.town.items()},
        altitude_deg=array(1, 90, moment.altitude_deg),
        extinction_v=array(0.1, 1, 0.2),
        sky_factor=array(1, 3, moment.sky_factor),
        moon=moon if seed % 2 else None,
        dark_e_s=array(0, 1, moment.dark_e_s),
        seeing_arcsec=array(1, 5, moment.seeing_arcsec),
        bright_mag=array(3, 12, moment.bright_mag),
    )
    off = Off(
        efficiency=array(0.8, 1.2, 1.0),
        thicker=array(0.5, 2, 1.0),
        bluer=array(-1.5, 1.5, 0.0),
        shifts_nm={one.name: array(-1, 1, 0.0) for one in case.filters},
        brighter={name: array(0.5, 2, 1.0) for name, _ in case.target.named_lights},
        measured=array(0.8, 1.2, 1.0),
    )
    shape = (3, 4)
    for filter_ in case.filters:
        table = passed(case, filter_, Doubt())
        found = numbers(rates_at(table, moment, off))
        for at in ((0, 0), (1, 3), (2, 1)):
            expected = numbers(rates_at(table, scalars_of(moment, at, shape), scalars_of(off, at, shape)))
            for name, value in found.items():
                value, one = np.asarray(value), np.asarray(expected[name])
                tail = value.shape[value.ndim - 1 :] if name not in ("fwhm_px", "peak_share") and value.ndim else ()
                got = np.broadcast_to(value, (*shape, *tail))[at]
                np.testing.assert_allclose(got, np.broadcast_to(one, got.shape), rtol=1e-12, err_msg=name)


def test_draws_without_doubt_are_the_rates():
    for number in (2, 7, 12, 21, 33):
        case = MADE.plan_of("stated", number).case
        sure = dataclasses.replace(case, sky=dataclasses.replace(case.sky, brightness_error="0 mag/arcsec2"))
        drawn = draw(sure, Doubt.none(), lambda name: np.random.default_rng([*name.encode()]).standard_normal(3))
        for filter_ in sure.filters:
            found, expected = (
                numbers(rates_at(passed(sure, filter_, Doubt.none()), *drawn)),
                numbers(rates(sure, filter_)),
            )
            for name in found.keys() - {"bright_star_e_s"}:  # the sub length of draws is the plan's
                got = np.asarray(found[name])
                np.testing.assert_allclose(got, np.broadcast_to(expected[name], got.shape), rtol=1e-9, err_msg=name)


@pytest.mark.parametrize("number", [3, 21, 48, 51])
def test_light_behind_any_air_is_its_integral(number):
    case = MADE.plan_of("stated", number).case
    altitudes = np.array([90.0, 41.3, 12.0, 2.0])
    moment = dataclasses.replace(moment_of(case), altitude_deg=altitudes, moon=None)
    extinction = case.sky.extinction_curve(float(case.site.elevation.value))
    for filter_ in case.filters:
        found = rates_at(passed(case, filter_), moment, Off(thicker=1.3))
        for name, light in case.target.named_lights:
            if name not in {**found.extended, **found.stars}:
                continue
            got = {**found.extended, **found.stars}[name]
            for colour, of_colour in zip(case.camera.colours, got.T, strict=True):
                curve = response(case.telescope, filter_, case.camera, colour)
                airs = [transmission(extinction, 1.3 * float(x)) for x in airmass(altitudes)]
                expected = [light.spectrum.through(curve, air) for air in airs]
                size = case.telescope.area_cm2 * (1 if name in found.stars else found.scale_arcsec**2)
                np.testing.assert_allclose(of_colour, np.multiply(expected, size), rtol=1e-9)


def test_a_night_has_the_moon_and_the_target_while_they_are_up():
    case = MONO.case
    moon = MoonPlace(phase_deg=90.0, altitude_deg=np.array([-5.0, 20.0, 20.0]), separation_deg=70.0)
    moment = dataclasses.replace(moment_of(case), altitude_deg=np.array([60.0, 60.0, -1.0]), moon=moon)
    with np.errstate(all="raise"):
        found = rates_at(passed(case, case.filters[0]), moment)
    assert found.sky_e_s.shape == (3, 1)
    assert found.moon_e_s[0] == 0
    assert found.sky_e_s[1] > found.sky_e_s[0]
    assert np.isnan(found.extended["H-alpha"][2]).all()


def line_through_leak(share):
    """H-alpha through a filter for O III that passes a share of its peak there."""
    leak = [
        {"centre": "500.7 nm", "width": "5 nm", "peak": 0.9},
        {"centre": "656.3 nm", "width": "20 nm", "peak": 0.9 * share},
    ]
    flat = {
        ("camera", "quantum_efficiency"): 0.8,
        ("telescope", "throughput"): 0.9,
        ("filters",): [{"name": "leaky", "passbands": leak}],
    }
    return MONO.with_values({**flat, ("target", "light"): [{"line": "H-alpha", "brightness": "50 R"}]}).solve().rows[0]


def test_a_thousandth_of_the_peak_still_passes():
    """A blocking of three optical densities is where filters of the trade end: common practice, no source."""
    assert line_through_leak(2e-3).light == "H-alpha"
    assert line_through_leak(5e-4).light is None


def test_a_filter_may_not_leave_the_model_in_its_cone():
    ring = {"aperture": "250 mm", "obstruction": "240 mm", "focal_length": "125 mm"}
    fast = MONO.with_values({("telescope", name): value for name, value in ring.items()})
    with pytest.raises(
        ValueError, match=r"a passband must stay within 300 to 1100 nm, .* got one of 300.01 to 301.27 nm"
    ):
        fast.with_values({("filters", 0, "passbands"): [{"centre": "300.55 nm", "width": "0.7 nm"}]}).solve()


def test_integral_by_nodes_is_the_integral():
    light = MONO.case.sky.spectrum
    band = Curve([480, 500.2, 502, 700], [0.0, 0.9, 0.4, 0.0])
    air = Curve([300, 433.3, 500, 501, 690, 1100], [0.2, 0.5, 0.55, 0.56, 0.8, 0.9])
    by_node = light.by_node(air.wavelength_nm, band)
    assert by_node @ air.value == pytest.approx(light.through(band, air), rel=1e-12)
    assert (by_node >= 0).all()


def test_the_star_that_must_not_fill_the_well_is_as_bright_as_any_other_of_its_magnitude():
    change = {("goal", "unsaturated_star"): "9.3 mag", ("target", "light"): [{"star": "9.3 mag"}]}
    found = rates(MONO.with_values(change).case, MONO.case.filters[0])
    np.testing.assert_allclose(found.bright_star_e_s, found.stars["star"], rtol=1e-9)
