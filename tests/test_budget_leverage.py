import dataclasses
import math
from pathlib import Path

import pytest

from expocalc.budget.leverage import LARGER, leverage
from expocalc.budget.rates import rates
from expocalc.plan import Plan

PLANS = Path(__file__).resolve().parents[1] / "notebooks/plans"


BARE = {  # nothing but the noise of the subs
    ("routine", "darks"): "perfect",
    ("routine", "flats"): "perfect",
    ("routine", "stacking"): "mean",
}


@pytest.fixture(scope="module")
def mono():
    return Plan.read(PLANS / "mono-single-lines.toml").with_values(BARE)


@pytest.fixture(scope="module")
def colour():
    return Plan.read(PLANS / "colour-dual-band.toml").with_values(BARE)


def by_key(plan):
    return {choice.key: choice for choice in leverage(plan.case)}


def clock_h(plan):
    """Clock hours of all filters of the plan's answer, and what rounding to whole subs may be off by."""
    found = plan.solve()
    one_sub = sum(2 * (one.sub_s + plan.case.routine.dead_s) / 3600 for one in found.filters)
    return sum(one.clock_h for one in found.filters), one_sub


CHANGES = {
    "narrower": {("filters", i, "passbands", 0, "width"): "2.5 nm" for i in (0, 1)},
    "wider": {("filters", i, "passbands", 0, "width"): "10 nm" for i in (0, 1)},
    "aperture": {("telescope", "aperture"): "127.5 mm", ("telescope", "focal_length"): "637.5 mm"},
    "cooler": {("camera", "temperature"): "-20 deg_C"},
    "gain low": {("camera", "gain"): "low"},
    "dither less": {("routine", "dither_every"): 4},
    "dither more": {("routine", "dither_every"): 1},
    "patch": {("target", "patch"): "30 arcsec"},
}


def test_every_choice_is_there_and_ranked(mono):
    choices = leverage(mono.case)
    assert {choice.key for choice in choices} == {*CHANGES, "darker"}
    buying = [choice.after_h for choice in choices[:-1]]
    assert buying == sorted(buying)
    assert [choice.asks_for_less for choice in choices] == [*[False] * len(buying), True], "apart from what buys"


@pytest.mark.parametrize("key", CHANGES)
def test_a_choice_is_the_plan_changed(mono, key):
    choice = by_key(mono)[key]
    for hours, plan in ((choice.before_h, mono), (choice.after_h, mono.with_values(CHANGES[key]))):
        expected, rounding = clock_h(plan)
        assert expected - rounding <= hours <= expected * (1 + 1e-9)
    assert choice.saved_h == pytest.approx(choice.before_h - choice.after_h)
    assert choice.ratio == pytest.approx(choice.after_h / choice.before_h)
    assert sum(choice.filters_h.values()) == pytest.approx(choice.after_h)


def test_one_class_darker_is_the_plan_at_that_sky(mono):
    choice = by_key(mono)["darker"]
    v = mono.case.sky.brightness("bessell-V")
    # V of 18.8 lies nearest to class 6, 18.4 to 19.1; class 5 is 19.1 to 20.4: from middle to middle 1 mag
    changes = {("sky", "zenith_brightness"): f"{v + 1.0} mag/arcsec2", ("sky", "reading_band"): "bessell-V"}
    expected, rounding = clock_h(mono.with_values(changes))
    assert expected - rounding <= choice.after_h <= expected
    assert "V 19.8 instead of 18.8" in choice.label


def test_four_times_the_pixels_are_a_quarter_of_the_hours(mono):
    """Without pattern and floor a patch twice as wide has four times the pixels, an aperture 1.25 times 1.5625."""
    even = {("routine", "background_flatness"): "perfect", ("routine", "sub_length"): "300 s"}
    choices = by_key(mono.with_values(even))
    assert choices["patch"].ratio == pytest.approx(0.25, rel=1e-6)
    assert choices["aperture"].ratio == pytest.approx(LARGER**-2, rel=1e-3)


def test_darks_and_flats_help_where_they_are_few(mono):
    few = mono.with_values({("routine", "darks"): 12, ("routine", "flats"): 8, ("routine", "dither_every"): None})
    choices = by_key(few)
    assert choices["darks"].ratio < 0.95
    assert choices["flats"].ratio < 1
    assert choices["dither"].ratio < choices["darks"].ratio
    assert "24 darks instead of 12" in choices["darks"].label


def test_a_wider_dither_box_is_a_choice_where_masters_have_noise(mono):
    few = mono.with_values({("routine", "darks"): 12, ("routine", "dither_size"): "6 pixel"})
    choice = by_key(few)["box"]
    assert "a dither box of 12 pixels instead of 6" in choice.label
    expected, rounding = clock_h(few.with_values({("routine", "dither_size"): "12 pixel"}))
    assert expected - rounding <= choice.after_h <= expected * (1 + 1e-9)
    assert choice.ratio < 1
    assert "box" not in by_key(mono), "perfect masters"


def test_frames_that_a_plan_does_not_give_are_a_choice_as_well(mono):
    labels = {
        darks: by_key(mono.with_values({("routine", "darks"): darks})).get("darks") for darks in (None, "none", 7)
    }
    assert [choice.label for choice in labels.values()] == [
        "60 darks instead of 30",
        "30 darks instead of none",
        "14 darks instead of 7",
    ]


def test_a_coarser_patch_is_coarser_for_lights_with_their_own(mono):
    own = mono.with_values(
        {("target", "light"): [{"line": "H-alpha", "brightness": "12 R", "patch": "15 arcsec"}]},
    )
    assert by_key(own)["patch"].ratio == pytest.approx(0.25, rel=1e-6)


def test_a_choice_that_brings_the_goal_within_reach(mono):
    floored = mono.with_values({("routine", "darks"): 4, ("routine", "dither_every"): None})
    choices = by_key(floored)
    assert choices["cooler"].before_h == math.inf
    reached = choices["patch"]
    assert math.isfinite(reached.after_h)
    assert (reached.ratio, reached.saved_h) == (0, math.inf)
    still = choices["narrower"]
    assert (still.ratio, still.saved_h) == (1, 0)


def test_a_measured_sky_is_brought_along(mono):
    rows = mono.solve().rows
    measured = mono.with_values({("sky", "measured"): {row.filter_name: f"{row.sky_e_s} electron/s" for row in rows}})
    without, brought = by_key(mono), by_key(measured)
    for key, choice in without.items():
        assert brought[key].after_h == pytest.approx(choice.after_h, rel=1e-4), key
    twice = mono.with_values({("sky", "measured"): {row.filter_name: f"{2 * row.sky_e_s} electron/s" for row in rows}})
    assert by_key(twice)["darker"].after_h > 1.3 * without["darker"].after_h


def test_a_mosaic_s_measured_sky_is_brought_along(colour):
    case = colour.case
    rate = rates(case, case.filters[0])
    sky = {name: f"{float(e_s)} electron/s" for name, e_s in zip(rate.colours, rate.sky_e_s, strict=True)}
    measured = colour.with_values({("sky", "measured"): {"Dual 6 nm": sky}})
    assert by_key(measured)["darker"].after_h == pytest.approx(by_key(colour)["darker"].after_h, rel=1e-4)


def test_a_light_that_a_choice_loses_is_named_and_the_choice_comes_last(mono):
    edge = mono.with_values(
        {
            ("target", "light"): [{"line": "H-alpha", "brightness": "12 R"}, {"line": "N II", "brightness": "3 R"}],
            ("filters",): [{"name": "both", "passbands": [{"centre": "657 nm", "width": "5 nm", "shape": "box"}]}],
        }
    )
    choices = leverage(edge.case)
    assert choices[-2].key == "narrower"
    assert choices[-2].lost_lights == ("N II",)


def test_a_filter_takes_the_longest_of_its_lights(colour):
    (row, other), choice = colour.solve().rows, by_key(colour)["patch"]
    assert row.clock_h > 1.5 * other.clock_h, "two lights of one filter, the first needs more"
    assert choice.before_h == pytest.approx(row.clock_h, rel=0.01)


def test_choices_that_a_plan_does_not_have(mono):
    bare = mono.with_values(
        {
            ("filters",): [{"name": "V", "passbands": [{"standard": "bessell-V"}]}],
            ("target", "light"): [{"continuum": "24 mag/arcsec2"}],
            ("camera", "gains", "low"): None,
            ("camera", "temperature"): "-145 deg_C",
            ("sky", "zenith_brightness"): "22 mag/arcsec2",
            ("sky", "reading_band"): "bessell-V",
        }
    )
    assert set(by_key(bare)) == {"aperture", "dither less", "dither more", "patch"}


def test_a_choice_that_the_gear_cannot_take_is_left_out(mono):
    tight = mono.with_values({("camera", "quantum_efficiency"): [[490, 0.8], [662, 0.8]]})
    keys = set(by_key(tight))
    assert "narrower" in keys
    assert "wider" not in keys


def test_nothing_passes_nothing_to_choose(mono):
    none = mono.with_values({("target", "light"): [{"line": "S II", "brightness": "5 R"}]})
    assert leverage(none.case) == ()


@pytest.mark.parametrize("every", [1, 2, 3, 5])
def test_cadence_is_said_as_a_person_says_it(mono, every):
    other = dataclasses.replace(mono.case, routine=dataclasses.replace(mono.case.routine, dither_every=every))
    labels = {choice.key: choice.label for choice in leverage(other)}
    assert labels["dither less"] == f"a dither every {2 * every} subs instead of {every}"
    assert (
        labels.get("dither more")
        == {
            1: None,
            2: "a dither every sub instead of 2",
            3: "a dither every sub instead of 3",
            5: "a dither every 2 subs instead of 5",
        }[every]
    )
