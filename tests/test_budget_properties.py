"""What must hold of every answer: it moves the right way with each input, and by how much where a law says so."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from expocalc.budget.answer import answer_filter
from expocalc.budget.rates import rates
from expocalc.plan import Plan

PLANS = Path(__file__).resolve().parent.parent / "notebooks" / "plans"
# A plain mean, perfect calibration and background: what the stack makes of the noise has tests of its own.
PERFECT = {("routine", name): "perfect" for name in ("darks", "flats", "background_flatness")}
PLAIN = {("routine", "stacking"): "mean", **PERFECT}
MONO = Plan.read(PLANS / "mono-single-lines.toml").with_values(PLAIN)
COLOUR = Plan.read(PLANS / "colour-dual-band.toml").with_values(PLAIN)
HIGH = ("camera", "gains", "high")
SUB_60 = {("routine", "sub_length"): "60 s"}


def row(changes=None, plan=MONO, at=0):
    """First row of the plan with some values changed."""
    return plan.with_values(changes or {}).solve().rows[at]


def worth(found):
    """Squared SNR in the patch by one kept sub: what the whole number of subs is made from."""
    return found.snr_patch**2 / found.kept


def shortest(found):
    return found.sub_shortest_s


def longest(found):
    return found.sub_longest_s


def best(found):
    return found.sub_best_s


def clock(found):
    return found.clock_h


def subs(found):
    return found.shot


STAR = {("target", "light"): [{"star": "15 mag"}]} | SUB_60
LOSSES = {("routine", "longest_sub"): None, ("goal", "unsaturated_star"): None}

# place, text around the number, its range, what is looked at, whether it grows (+1) or shrinks (-1), other changes
MONOTONE = {
    "read noise, shortest sub": ((*HIGH, "read_noise"), "{} electron", (0.3, 15), shortest, 1, {}),
    "read noise, worth": ((*HIGH, "read_noise"), "{} electron", (0.3, 15), worth, -1, SUB_60),
    "read noise, best sub": ((*HIGH, "read_noise"), "{} electron", (0.3, 15), best, 1, LOSSES),
    "magnitude of the sky, shortest sub": (("sky", "zenith_brightness"), "{} mag/arcsec2", (16, 21.8), shortest, 1, {}),
    "magnitude of the sky, worth": (("sky", "zenith_brightness"), "{} mag/arcsec2", (16, 21.8), worth, 1, SUB_60),
    "magnitude of the sky, longest sub": (
        ("sky", "zenith_brightness"),
        "{} mag/arcsec2",
        (16, 21.8),
        longest,
        1,
        {("routine", "longest_sub"): None},
    ),
    "gradient, worth": (("sky", "gradient"), "{} mag", (0, 1), worth, -1, SUB_60),
    "extinction, worth": (("sky", "extinction"), None, (0.05, 0.8), worth, -1, SUB_60),
    "aperture, worth": (("telescope", "aperture"), "{} mm", (40, 120), worth, 1, SUB_60),
    "obstruction, worth": (("telescope", "obstruction"), "{} mm", (1, 60), worth, -1, SUB_60),
    "throughput, worth": (("telescope", "throughput"), None, (0.2, 1), worth, 1, SUB_60),
    "blur, worth of a star": (("telescope", "blur"), "{} arcsec", (0.5, 6), worth, -1, STAR),
    "seeing, worth of a star": (("site", "seeing"), "{} arcsec", (1, 6), worth, -1, STAR),
    "seeing, longest sub": (("site", "seeing"), "{} arcsec", (1, 6), longest, 1, {("routine", "longest_sub"): None}),
    "guiding, worth of a star": (("routine", "guiding"), "{} arcsec", (0.3, 3), worth, -1, STAR),
    "efficiency, worth": (("camera", "quantum_efficiency"), None, (0.2, 1), worth, 1, SUB_60),
    "temperature, worth": (("camera", "temperature"), "{} deg_C", (-20, 30), worth, -1, SUB_60),
    "temperature, shortest sub": (("camera", "temperature"), "{} deg_C", (-20, 30), shortest, -1, {}),
    "glow, worth": (("camera", "glow"), "{} electron/s", (0.001, 5), worth, -1, SUB_60),
    "full well, longest sub": (
        (*HIGH, "full_well"),
        "{} electron",
        (500, 15000),
        longest,
        1,
        {("routine", "longest_sub"): None},
    ),
    "peak of the filter, worth": (("filters", 0, "passbands", 0, "peak"), None, (0.1, 1), worth, 1, SUB_60),
    "width of the filter, worth": (("filters", 0, "passbands", 0, "width"), "{} nm", (9, 60), worth, -1, SUB_60),
    "target, worth": (("target", "light", 0, "brightness"), "{} R", (1, 5000), worth, 1, SUB_60),
    "altitude, worth": (("target", "altitude"), "{} deg", (15, 90), worth, 1, SUB_60),
    "patch, worth": (("target", "patch"), "{} arcsec", (2, 200), worth, 1, SUB_60),
    "dead time, clock": (("routine", "dead_time"), "{} s", (0.5, 60), clock, 1, SUB_60),
    "dead time, best sub": (("routine", "dead_time"), "{} s", (0.5, 60), best, 1, LOSSES),
    "dither time, clock": (("routine", "dither_time"), "{} s", (0.5, 60), clock, 1, SUB_60),
    "losses, best sub": (("routine", "lost_per_hour"), None, (0.05, 5), best, -1, LOSSES),
    "losses, subs": (("routine", "lost_per_hour"), None, (0.1, 20), subs, 1, SUB_60),
    "losses at dithers, subs": (("routine", "lost_per_dither"), None, (0.1, 0.9), subs, 1, SUB_60),
    "goal, subs": (("goal", "snr"), None, (3, 60), subs, 1, SUB_60),
    "allowed growth, shortest sub": (("goal", "noise_growth"), None, (0.01, 1), shortest, -1, {}),
    "magnitude of the star, longest sub": (
        ("goal", "unsaturated_star"),
        "{} mag",
        (2, 9),
        longest,
        1,
        {("routine", "longest_sub"): None},
    ),
}


def filled(form, number):
    return number if form is None else form.format(repr(number))


@pytest.mark.parametrize("case", MONOTONE)
@given(a=st.floats(0, 1), b=st.floats(0, 1))
def test_answer_moves_the_right_way_with(case, a, b):
    place, form, (low, high), look, sign, other = MONOTONE[case]
    if abs(a - b) < 0.02:
        return
    plan = MONO.with_values(other)
    less, more = (look(row({place: filled(form, low + share * (high - low))}, plan)) for share in sorted((a, b)))
    assert sign * (more - less) >= -1e-9 * abs(less)


@pytest.mark.parametrize("case", MONOTONE)
def test_answer_moves_at_all_with(case):
    place, form, ends, look, sign, other = MONOTONE[case]
    less, more = (look(row({place: filled(form, end)}, MONO.with_values(other))) for end in ends)
    assert sign * (more / less - 1) > 0.005


# --- limits ---


def test_without_read_noise_any_length_will_do():
    found = row({(*HIGH, "read_noise"): "0 electron"})
    assert found.sub_shortest_s == 0
    assert found.noise_share["read"] == 0


def test_without_sky_dark_current_and_read_noise_settle_the_sub():
    dark_sky = {("sky", "measured"): {"H-alpha 5 nm": "0 electron/s"}, ("routine", "longest_sub"): None}
    found = row(dark_sky)
    assert found.noise_share["sky"] == 0
    expected = 1.4**2 / ((1.05**2 - 1) * (found.dark_e_s + found.target_e_s))
    assert math.isclose(found.sub_shortest_s, expected, rel_tol=1e-12)
    darker = row(dark_sky | {("camera", "dark_current", "rate"): "0 electron/s"})
    assert darker.noise_share["dark"] == 0
    assert darker.noise_share["read"] + darker.noise_share["target"] == pytest.approx(1, abs=1e-12)


DOMINATED = {
    "target": {("target", "light"): [{"star": "6 mag"}], ("routine", "sub_length"): "300 s"},
    "sky": {("sky", "measured"): {"H-alpha 5 nm": "20 electron/s"}, ("routine", "sub_length"): "300 s"},
    "dark": {("camera", "glow"): "20 electron/s", ("routine", "sub_length"): "300 s"},
    "read": {(*HIGH, "read_noise"): "20 electron", ("routine", "sub_length"): "10 s"},
    "quantisation": {
        (*HIGH, "read_noise"): "0.1 electron",
        (*HIGH, "read_noise_kind"): "emva",
        (*HIGH, "native_step"): 64,
        ("routine", "sub_length"): "1 s",
    },
}


@pytest.mark.parametrize("part", DOMINATED)
def test_each_part_of_the_noise_can_dominate(part):
    found = row(DOMINATED[part])
    assert found.noise_share[part] > 0.95
    assert sum(found.noise_share.values()) == pytest.approx(1, abs=1e-12)


def test_shares_of_noise_by_hand():
    """20 e-/s of sky and 5 of dark for 100 s, 10 e- of reading and a step of 12 e-: 2000, 500, 100 and 12 e-^2."""
    found = row(
        {
            ("sky", "measured"): {"H-alpha 5 nm": "20 electron/s"},
            ("camera", "dark_current", "rate"): "0 electron/s",
            ("camera", "glow"): "5 electron/s",
            (*HIGH, "read_noise"): "10 electron",
            (*HIGH, "read_noise_kind"): "emva",
            (*HIGH, "electrons_per_adu"): 3,
            (*HIGH, "native_step"): 4,
            ("routine", "sub_length"): "100 s",
        }
    )
    target = 100 * found.target_e_s
    total = 2612 + target
    expected = {"target": target, "sky": 2000, "dark": 500, "read": 100, "quantisation": 12, "calibration": 0}
    for name, part in expected.items():
        assert found.noise_share[name] == pytest.approx(part / total, rel=1e-12), name
    assert found.snr_one_sub == pytest.approx(target / math.sqrt(total), rel=1e-12)


def test_quantisation_of_an_emva_read_noise_lengthens_the_shortest_sub_as_it_must():
    bias = row({(*HIGH, "native_step"): 16})
    emva = row({(*HIGH, "native_step"): 16, (*HIGH, "read_noise_kind"): "emva"})
    assert emva.sub_shortest_s / bias.sub_shortest_s == pytest.approx((1.4**2 + 4**2 / 12) / 1.4**2, rel=1e-12)


# --- scaling laws ---

# a well that 600 electrons a second don't fill in a minute: a full one shows nothing, and no hours are given for it
DEEP_WELL = {(*HIGH, "full_well"): "1e6 electron", (*HIGH, "electrons_per_adu"): 16}
SKY_LIMITED = {("sky", "measured"): {"H-alpha 5 nm": "200 electron/s"}} | SUB_60 | DEEP_WELL


def hours(changes):
    """Hours without the rounding to whole subs."""
    return 1 / worth(row(SKY_LIMITED | changes))


def test_under_a_bright_sky_hours_go_as_one_over_the_target_squared():
    faint, bright = (hours({("target", "light", 0, "brightness"): f"{r} R"}) for r in (10, 30))
    assert faint / bright == pytest.approx(9, rel=1e-3)


def test_under_a_bright_sky_hours_go_as_the_sky():
    dim, bright = (hours({("sky", "measured"): {"H-alpha 5 nm": f"{rate} electron/s"}}) for rate in (200, 600))
    assert bright / dim == pytest.approx(3, rel=1e-3)


def test_hours_go_as_one_over_the_area_of_the_patch():
    small, large = (hours({("target", "patch"): f"{side} arcsec"}) for side in (7, 21))
    assert small / large == pytest.approx(9, rel=1e-9)


def test_subs_go_as_the_goal_squared():
    ten, hundred = (row({("goal", "snr"): snr} | SUB_60).kept for snr in (10, 100))
    assert hundred == pytest.approx(100 * ten, abs=100)


@pytest.mark.parametrize("times", [0.5, 3])
def test_shortest_sub_goes_as_read_noise_squared(times):
    base, changed = (row({(*HIGH, "read_noise"): f"{1.4 * t} electron"}) for t in (1, times))
    assert changed.sub_shortest_s / base.sub_shortest_s == pytest.approx(times**2, rel=1e-9)


@pytest.mark.parametrize("sub_s", [30, 100, 1000])
def test_square_of_a_longer_sub_is_worth_its_time_once_reading_does_not_count(sub_s):
    found = row({("routine", "sub_length"): f"{sub_s} s", (*HIGH, "read_noise"): "0 electron"})
    base = row({("routine", "sub_length"): "10 s", (*HIGH, "read_noise"): "0 electron"})
    assert worth(found) / worth(base) == pytest.approx(sub_s / 10, rel=1e-9)


def test_twice_the_aperture_at_one_focal_length_is_four_times_the_light():
    # f/12 and f/6: the cone does not yet move a box of 20 nm off the line
    wide = {("filters", 0, "passbands", 0, "width"): "20 nm"}
    one, two = (row(wide | {("telescope", "aperture"): f"{mm} mm"}) for mm in (42.5, 85))
    assert two.target_e_s / one.target_e_s == pytest.approx(4, rel=1e-3)
    assert two.sky_e_s / one.sky_e_s == pytest.approx(4, rel=5e-3)


def test_dark_current_doubles_by_its_step():
    # with the step stated around -10 deg_C, doubling is exact in 1/T: here within 2 % over one step
    cold, warm = (row({("camera", "temperature"): f"{t} deg_C"}).dark_e_s for t in (-13, -7))
    assert warm / cold == pytest.approx(2, rel=0.02)


# --- units ---

UNITS = [
    (("routine", "sub_length"), "2 min", "120 s"),
    (("routine", "dead_time"), "0.1 min", "6 s"),
    (("routine", "longest_sub"), "0.05 h", "180 s"),
    (("telescope", "aperture"), "10.2 cm", "102 mm"),
    (("telescope", "focal_length"), "0,51 m", "510 mm"),
    (("camera", "pixel"), "0.0038 mm", "3.8 um"),
    (("camera", "temperature"), "263.15 K", "-10 deg_C"),
    (("camera", "glow"), "3.6 electron/h", "0.001 electron/s"),
    (("camera", "dark_current", "doubles_every"), "6 deg_C", "6 K"),
    ((*HIGH, "read_noise"), "1,4 e-", "1.4 electron"),
    ((*HIGH, "full_well"), "1,5e4 e⁻", "15000 electron"),
    (("target", "patch"), "0.25 arcmin", "15 arcsec"),
    (("target", "altitude"), "1.0471975511965976 rad", "60 deg"),
    (("site", "seeing"), "2800 mas", "2.8 arcsec"),
    (("filters", 0, "passbands", 0, "width"), "50 Angstrom", "5 nm"),
    (("telescope", "throughput"), "92 %", 0.92),
    (("filters", 0, "passbands", 0, "centre"), "0.6563 um", "656.3 nm"),
    (("goal", "noise_growth"), "5 %", 0.05),
    (("site", "elevation"), "0.012 km", "12 m"),
    (("routine", "guiding"), "800 mas", "0.8 arcsec"),
    # H-alpha: 1 R is 5.661e-18 erg s-1 cm-2 arcsec-2 (from memory)
    (("target", "light", 0, "brightness"), "6.793e-17 erg/(s cm2 arcsec2)", "12 R"),
    (("sky", "measured"), {"H-alpha 5 nm": "6 electron/min"}, {"H-alpha 5 nm": "0.1 electron/s"}),
]


@pytest.mark.parametrize(("place", "one", "other"), UNITS, ids=lambda v: v[-1] if isinstance(v, tuple) else None)
def test_units_change_nothing(place, one, other):
    a, b = row({place: one}), row({place: other})
    rel = 1e-3 if "erg" in str(one) else 1e-9
    for name in ("target_e_s", "sky_e_s", "dark_e_s", "sub_shortest_s", "sub_s", "clock_h", "snr_one_sub"):
        assert getattr(a, name) == pytest.approx(getattr(b, name), rel=rel), name


def test_luminance_may_be_in_any_unit_of_it():
    one, other = (
        row({("sky", "zenith_brightness"): None, ("sky", "reading_band"): None, ("sky", "luminance"): text})
        for text in ("2.5 mcd/m2", "0.0025 cd/m2")
    )
    assert one.sky_e_s == pytest.approx(other.sky_e_s, rel=1e-12)


# --- mosaics ---


def test_mosaic_worth_is_the_sum_over_its_colours():
    """Each colour by itself: pixels of the colour, its rates, the CCD equation; then squares of SNR added."""
    plan = COLOUR.with_values(SUB_60)
    case = plan.case
    rate = rates(case, case.filters[0])
    pixels = (30 / rate.scale_arcsec) ** 2
    for found in plan.solve().rows:
        signal = rate.extended[found.light]
        behind = rate.sky_e_s + rate.dark_e_s + sum(rate.extended.values())
        alone = pixels * np.array([0.25, 0.5, 0.25]) * (60 * signal) ** 2 / (60 * behind + 1.6**2)
        assert worth(found) == pytest.approx(alone.sum(), rel=1e-9)
        assert found.colour == "RGB"[int(np.argmax(alone))]
        assert found.target_e_s == signal[np.argmax(alone)]


def test_mosaic_shortest_sub_is_that_of_the_colour_that_needs_most_among_those_used():
    rate = rates(COLOUR.case, COLOUR.case.filters[0])
    behind = rate.sky_e_s + rate.dark_e_s + sum(rate.extended.values())
    each = 1.6**2 / ((1.05**2 - 1) * behind)
    h_alpha, o_three = COLOUR.solve().rows
    # red alone sees H-alpha; green and blue see O III
    assert h_alpha.sub_shortest_s == pytest.approx(each[0], rel=1e-12)
    assert o_three.sub_shortest_s == pytest.approx(max(each[1:]), rel=1e-12)


# --- stars ---


def test_star_by_hand():
    """A fit of the star sees 2.266 FWHM^2 pixels of background (King 1983, PASP 95, 163)."""
    plan = MONO.with_values(STAR)
    rate = rates(plan.case, plan.case.filters[0])
    found = plan.solve().rows[0]
    area = 4 * math.pi * (rate.fwhm_px / 2.3548) ** 2
    star = found.target_e_s * 60
    expected = star**2 / (star + area * (60 * (found.sky_e_s + found.dark_e_s) + 1.4**2))
    assert worth(found) == pytest.approx(expected, rel=1e-3)
    in_pixel = star * rate.peak_share
    one = in_pixel / math.sqrt(in_pixel + 60 * (found.sky_e_s + found.dark_e_s) + 1.4**2)
    assert found.snr_one_sub == pytest.approx(one, rel=1e-9)


def test_magnitude_is_a_factor_of_light():
    bright, faint = (row({("target", "light"): [{"star": f"{mag} mag"}]}).target_e_s for mag in (10, 12.5))
    assert bright / faint == pytest.approx(10, rel=1e-9)


# --- measured sky ---


def test_measured_rate_replaces_the_model_and_the_verdict_says_by_how_much():
    model = row()
    plan = MONO.with_values({("sky", "measured"): {"H-alpha 5 nm": f"{2 * model.sky_e_s!r} electron/s"}})
    summary, (found,) = answer_filter(plan.case, plan.case.filters[0])
    assert found.sky_e_s == pytest.approx(2 * model.sky_e_s, rel=1e-12)
    assert found.sky_mag_ab == pytest.approx(model.sky_mag_ab - 2.5 * math.log10(2), abs=1e-9)
    assert "The sky is the one you measured, 2.0 times what the model expects" in summary.verdict
    other = plan.solve().rows[1]
    assert other.sky_e_s == row(at=1).sky_e_s, "the other filter was not measured"


def test_measured_magnitude_is_the_rate_that_goes_with_it():
    model = row()
    found = row({("sky", "measured"): {"H-alpha 5 nm": f"{model.sky_mag_ab!r} mag/arcsec2"}})
    assert found.sky_e_s == pytest.approx(model.sky_e_s, rel=1e-9)
