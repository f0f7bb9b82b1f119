"""The hours panel without a browser: what its model says, and what its widgets then hold."""

import asyncio
import html
import itertools
import json
import math
import re
from pathlib import Path

import numpy as np
import pytest

from expocalc.base.words import say_number
from expocalc.budget.rates import rates
from expocalc.budget.stack import snr_per_patch
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.light.library import TARGETS, region
from expocalc.night.night import tonight_of
from expocalc.night.words import say_planned
from expocalc.plan import Plan
from workbook.hours import HoursPanel, knobs
from workbook.hours.depth import depth as depth_of
from workbook.hours.depth import depth_table
from workbook.hours.exercises import exercises
from workbook.hours.levers import levers, levers_table
from workbook.hours.lights import lights
from workbook.hours.model import picture as picture_of
from workbook.hours.noise import noise_bars, noise_table
from workbook.hours.pictures import DEPTH, LEVERS, NOISE, PICTURES, SHARES, SNR
from workbook.hours.shares import shares, shares_table
from workbook.hours.sure import snr_table, sure_steps, sure_table
from workbook.hours.verdict import LOOKS, say_snr
from workbook.hours.verdict import words as verdict_of
from workbook.parts.slow_work import SlowWork
from workbook.parts.verdict import Verdict

NOTEBOOKS = Path(__file__).parents[1] / "notebooks"
MONO = "plans/mono-single-lines.toml"
COLOUR = "plans/colour-dual-band.toml"
MARKUP = "<img src=x onerror=alert(1)> & <b>shell</b>"
H_ALPHA, O_III = "H-alpha 5 nm", "O III 5 nm"


@pytest.fixture(params=[MONO, COLOUR])
def plan(request):
    return Plan.read(NOTEBOOKS / request.param)


@pytest.fixture
def mono():
    return Plan.read(NOTEBOOKS / MONO)


@pytest.fixture
def panel(demo_folder):
    return HoursPanel(MONO, demo_folder)


def shown(plan, name=None):
    return picture_of(plan, name or plan.case.filters[0].name)


def finished(steps):
    """Result of a generator that is run to its end, and the shares that it gave on the way."""
    given = []
    while True:
        try:
            given.append(next(steps))
        except StopIteration as end:
            return end.value, given


def sure(picture):
    return finished(sure_steps(picture))[0]


# The picture of hours


def test_a_curve_meets_the_goal_at_the_plans_hours(plan):
    picture = shown(plan)
    for line in picture.lines:
        at = np.interp(math.log(line.needed_h), np.log(picture.hours), np.log(line.snr))
        assert math.exp(at) == pytest.approx(picture.goal, rel=0.03)  # whole subs
        assert np.all(np.diff(line.snr[np.isfinite(line.snr)]) > 0)


def test_the_neediest_light_of_a_filter_is_drawn():
    picture = shown(Plan.read(NOTEBOOKS / COLOUR))
    assert picture.lines[0].light == "H-alpha"
    assert picture.lines[0].label == "Dual 6 nm: 19 h\nfor H-alpha in red"


def test_no_curve_passes_its_ceiling(mono):
    uneven = shown(mono.with_values({("routine", "background_flatness"): 0.002}))
    assert [ceiling.number for ceiling in uneven.ceilings] == [0, 1]
    for ceiling in uneven.ceilings:
        assert np.nanmax(uneven.lines[ceiling.number].snr) < ceiling.snr
        assert "never passes SNR" in ceiling.words
        assert uneven.snr_reach[0] < ceiling.words_snr < uneven.snr_reach[1]


def test_words_at_the_lines_keep_apart(plan):
    picture = shown(plan)
    for places in ([line.label_snr for line in picture.lines], [one.words_snr for one in picture.ceilings]):
        room = math.log(picture.snr_reach[1] / picture.snr_reach[0])
        gaps = np.abs(np.diff(np.log(places))) / room
        assert (gaps > 0.0749).all()


def test_before_the_first_sub_there_is_no_curve(mono):
    long_subs = shown(mono.with_values({("routine", "sub_length"): "300 s", ("target", "patch"): "300 arcsec"}))
    line = long_subs.lines[0]
    assert np.isnan(line.snr[long_subs.hours * 3600 < 300]).all()
    assert np.isfinite(line.snr[long_subs.hours * 3600 >= 300]).all()


# The range


def test_the_band_is_that_of_the_draws(mono):
    picture = shown(mono)
    known, steps = finished(sure_steps(picture))
    assert steps == sorted(steps)
    assert 0 < steps[0] < steps[-1] <= 1
    for band in known.bands:
        low, middle, high = known.spread.rows[band.number].snr_at(band.hours)
        assert band.low == pytest.approx(low)
        assert band.high == pytest.approx(high)
        assert np.all((low < middle) & (middle < high))
        span = known.spread.filters[picture.lines[band.number].name]
        assert (band.needed_low_h, band.needed_high_h) == (span.p10_h, span.p90_h)
        assert span.p10_h < picture.lines[band.number].needed_h < span.p90_h


def test_the_verdict_gives_the_range_once_it_is_known(mono):
    picture = shown(mono, O_III)
    before = verdict_of(picture, None)
    assert before.headline.endswith("at best; what to plan for follows.")
    known = sure(picture)
    span = known.spread.filters[O_III]
    after = verdict_of(picture, known)
    said = re.search(
        r"takes ([\d.]+) h at best; plan for ([\d.]+) h of kept subs, ([\d.]+) to ([\d.]+) h in eight cases of ten",
        after.headline,
    )
    assert [float(number) for number in said.groups()] == pytest.approx(
        [picture.lines[1].needed_h, span.p50_h, span.p10_h, span.p90_h], rel=0.05
    )
    assert "H-alpha 5 nm takes" in after.rest
    assert "the target's brightness" in after.rest
    assert "With a patch 30″ wide" in after.change


def test_a_plan_that_is_surer_has_a_narrower_range(mono):
    wide = sure(shown(mono)).spread.filters[H_ALPHA]
    narrow = sure(shown(mono.with_values({("doubt", "target"): "1 %"}))).spread.filters[H_ALPHA]
    assert narrow.p90_h / narrow.p10_h < wide.p90_h / wide.p10_h


def test_a_goal_that_some_draws_miss_says_so(mono):
    ceiling = mono.solve().rows[0].snr_ceiling
    picture = shown(mono.with_values({("goal", "snr"): round(0.8 * ceiling, 2)}))
    words = verdict_of(picture, sure(picture))
    assert re.search(r"at best; (plan for .* or more, and )?with a chance of \d+ % no hours reach it", words.headline)


def test_each_topic_has_a_line_of_its_own(plan):
    picture = shown(plan)
    lines = verdict_of(picture, sure(picture)).rest.splitlines()
    assert lines[0].startswith("At best that is")
    assert lines[0].endswith("”.")
    assert len(lines) == 2 + (len(picture.found.filters) > 1)
    assert ("takes" in lines[1]) == ("nights" in lines[1]) == (len(lines) == 3)
    assert "of the doubt is" in lines[-1]
    assert "Measure next" in lines[-1]
    view = Verdict()
    view.say("head", "\n".join(lines), "basis")
    assert view.widget.value.count('<p class="expo-small">') == len(lines) + 1


# The other pictures


def test_shares_of_the_stack_are_whole_and_hold_the_uneven_background(plan):
    for flatness in (None, 0.004):
        bars = noise_bars(shown(plan.with_values({("routine", "background_flatness"): flatness})))
        for bar in bars:
            assert bar.parts[-1].end == pytest.approx(1)
        calibration = bars[0].parts[-1].share
        if flatness is None:
            before = calibration
    assert calibration > before


def test_the_share_of_the_uneven_background_is_what_the_snr_loses(mono):
    even, uneven = (mono.with_values({("routine", "background_flatness"): flatness}) for flatness in ("perfect", 0.001))
    picture = shown(uneven)
    row = picture.found.rows[0]
    rate = rates(even.case, even.case.filters[0])
    patch = patch_of(even.case, rate, row.light, row.sub_s)
    without = float(snr_per_patch(patch, habits_of(even.case, rate.scale_arcsec), row.kept))
    lost = 1 - (row.snr_patch / without) ** 2
    cell = noise_table(picture).rows[0][6]
    assert float(cell.split()[0]) / 100 == pytest.approx(lost, rel=0.05)


def test_three_snrs_are_named_apart(mono):
    table = noise_table(shown(mono))
    assert table.head[-3:] == ("patch", "pixel", "star's area")
    patch, pixel, star = (float(cell) for cell in table.rows[0][-3:])
    assert pixel < star < patch
    side = 15 / mono.solve().rows[0].scale_arcsec_px
    assert patch / pixel == pytest.approx(side, rel=0.1)  # independent pixels, and some calibration


def test_depth_passes_through_the_plans_light(plan):
    picture = shown(plan)
    found = depth_of(picture)
    for flux, (hours, own) in zip(found.flux, found.points, strict=True):
        at = np.interp(math.log(hours), np.log(found.hours), np.log(flux))
        assert math.exp(at) == pytest.approx(own, rel=0.03)
        assert np.all(np.diff(flux[np.isfinite(flux)]) < 0)
        assert found.flux_reach[0] <= np.nanmin(flux) <= np.nanmax(flux) <= found.flux_reach[1]


def test_depth_of_a_continuum_counts_in_magnitudes(mono):
    grey = mono.with_values({("target", "light"): [{"continuum": "25.2 mag/arcsec2"}]})
    found = depth_of(shown(grey))
    assert found.unit == "mag/arcsec2"
    assert -2.5 * math.log10(found.points[0][1]) == pytest.approx(25.2)
    magnitudes = [int(tick) for tick in found.ticks.values()]
    assert magnitudes == sorted(magnitudes)
    assert found.words[0][-1].endswith("mag/arcsec²")


def test_what_helps_is_ranked(plan):
    found = levers(shown(plan))
    saved = [lever.bar_h for lever in found[:-1]]
    assert saved == sorted(saved, reverse=True)
    assert found[-1].words.endswith("asks for less"), "what asks for less stands apart from what buys"
    assert all(lever.words.startswith("saves" if lever.helps else "costs") for lever in found)
    assert len(found) <= len(levers_table(shown(plan)).rows)


def test_a_choice_that_brings_the_goal_within_reach_says_so(mono):
    beyond = 1.1 * mono.solve().rows[1].snr_ceiling
    found = levers(shown(mono.with_values({("goal", "snr"): round(beyond, 1)})))
    assert found
    assert all(lever.brings_within and lever.helps and lever.bar_h > 0 for lever in found)
    hours = [lever.bar_h for lever in found if "asks for less" not in lever.words]
    assert hours == sorted(hours), "the fewest hours on top"


def test_hours_are_shared_out(mono):
    sentence, bars = shares(shown(mono), 10)
    assert sum(bar.hours for bar in bars) == pytest.approx(10)
    assert bars[1].hours > bars[0].hours
    assert "equal shares would leave the weakest at" in sentence
    assert [row[0] for row in shares_table(shown(mono), 10).rows] == [f"{H_ALPHA}, H-alpha", f"{O_III}, O III"]


def test_tables_hold_what_the_figures_show(plan):
    picture = shown(plan)
    known = sure(picture)
    table = snr_table(picture, known)
    assert len(table.head) == 1 + len(plan.case.filters)
    assert all("to" in cell for cell in table.rows[3][1:])
    doubts = sure_table(picture, known)
    assert doubts.rows[4][0] == "what real sessions lose beside the model"
    assert sure_table(picture, None).rows == ()
    assert depth_table(picture).rows[-1][0] == "100 h"


# Where there is no light, or no way


def test_a_filter_without_light_says_so(mono):
    blind = shown(mono.with_values({("filters", 0, "passbands", 0, "centre"): "600 nm"}))
    assert np.isnan(blind.lines[0].snr).all()
    assert blind.lines[0].label == f"{H_ALPHA}: no light"
    words = verdict_of(blind, sure(blind))
    assert words.headline.endswith("so no number of hours will show it.")
    assert "no hours" in shares(blind, 10)[1][0].words


def test_no_brightness_at_all_is_a_sentence(mono):
    light = [{"line": "H-alpha", "brightness": "0 R"}, {"line": "O III", "brightness": "0 R"}]
    dark = shown(mono.with_values({("target", "light"): light}))
    assert "H-alpha and O III without brightness" in verdict_of(dark, sure(dark)).headline
    for table in (noise_table(dark), depth_table(dark), levers_table(dark), snr_table(dark, None)):
        assert "nan" not in table.to_html().lower()
    assert depth_of(dark).numbers == ()
    assert levers(dark) == ()
    assert shares(dark, 10)[0] == "No filter can show anything of this target."


def test_a_goal_beyond_the_ceiling_is_a_sentence(mono):
    beyond = shown(mono.with_values({("goal", "snr"): 500}))
    words = verdict_of(beyond, sure(beyond))
    assert "SNR 500 for H-alpha is out of reach" in words.headline
    ceiling = say_number(beyond.found.filters[0].neediest.snr_ceiling)
    assert f"dither box of 20 pixels) ends it at {ceiling} whatever the hours" in words.headline
    assert beyond.lines[0].label.endswith("never")


def test_a_median_that_cannot_follow_says_why(mono):
    coarse = {
        ("routine", "stacking"): "median", ("routine", "sub_length"): "5 s",
        ("camera", "gains", "high", "native_step"): 16, ("camera", "gains", "high", "bits"): 12,
    }  # fmt: skip
    refused = shown(mono.with_values(coarse))
    assert "the median" in verdict_of(refused, None).headline


def test_few_clipped_subs_and_too_many_darks_are_remarked(mono):
    few = shown(mono.with_values({("target", "patch"): "90 arcsec", ("routine", "sub_length"): "300 s"}))
    assert "can never reject a lone outlier" in verdict_of(few, None).rest
    many = shown(mono.with_values({("routine", "darks"): 5000}))
    assert "5000 darks of 5 min take 417 h" in verdict_of(many, None).rest
    assert "darks" not in verdict_of(shown(mono), None).rest


@pytest.mark.parametrize(
    ("snr", "looks"), [(0.5, "lost in the noise"), (1, "suspected"), (49, "smooth"), (300, "clean")]
)
def test_an_snr_has_a_look(snr, looks):
    assert say_snr(snr).startswith(looks)


# Widgets


def columns(panel):
    return {name: list(values) for name, values in panel.stage.figures[SNR].lines.data.items()}


@pytest.mark.parametrize("name", knobs.KNOBS)
def test_every_slider_moves_the_answer(panel, name):
    before, control = columns(panel), panel.numbers[name]
    high = control.slider.value < (control.slider.max if not control.knob.log else 10**control.slider.max)
    end = control.slider.max if high else control.slider.min
    control.slider.value = 10**end if control.knob.log else end
    assert not control.wrong.value
    assert control.origin.value == "set here"
    assert columns(panel) != before


def test_the_brightness_belongs_to_the_light_in_view(panel):
    panel.target.light.menu.value = "O III"
    assert panel.target.brightness["line"].box.value == "15 R"
    panel.target.brightness["line"].box.value = "4e-18 erg/(s cm2 arcsec2)"
    light = dict(panel.plan.case.target.named_lights)["O III"]
    assert panel.target.brightness["line"].origin.value == "set here"
    assert float(light.brightness.value) == pytest.approx(0.539, abs=0.001)  # 4e-18 over 5.661e-18 times 500.7/656.3
    panel.target.light.menu.value = "H-alpha"
    assert panel.target.brightness["line"].origin.value == "plan"
    assert panel.plan.values["target"]["light"][0]["companions"] == {"N II": 0.3}


def test_n_ii_beside_h_alpha_decides_the_hours_where_one_filter_passes_both(panel):
    """Both of the demo's filters and lights: the filter of 5 nm passes H-alpha and N II 658.3 on its slope."""
    n_ii = panel.target.beside["N II"]
    assert (n_ii.box.value, n_ii.origin.value, n_ii.widget.layout.display) == ("0.3", "plan", None)
    assert panel.target.beside["H-beta"].widget.layout.display == "none"
    found = []
    for typed in ("none", "0.3", "1"):
        n_ii.box.value = typed
        light = panel.plan.values["target"]["light"][0]
        assert light.get("companions", {}).get("N II", "none") == (typed if typed == "none" else float(typed))
        assert n_ii.origin.value == ("assumed" if typed == "none" else "set here")
        found.append(panel.picture.found.rows[0].kept_h)
    assert found[0] > found[1] > found[2]
    panel.target.light.menu.value = "O III"
    assert n_ii.widget.layout.display == "none"
    assert panel.target.beside["H-beta"].widget.layout.display is None
    assert panel.target.beside["H-beta"].box.value == "none"


def test_a_line_that_is_a_light_of_its_own_is_not_counted_twice(panel):
    plan = panel.plan.with_values(
        {("target", "light"): [*panel.plan.values["target"]["light"], {"line": "S II", "brightness": "5 R"}]}
    )
    panel._load(plan)
    panel.target.beside["S II"].box.value = "0.5"
    assert "would count twice" in panel.target.beside["S II"].wrong.value
    assert panel.plan is plan


def test_a_light_from_the_library_brings_its_own_companions(panel):
    panel.target.look_up.name.box.value = "CTA 1, filament"
    panel.target.look_up.button.click()
    assert (panel.target.beside["N II"].box.value, panel.target.beside["N II"].origin.value) == ("0.81", "library")
    panel.target.look_up.name.box.value = "CTB 1"
    panel.target.look_up.button.click()
    assert (panel.target.beside["N II"].box.value, panel.target.beside["N II"].origin.value) == ("none", "assumed")


@pytest.mark.parametrize(
    ("name", "text", "sentence"),
    [
        ("goal", "0", "above 0"),
        ("goal", "-5", "above 0"),
        ("goal", "nan", "finite"),
        ("goal", "10 s", "without a unit"),
        ("patch", "0.5 arcsec", "one pixel"),
        ("patch", "3 deg", "the field"),
        ("patch", "15 m", "convertible"),
        ("patch", "15 s", "convertible to arcsec"),
        ("darks", "1000000", "at most 100000"),
        ("darks", "2.5", "whole number"),
        ("darks", "-3", "at least 1"),
        ("flats", "0", "at least 1"),
        ("dither", "0", "at least 1"),
        ("box", "-1 pixel", "at least 0 pixel"),
        ("clip", "0.5", "at least 1.5"),
        ("flatness", "-1 %", "at least 0"),
        ("flatness", "100 %", "below 1"),
        ("sky", "23 mag/arcsec2", "darker than"),
        ("width", "0 nm", "width"),
    ],
)
def test_bad_input_leaves_a_sentence_and_the_last_good_figure(panel, name, text, sentence):
    plan, lines, said = panel.plan, columns(panel), panel.verdict.widget.value
    control = panel.numbers[name]
    control.box.value = text
    assert sentence in control.wrong.value
    assert control.wrong.value.count("<span") == 1
    assert (panel.plan, columns(panel), panel.verdict.widget.value) == (plan, lines, said)
    panel.numbers["goal"].box.value = "12"
    assert control.wrong.value == ""


@pytest.mark.parametrize(
    ("text", "sentence"), [("-1 R", "at least 0 R"), ("12 s", "convertible"), ("12 mag", "convertible")]
)
def test_bad_brightness_leaves_the_last_good_one(panel, text, sentence):
    plan = panel.plan
    panel.target.brightness["line"].box.value = text
    assert sentence in panel.target.brightness["line"].wrong.value
    assert panel.plan is plan
    assert panel.target.origins == {}


def test_no_brightness_and_a_goal_out_of_reach_are_no_errors(panel):
    panel.target.brightness["line"].box.value = "0 R"
    assert "without brightness" in panel.verdict.widget.value
    panel.target.brightness["line"].box.value = "12 R"
    panel.numbers["goal"].box.value = "500"
    assert "out of reach" in panel.verdict.widget.value
    assert not panel.numbers["goal"].wrong.value


@pytest.mark.parametrize("text", ["0 h", "-2 h"])
def test_hours_at_hand_must_be_some(panel, text):
    panel.at_hand.box.value = text
    assert "above 0 h" in panel.at_hand.wrong.value
    assert panel.hours == 10


def test_one_picture_is_seen_at_a_time_and_only_that_is_drawn(panel):
    for name in PICTURES:
        panel.pick.value = name
        assert [one for one, figure in panel.stage.figures.items() if figure.widget.layout.display is None] == [name]
    panel.pick.value = NOISE
    before = dict(panel.stage.figures[DEPTH].lines[0].data)
    panel.numbers["patch"].box.value = "30 arcsec"
    assert dict(panel.stage.figures[DEPTH].lines[0].data) == before
    panel.pick.value = DEPTH
    assert dict(panel.stage.figures[DEPTH].lines[0].data) != before


def test_each_picture_follows_the_plan(panel):
    sources = {NOISE: "parts", LEVERS: "bars", SHARES: "bars"}
    for name, source in sources.items():
        panel.pick.value = name
        before = json.dumps(dict(getattr(panel.stage.figures[name], source).data))
        panel.numbers["sky"].slider.value -= 1
        assert json.dumps(dict(getattr(panel.stage.figures[name], source).data)) != before, name
    panel.at_hand.box.value = "30 h"
    assert sum(panel.stage.figures[SHARES].bars.data["hours"]) == pytest.approx(30)


def test_the_range_is_drawn_where_no_loop_runs(panel):
    figure = panel.stage.figures[SNR]
    assert all(len(band.data["hours"]) > 10 for band in figure.bands)
    assert len(figure.spans.data["low"]) == 2
    assert "eight cases of ten" in panel.verdict.widget.value


def test_a_range_that_came_while_another_picture_was_seen_is_drawn(panel):
    panel.pick.value = SHARES
    panel.plan_row.name.value = COLOUR
    panel.plan_row.load.click()
    assert panel.sure is not None
    panel.pick.value = SNR
    assert len(panel.stage.figures[SNR].bands[0].data["hours"]) > 10


def test_tables_are_filled_only_while_they_are_seen(panel):
    assert panel.table.body.value == panel.sure_table.body.value == ""
    panel.table.button.value = panel.sure_table.button.value = True
    assert "ends at" in panel.table.body.value
    assert "nine in ten" in panel.sure_table.body.value
    panel.pick.value = LEVERS
    assert "Hours after" in panel.table.body.value


def test_a_plan_is_saved_and_loaded(panel, tmp_path):
    panel.target.brightness["line"].box.value = "20 R"
    panel.numbers["goal"].box.value = "20"
    panel.numbers["flatness"].box.value = "0,2 %"
    panel.plan_row.name.value = "plans/mine.toml"
    panel.plan_row.save.click()
    saved = Plan.read(tmp_path / "plans/mine.toml")
    assert saved.case.routine.background_flatness == 0.002
    assert saved.case.goal.snr == 20
    assert "# side of the smallest square" in saved.text
    panel.pick.value = DEPTH
    panel.plan_row.name.value = COLOUR
    panel.plan_row.load.click()
    assert panel.filter_name == "Dual 6 nm"
    assert len(panel.stage.figures[DEPTH].lines) == 1
    panel.plan_row.name.value = "plans/none.toml"
    panel.plan_row.load.click()
    assert "can&#x27;t be read" in panel.plan_row.said.value
    assert panel.filter_name == "Dual 6 nm"


def test_a_plan_whose_patch_no_picture_shows_is_not_loaded(panel, tmp_path):
    panel.plan.with_values({("target", "patch"): "0.1 arcsec"}).save(tmp_path / "tiny.toml")
    plan = panel.plan
    panel.plan_row.name.value = "tiny.toml"
    panel.plan_row.load.click()
    assert "one pixel" in panel.plan_row.said.value
    assert panel.plan is plan
    other = HoursPanel("tiny.toml", tmp_path)
    assert "one pixel" in other.plan_row.said.value
    assert "A demo is shown" in other.plan_row.said.value


def test_markup_in_names_is_shown_as_text(panel, tmp_path):
    panel.plan.with_values({("title",): MARKUP, ("filters", 0, "name"): MARKUP}).save(tmp_path / "wild.toml")
    panel.plan_row.name.value = "wild.toml"
    panel.plan_row.load.click()
    panel.table.button.value = panel.sure_table.button.value = True
    for page in (panel.plan_row.title, panel.verdict.widget, panel.table.body, panel.sure_table.body):
        assert "&lt;img" in page.value
        assert "<img" not in page.value


def test_own_words_for_an_snr():
    panel = HoursPanel(MONO, NOTEBOOKS, looks={8: "<i>fine</i>"})
    assert "“&lt;i&gt;fine&lt;/i&gt;”" in panel.looks_like.value
    assert "“&lt;i&gt;fine&lt;/i&gt;”" in panel.verdict.widget.value


# Looking a brightness up


def test_what_is_looked_up_is_only_shown_until_it_is_used(panel):
    plan, found = panel.plan, region("M31 O III arc")
    panel.target.look_up.name.box.value = "M31 O III arc"
    assert panel.plan is plan
    for words in (found.shown, found.caution.split(" In conflict")[0], f"Grade {found.grade}"):
        assert words in html.unescape(panel.target.look_up.found.value)
    panel.target.look_up.button.click()
    light = dict(panel.plan.case.target.named_lights)["O III"]
    assert float(light.brightness.value) == pytest.approx(0.539, abs=0.001)
    assert (panel.light_name, panel.target.brightness["line"].origin.value) == ("O III", "library")
    panel.target.brightness["line"].box.value = "6 R"  # one's own value wins
    assert panel.target.brightness["line"].origin.value == "set here"
    panel.target.look_up.name.box.value = "Sh2-276, Barnard's Loop"
    assert float(dict(panel.plan.case.target.named_lights)["O III"].brightness.value) == 6


def test_a_light_of_another_kind_comes_in_addition_and_goes_again(panel):
    name = next(one.name for one in TARGETS.values() if one.kind == "continuum")
    panel.target.look_up.name.box.value = name
    panel.target.look_up.button.click()
    assert lights(panel.plan) == ("H-alpha", "O III", "continuum")
    assert "in addition" in panel.target.look_up.found.value
    assert panel.target.brightness["continuum"].widget.layout.display is None
    panel.target.brightness["continuum"].slider.value = 24
    assert panel.plan.values["target"]["light"][2]["continuum"] == "24 mag/arcsec2"
    panel.target.without.click()
    assert lights(panel.plan) == ("H-alpha", "O III")
    assert panel.target.brightness["line"].widget.layout.display is None
    panel.target.without.click()
    assert panel.target.without.layout.display == "none"  # the last light stays


def test_every_region_of_the_library_can_be_used(panel):
    for name in TARGETS:
        panel.target.look_up.name.box.value = name
        panel.target.look_up.button.click()
        assert not panel.target.look_up.name.wrong.value, name
        for picture in PICTURES:
            panel.pick.value = picture


def test_a_misspelt_name_gets_a_near_one(panel):
    plan = panel.plan
    panel.target.look_up.name.box.value = "Rosete Nebula"
    assert "did you mean &quot;NGC 2237, Rosette Nebula&quot;?" in panel.target.look_up.name.wrong.value
    assert (panel.plan, panel.target.look_up.light) == (plan, None)
    assert panel.target.look_up.button.layout.display == "none"


def test_the_survey_tells_source_licence_and_caution(panel):
    panel.target.look_up.right_ascension.box.value = "4h16m"
    assert panel.target.look_up.light is None
    panel.target.look_up.declination.box.value = "-5d00m"
    for words in ("Wisconsin", "BSD-3-Clause", "small structure can be much brighter", " R (±"):
        assert words in panel.target.look_up.found.value
    panel.target.look_up.button.click()
    assert panel.target.brightness["line"].origin.value == "survey"
    light = panel.plan.values["target"]["light"][0]
    assert "companions" not in light, "they belonged to another brightness, and the survey sees no N II"
    assert light["doubt"] > 1.2


@pytest.mark.parametrize(
    ("right_ascension", "declination", "sentence"),
    [
        ("83.8", "-5.4 deg", "needs a unit"),
        ("83.8 deg", "-5.4", "needs a unit"),
        ("400 deg", "-5.4 deg", "at most 360"),
        ("5h35m", "-95 deg", "at least -90"),
        ("5h35m", "south", "number with its unit"),
    ],
)
def test_a_position_that_is_none_is_refused(panel, right_ascension, declination, sentence):
    panel.target.look_up.place(right_ascension, "")
    panel.target.look_up.declination.box.value = declination
    assert sentence in panel.target.look_up.declination.wrong.value
    assert panel.target.look_up.light is None


# Work that takes its time


def counting(times, seen):
    def steps():
        for step in range(times):
            seen.append(step)
            yield step / times
        return "done"

    return steps


def test_work_waits_for_rest_and_a_new_wish_takes_its_place():
    async def play():
        seen, got = [], []
        work = SlowWork("Range", counting(3, seen), got.append)
        for _ in range(5):
            work.poke()
            await asyncio.sleep(0)
        assert (seen, work.running) == ([], True)
        while work.running:
            await asyncio.sleep(0.01)
        assert (seen, got, work.running) == ([0, 1, 2], ["done"], False)
        assert work.bar.layout.visibility == "hidden"

    asyncio.run(play())


def test_work_can_be_stopped_and_taken_up_again():
    async def play():
        seen, got = [], []
        work = SlowWork("Range", counting(1000, seen), got.append)
        work.poke()
        while not seen:
            await asyncio.sleep(0.01)
        assert work.bar.layout.visibility == work.button.layout.visibility == "visible"
        work.button.click()
        stopped = len(seen)
        assert 0 < stopped < 1000
        await asyncio.sleep(0.05)
        assert (len(seen), got) == (stopped, [])
        assert work.said.value == "Range: stopped."
        assert work.button.description == "Go on"
        work.button.click()
        assert work.running
        work.stop()

    asyncio.run(play())


def test_work_that_fails_leaves_a_sentence():
    def steps():
        yield 0.5
        msg = "the draws <fail>"
        raise ValueError(msg)

    async def play():
        work = SlowWork("Range", steps, print)
        work.poke()
        while work.running:
            await asyncio.sleep(0.01)
        assert "the draws &lt;fail&gt;" in work.said.value
        assert not work.running

    asyncio.run(play())
    alone = SlowWork("Range", steps, print)
    alone.poke()
    assert "the draws &lt;fail&gt;" in alone.said.value


def test_stopped_draws_leave_the_hours_and_nothing_is_lost(panel):
    async def play():
        panel.numbers["goal"].box.value = "12"
        assert panel.work.running
        await asyncio.sleep(0.1)  # the curves are drawn at once, the rest in a moment
        assert len(panel.stage.figures[SNR].bands[0].data["hours"]) == 0  # the old range is not that of the new plan
        lines = columns(panel)
        panel.work.stop()
        await asyncio.sleep(0.5)
        assert panel.sure is None
        assert columns(panel) == lines
        assert "what to plan for follows" in panel.verdict.widget.value
        panel.work.poke()
        for _ in range(600):
            if panel.sure is not None:
                break
            await asyncio.sleep(0.05)
        assert panel.sure is not None
        assert len(panel.stage.figures[SNR].bands[0].data["hours"]) > 10

    asyncio.run(play())


# The notebook


def test_the_notebooks_words_for_an_snr_are_the_panels():
    cells = {c["id"]: "".join(c["source"]) for c in json.loads((NOTEBOOKS / "hours.ipynb").read_text("utf-8"))["cells"]}
    table = {int(snr): looks for snr, looks in re.findall(r"^\| (\d+) \| (.+) \|$", cells["words"], re.M)}
    assert table == dict(LOOKS)
    assert {int(snr): looks for snr, looks in re.findall(r'^ +(\d+): "(.+)",$', cells["panel"], re.M)} == table


def test_exercises_are_answered_by_turning_the_panel(panel):
    goal, faint, share = exercises(panel.plan)
    panel.filter.menu.value = O_III
    panel.numbers["goal"].box.value = "20"
    said = re.search(r"takes ([\d.]+\sh) at best", panel.verdict.widget.value)[1]
    assert goal.reply(said).startswith("Right. ")
    panel.plan_row.load.click()
    row = next(row for row in depth_table(panel.picture).rows if row[0] == "20 h")
    assert faint.reply(row[2]).startswith("Right. ")
    panel.at_hand.box.value = "20 h"
    panel.pick.value = SHARES
    assert share.reply(f"{panel.stage.figures[SHARES].bars.data['hours'][1]:.2g} h").startswith("Right. ")


def test_exercises_refuse_what_is_wrong_and_say_why(mono):
    for exercise in exercises(mono):
        assert exercise.reply(f"{exercise.answer * 2} {exercise.unit}").startswith("Not yet: the answer is less")
        assert exercise.reply(f"{exercise.answer / 2} {exercise.unit}").startswith("Not yet: the answer is more")
        assert "needs a unit" in exercise.reply("3")
        assert "convertible" in exercise.reply("3 m")


def test_the_verdict_speaks_of_nights_once_place_and_clear_nights_are_known(mono):
    known = mono.with_values(
        {
            ("target", "right_ascension"): "20h 45m 38s",
            ("target", "declination"): "+30d 43m",
            ("night", "date"): "2026-10-10",
            ("night", "clear_share"): 0.4,
        }
    )
    campaign = tonight_of(known.case).campaign
    counts, planned = campaign.counts, campaign.planned
    sure, _ = finished(sure_steps(shown(known)))
    one, every = counts[H_ALPHA], counts["all"]
    said = verdict_of(shown(known), sure).rest
    assert f"at best {one.p10} to {one.p90} nights on the calendar if {H_ALPHA} has them to itself" in said
    assert f"has them to itself, with 40 % of the nights clear; {say_planned(planned[H_ALPHA])}." in said
    assert f"For all filters it is at best {every.p10} to {every.p90} nights; {say_planned(planned['all'])}." in said
    for missing in (("night", "clear_share"), ("site", "latitude")):
        less, _ = finished(sure_steps(shown(known.with_values({missing: None}))))
        assert less.nights == ""


@pytest.mark.parametrize(
    "changes", [{}, {("target", "light", 1, "snr"): 60}, {("goal", "snr"): 68}, {("goal", "snr"): 75}]
)
def test_words_of_goals_and_ceilings_keep_apart(mono, changes):
    picture = shown(mono.with_values(changes))
    words = {line.goal_words_snr for line in picture.lines if line.goal_words}
    places = sorted(math.log(snr) for snr in [*words, *(one.words_snr for one in picture.ceilings)])
    low, high = (math.log(snr) for snr in picture.snr_reach)
    assert len(places) >= 3
    assert all(b - a > 0.07 * (high - low) for a, b in itertools.pairwise(places))


def test_a_curve_far_below_the_goal_is_in_the_picture(mono):
    faint = mono.with_values({("target", "light"): [{"line": "H-alpha", "brightness": "0.3 R"}], ("goal", "snr"): 40})
    picture = shown(faint)
    assert picture.snr_reach[0] < np.nanmax(picture.lines[0].snr) / 2


def test_words_of_what_helps_have_the_whole_width_to_themselves(panel):
    """Choice and hours stand in one line above their bar, so that a narrow figure keeps room for the bars."""
    panel.pick.value = LEVERS
    figure = panel.stage.figures[LEVERS]
    data, fig = figure.bars.data, figure._figure
    assert data["said"] == [f"{label}: {words}" for label, words in zip(data["label"], data["words"], strict=True)]
    assert set(data["start"]) == {fig.x_range.start}
    assert not fig.yaxis[0].visible
    rows = sorted((*data["head"], *data["row"]))
    px = (fig.height - 75) / (fig.y_range.start - fig.y_range.end)
    assert min(np.diff(rows)) * px > 9, "a line of words and a bar each have room"
