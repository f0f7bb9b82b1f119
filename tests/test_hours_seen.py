"""The plan as a picture: what is drawn against what is said."""

import math
from pathlib import Path

import numpy as np
import pytest

from expocalc.base.words import say_number
from expocalc.night.night import tonight_of
from expocalc.plan import Plan
from workbook.hours.model import picture
from workbook.hours.seen import SHAPES, SIDE, _noise_over_photons, _plane, _square, night_of, seen, seen_table
from workbook.hours.seen_view import SeenView

NOTEBOOKS = Path(__file__).parents[1] / "notebooks"
MONO, COLOUR = "plans/mono-single-lines.toml", "plans/colour-dual-band.toml"


def shown(path, **changes):
    plan = Plan.read(NOTEBOOKS / path).with_values({("goal", key): value for key, value in changes.items()})
    return picture(plan, plan.case.filters[0].name)


@pytest.fixture(scope="module", params=[MONO, COLOUR])
def plan_picture(request):
    return shown(request.param)


@pytest.mark.parametrize("shape", SHAPES)
def test_the_patch_lies_in_the_light_of_the_plan(shape):
    profile, place = SHAPES[shape]
    y, x = (np.mgrid[:SIDE, :SIDE] + 0.5) / SIDE - 0.5
    for points in (5, 10, 14):
        patch, outline = _square(place, points)
        assert patch.sum() == points**2
        assert not (patch & outline).any()
        assert profile(x, y, points / SIDE)[patch].mean() == pytest.approx(1, abs=0.12)


def test_hours_and_snr_are_those_of_the_panel(plan_picture):
    found = seen(plan_picture, "Shell", 10.0)
    stack = plan_picture.stacks[plan_picture.filter_name]
    goal = plan_picture.plan.case.goal.snr
    assert [tile.words.split(":")[0] for tile in found.tiles if "goal" in tile.words] != []
    for tile in found.tiles:
        assert tile.snr == pytest.approx(float(stack.snr(np.array(tile.hours))))
        if tile.words.startswith("the goal"):
            assert tile.snr == pytest.approx(goal, rel=0.02)
            assert tile.hours == stack.row.kept_h
    hours = [tile.hours for tile in found.tiles]
    assert hours == sorted(hours)
    assert 1.0 in hours
    assert 2 * stack.row.kept_h in hours
    night_h, called = night_of(plan_picture.plan.case) or (10.0, "the 10 h you have")
    at_hand = next(tile for tile in found.tiles if tile.words.startswith(called))
    share = stack.row.kept_h / stack.row.clock_h  # in whole subs
    assert at_hand.hours == pytest.approx(night_h * share, rel=0.02)
    assert [row[2] for row in seen_table(found).rows] == [tile.words.split("SNR ")[1] for tile in found.tiles]


def test_a_plan_with_place_and_target_shows_its_own_night():
    """The night's hours are those of the almanac, as the panel of the night has them; without a place, what one has."""
    mono, colour = shown(MONO), shown(COLOUR)
    night_h, called = night_of(mono.plan.case)
    windows = tonight_of(mono.plan.case).windows
    assert night_h == pytest.approx(sum(one.end_s - one.begin_s for one in windows) / 3600)
    assert called.startswith(f"the night of {mono.plan.case.night.date}, ")
    assert night_of(colour.plan.case) is None, "its target has no place on the sky"
    undated = mono.plan.with_values({("night", "date"): None})
    assert night_of(undated.case)[1].startswith("tonight, ")
    assert not any("you have" in tile.words for tile in seen(mono, "Shell", 10.0).tiles)


def test_the_grain_of_the_pictures_gives_the_patch_that_snr(plan_picture):
    # the patch is cut into points; squares of SNR add over colours and points
    stack = plan_picture.stacks[plan_picture.filter_name]
    colours, step = len(stack.rate.colours), 1 if len(stack.rate.colours) == 1 else 2
    side_px, count = float(stack.patch.side_px), stack.row.kept
    pixels = step * max(1, round(side_px / 10 / step))
    snr2 = 0.0
    for colour in range(colours):
        plane = _plane(plan_picture, stack, colour, "Halo", pixels, 10, [count])
        corner = plane.pictures[0][:30, :30]  # far from the halo, some stars
        sigma = 1.4826 * np.median(np.abs(corner - np.median(corner)))
        assert sigma == pytest.approx(plane.grain[0], rel=0.1)
        snr2 += (plane.signal / plane.grain[0]) ** 2 * (side_px / pixels) ** 2
    assert math.sqrt(snr2) == pytest.approx(stack.row.snr_patch, rel=0.06)
    assert _noise_over_photons(stack, count) > 1


def test_the_drawn_light_is_as_bright_as_the_plan_says(plan_picture):
    stack = plan_picture.stacks[plan_picture.filter_name]
    plane = _plane(plan_picture, stack, 0, "Filament", 4, 12, [100 * stack.row.kept])
    patch, _ = _square(SHAPES["Filament"][1], 12)
    rate = float(stack.rate.extended[stack.row.light][0]) * 16 * float(stack.rate.pixel_share[0])
    dark_or_sky = np.median(plane.pictures[0][:20])
    assert np.median(plane.pictures[0][patch]) - dark_or_sky == pytest.approx(rate, rel=0.15)


def test_one_stretch_for_all_and_a_goal_out_of_reach():
    far = shown(MONO, snr=400)
    found = seen(far, "Shell", 10.0)
    said = [tile.words.split(":")[0] for tile in found.tiles]
    assert said == ["1 h", night_of(far.plan.case)[1], "10 h", "100 h"]
    assert all(0 <= tile.brightness.min() and tile.brightness.max() <= 1 for tile in found.tiles)
    sky = [float(np.median(tile.brightness)) for tile in found.tiles[1:]]
    assert max(sky) - min(sky) < 0.05  # the same sky is as bright in each


def test_what_can_not_be_drawn_is_said():
    plan = Plan.read(NOTEBOOKS / MONO).with_values({("target", "light"): [{"line": "O III", "brightness": "20 R"}]})
    found = seen(picture(plan, plan.case.filters[0].name), "Shell", 10.0)
    assert found.tiles == ()
    assert found.sentence.endswith("there is nothing to draw.")


def test_a_star_is_drawn_as_a_star():
    plan = Plan.read(NOTEBOOKS / MONO).with_values({("target", "light"): [{"star": "18 mag"}]})
    found = seen(picture(plan, plan.case.filters[0].name), "Filament", 10.0)
    last = found.tiles[-1].brightness[..., 0]
    assert last[found.patch].max() > np.median(last) + 0.2


def test_the_view_holds_tiles_with_their_words(plan_picture):
    view = SeenView(plan_picture, 10.0)
    before = view.tiles.value
    assert before.count("<figure>") == len(view.shown.tiles)
    assert all(tile.words.replace("'", "&#x27;") in before for tile in view.shown.tiles)
    view.shape.value = "Halo"
    assert view.tiles.value != before


def test_it_follows_target_light_filter_aperture_and_dark_frames():
    """Each of them changes the pictures, and the SNR under each stays the panel's for those hours."""
    plan = Plan.read(NOTEBOOKS / COLOUR)
    view = SeenView(picture(plan, plan.case.filters[0].name), 10.0)
    narrow = [{**plan.values["filters"][0], "name": "other"}]
    narrow[0]["passbands"] = [band | {"width": "3 nm"} for band in narrow[0]["passbands"]]
    for changes, light in (
        ({("target", "light", 0, "brightness"): "20 R"}, "H-alpha"),
        ({}, "O III"),
        ({("filters",): narrow}, "H-alpha"),
        ({("telescope", "aperture"): "120 mm"}, "H-alpha"),
        ({("routine", "darks"): 40}, "H-alpha"),
    ):
        changed = plan.with_values(changes)
        now = picture(changed, changed.case.filters[0].name, light)
        before = view.tiles.value
        view.show(now, 10.0)
        assert view.tiles.value != before, changes
        stack = now.stacks[now.filter_name]
        for tile in view.shown.tiles:
            expected = say_number(float(stack.snr(np.array(tile.hours))))
            assert tile.words.endswith(f": SNR {expected}")
        (goal,) = (tile for tile in view.shown.tiles if tile.hours == stack.row.kept_h)
        assert goal.snr == pytest.approx(stack.row.snr_patch, rel=1e-6)
