"""What mount and optics hold: the formulas against geometry, and which limit ends a sub."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from expocalc.budget.mount import (
    allowed_trail_arcsec,
    drift_sub_s,
    end_of_sub,
    focus_depth_um,
    held_by,
    longest_held_s,
    refocus_kelvin,
    rotation_sub_s,
)
from expocalc.gear.image import field_arcmin
from expocalc.night.night import tonight_of
from expocalc.night.report import report
from expocalc.night.words import sub_sentence, verdict
from expocalc.plan import Plan, PlanError
from workbook.night.mount import limits_table, mount_sentence

DEMO = Plan.read("notebooks/plans/mono-single-lines.toml")
FREE = DEMO.with_values({("routine", "longest_sub"): None, ("goal", "unsaturated_star"): None})
POLAR, GUIDE, FLEXURE = ("routine", "polar_error"), ("routine", "guide_star"), ("routine", "flexure")


def test_drift_is_a_quarter_of_an_arcsecond_a_minute_for_one_arcminute():
    # 15.04 arcsec/s times the sine of 1 arcminute: geometry, Hook 1989
    assert 1.5 / drift_sub_s(1.0, 1.5) * 60 == pytest.approx(0.2625, abs=0.0005)
    assert rotation_sub_s(5.0, 0.0, 60.0, 1.0) > rotation_sub_s(5.0, 70.0, 60.0, 1.0)
    assert math.isinf(drift_sub_s(0.0, 1.0))


def about(axis, vector, angle):
    """A vector turned about an axis (Rodrigues)."""
    return (
        vector * math.cos(angle)
        + np.cross(axis, vector) * math.sin(angle)
        + axis * (axis @ vector) * (1 - math.cos(angle))
    )


def field_turn(off, sky_turn, north, apart, hour):
    """Turn of the field about its guide star when the mount's axis misses the pole towards an hour angle. [rad]"""
    pole = np.array([0.0, 0.0, 1.0])
    axis = np.array([math.sin(off) * math.cos(hour), math.sin(off) * math.sin(hour), math.cos(off)])
    guide, star = (
        np.array([math.cos(north) * math.cos(east), math.cos(north) * math.sin(east), math.sin(north)])
        for east in (0.0, apart / math.cos(north))
    )
    angles = []
    for turn in (0.0, sky_turn):  # the sky turns about the pole, the camera follows about its axis
        seen_guide, seen_star = (about(axis, about(pole, v, turn), -turn) for v in (guide, star))
        east = np.cross(pole, seen_guide) / np.linalg.norm(np.cross(pole, seen_guide))
        apart_ = seen_star - seen_guide
        angles.append(math.atan2(apart_ @ np.cross(seen_guide, east), apart_ @ east))
    return abs(angles[1] - angles[0])


def test_rotation_by_a_simulated_mount():
    # a star one degree from the guide star, the axis 10 arcminutes off the pole, 10 minutes, the worst hour angle
    off, turn, north, apart = (math.radians(x) for x in (10 / 60, 360 * 600 / 86164, 50.0, 1.0))
    worst = max(field_turn(off, turn, north, apart, hour) for hour in np.linspace(0, 2 * math.pi, 60))
    assert worst * apart * 206265 == pytest.approx(600 / rotation_sub_s(10.0, 50.0, 60.0, 1.0), rel=0.05)


def test_focus_depth_and_the_temperature_that_uses_it_up():
    # quarter wave: 2 lambda N^2 (Born & Wolf 1999, sec. 8.8); 0.5 um at f/10 is 100 um
    assert focus_depth_um(10.0, 500.0) == pytest.approx(100.0)
    small = DEMO.with_values({("telescope", "aperture"): "80 mm", ("telescope", "focal_length"): "480 mm"})
    # common practice, no source: small refractors refocus every 2 to 3 degrees
    assert 2 <= refocus_kelvin(small.case) <= 4
    assert refocus_kelvin(DEMO.case) == pytest.approx(focus_depth_um(5.0) / (510e3 * 23e-6))
    kelvin = [refocus_kelvin(DEMO.with_values({("telescope", "tube"): name}).case)
              for name in ("aluminium", "steel", "carbon fibre")]  # fmt: skip
    assert kelvin == sorted(kelvin)
    assert refocus_kelvin(DEMO.with_values({("night", "refocus_after"): "1,5 K"}).case) == 1.5  # the user's own wins


def test_a_trail_stretches_a_star_as_allowed():
    # a still Gaussian star drawn at many places of its trail: second moments along and across
    for fwhm, stretch in ((3.0, 0.1), (2.0, 0.5)):
        sigma, trail = fwhm / 2.3548, allowed_trail_arcsec(fwhm, stretch)
        x = np.linspace(-20, 20, 4001)
        along = sum(np.exp(-0.5 * ((x - at) / sigma) ** 2) for at in np.linspace(-trail / 2, trail / 2, 401))
        length = math.sqrt(float((along * x**2).sum() / along.sum()))
        assert length / sigma == pytest.approx(1 + stretch, rel=2e-3)


# ---- which limit ends the sub


@pytest.mark.parametrize(
    ("changes", "by", "words"),
    [
        ({POLAR: "30 arcmin"}, "rotation", "the corners turn too far about the guide star"),
        ({POLAR: "5 arcmin", GUIDE: "none"}, "drift", "stars drift too far, as nothing guides"),
        ({POLAR: "30 arcmin", FLEXURE: "60 arcsec/h"}, "flexure", "stars wander too far from where guiding"),
        ({POLAR: "30 arcmin", ("routine", "longest_sub"): "100 s"}, "own", "the mount allows no longer"),
    ],
)
def test_the_verdicts_name_what_ends_the_sub(changes, by, words):
    plan = FREE.with_values(changes)
    (end, longest_s), solved, night = end_of_sub(plan.case), plan.solve(), tonight_of(plan.case)
    assert end == by
    for row in solved.rows:
        assert row.sub_s <= longest_s
        assert row.bounded_by == "mount"
        assert row.sub_s > 0.8 * longest_s
    assert words in solved.filters[0].verdict
    assert words in sub_sentence(night)
    assert words in verdict(night)
    assert words in " ".join(report(night).split())
    assert all(block.sub_s <= longest_s for block in night.blocks)


def test_a_length_that_is_set_past_the_limit_is_told_why():
    said = FREE.with_values({POLAR: "30 arcmin", ("routine", "sub_length"): "20 min"}).solve().filters[0].verdict
    assert "20 min subs, as you set, are too long" in said
    assert "the corners turn too far" in said


def test_without_a_word_of_the_mount_nothing_ends_the_sub():
    assert math.isinf(longest_held_s(FREE.case))
    assert "Nothing that the plan says of the mount ends a sub" in mount_sentence(FREE.case)


@given(st.floats(0.1, 200), st.floats(0, 120), st.floats(0.5, 100), st.floats(10, 2000))
def test_the_users_own_limit_wins_and_the_others_are_the_least(polar, guide, flexure, own):
    changes = {POLAR: f"{polar} arcmin", GUIDE: f"{guide} arcmin", FLEXURE: f"{flexure} arcsec/h"}
    case = FREE.with_values(changes).case
    held = held_by(case)
    assert longest_held_s(case) == min(held.rotation_s, held.flexure_s)
    corner = math.hypot(*field_arcmin(case.telescope, case.camera)) / 2 + guide
    exact = rotation_sub_s(polar, float(case.target.declination.value), corner, held.trail_arcsec)
    assert 0.9 * exact < held.rotation_s <= exact * (1 + 1e-9)  # rounded down to two figures
    mine = FREE.with_values({**changes, ("routine", "longest_sub"): f"{own} s"}).case
    assert end_of_sub(mine) == ("own", own)


def test_better_seeing_and_finer_pixels_allow_less():
    coarse, fine = (longest_held_s(FREE.with_values({FLEXURE: "10 arcsec/h", ("site", "seeing"): s}).case)
                    for s in ("4 arcsec", "1.5 arcsec"))  # fmt: skip
    assert fine < coarse
    loose = longest_held_s(FREE.with_values({FLEXURE: "10 arcsec/h", ("routine", "stretch"): 0.3}).case)
    assert loose > 1.5 * longest_held_s(FREE.with_values({FLEXURE: "10 arcsec/h"}).case)


@pytest.mark.parametrize(
    ("where", "value", "words"),
    [
        (POLAR, "5", "needs a unit"),
        (POLAR, "0 arcmin", "polar_error must be above 0"),
        (GUIDE, "off", '"30 arcmin" or "none"'),
        (FLEXURE, "4 arcsec", "flexure must be"),
        (("routine", "stretch"), 2, "stretch must be"),
        (("telescope", "tube"), "wood", "tube must be one of aluminium, steel, carbon fibre"),
        (("night", "refocus_after"), "0 K", "refocus_after must be above 0"),
    ],
)
def test_bad_values_are_refused_in_a_sentence(where, value, words):
    with pytest.raises(PlanError) as error:
        DEMO.with_values({where: value})
    assert words in str(error.value)
    assert "\n" not in str(error.value)


def test_sentence_and_table_say_each_limit():
    case = DEMO.with_values({POLAR: "60 arcmin", FLEXURE: "4 arcsec/h"}).case
    held, said, rows = held_by(case), mount_sentence(case), dict((row[0], row[1]) for row in limits_table(case).rows)
    assert "The mount ends a sub at 5 min: your own limit." in said
    assert held.rotation_s < 300 < held.flexure_s
    assert "turn of the corners by the polar error already stretches stars from 4.8 min on" in said
    assert "wandering of the stars by flexure would stretch stars from 37 min on" in said
    assert "Focus again when the air is 2.3 °C colder or warmer" in said
    assert rows["Your own limit"] == "5 min"
    assert rows["Drift of the stars by the polar error"] == "no limit known"
