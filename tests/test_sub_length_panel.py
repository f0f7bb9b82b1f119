"""The sub-length panel without a browser: what its model says, and what its widgets then hold."""

import asyncio
import math
import runpy
import shutil
from pathlib import Path

import numpy as np
import pytest

from expocalc.budget.noise import noise_growth
from expocalc.budget.rates import rates
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.budget.sub_length import clock_hours
from expocalc.plan import Plan, PlanError
from workbook.parts.places import spread
from workbook.sub_length import SubLengthAnswer, SubLengthPanel
from workbook.sub_length.exercises import exercises
from workbook.sub_length.knobs import KNOBS, changes, lamps, shown, summary
from workbook.sub_length.model import SUB_S, Picture
from workbook.sub_length.tables import hours_table, noise_table

PLAIN = runpy.run_path(str(Path(__file__).with_name("on_screen.py")))["plain"]

NOTEBOOKS = Path(__file__).parents[1] / "notebooks"
MONO = "plans/mono-single-lines.toml"
COLOUR = "plans/colour-dual-band.toml"
MARKUP = "<img src=x onerror=alert(1)> & <b>shell</b>"


@pytest.fixture(params=[MONO, COLOUR])
def plan(request):
    return Plan.read(NOTEBOOKS / request.param)


@pytest.fixture
def mono():
    return Plan.read(NOTEBOOKS / MONO)


@pytest.fixture
def panel(demo_folder):
    return SubLengthPanel(MONO, demo_folder)


def said(panel):
    """The verdict with plain spaces where lines may not end."""
    return PLAIN(panel.verdict.widget.value)


def first(plan):
    return plan.case.filters[0].name


def test_a_curve_passes_through_the_plans_answer(plan):
    # Whole subs are shot, so the answer is at most one sub above the curve.
    shown_ = Picture(plan, first(plan))
    for curve, end, row in zip(shown_.curves, shown_.ends, plan.solve().filters, strict=True):
        assert row.clock_h * (1 - 2 / row.shot) <= end.hours <= row.clock_h
        assert np.interp(math.log(end.sub_s), np.log(SUB_S), curve) == pytest.approx(end.hours, rel=0.01)


def test_lights_worked_out_together_are_as_each_by_itself(plan):
    lights = [{"line": "H-alpha", "brightness": "12 R"}, {"line": "O III", "brightness": "6 R"}]
    lights += [{"continuum": "25 mag/arcsec2"}, {"star": "18 mag"}]
    bright = plan.with_values({("target", "light"): lights})
    case = bright.case
    for number, filter_ in enumerate(case.filters):
        rate = rates(case, filter_)
        habits = habits_of(case, rate.scale_arcsec)
        names = [*rate.extended, *rate.stars]
        assert len(names) > 2
        each = [
            clock_hours(patch_of(case, rate, name, 1.0), habits, case.routine, case.goal.snr, SUB_S) for name in names
        ]
        curve = Picture(bright, first(plan)).curves[number]
        most = np.max(each, axis=0)
        # each search ends where the squared SNR is met to a ten-millionth, together a step later than alone
        assert curve == pytest.approx(np.where(np.isfinite(most), most, np.nan), rel=1e-6, nan_ok=True)


def test_a_curve_is_of_the_lights_that_the_filter_is_for_each_with_its_own_goal(plan):
    lights = [{"line": "H-alpha", "brightness": "12 R", "snr": 20}, {"continuum": "27 mag/arcsec2"}]
    changed = plan.with_values({("target", "light"): lights, ("filters", 0, "wanted"): ["H-alpha"]})
    case = changed.case
    rate = rates(case, case.filters[0])
    hours = clock_hours(
        patch_of(case, rate, "H-alpha", 1.0), habits_of(case, rate.scale_arcsec), case.routine, 20, SUB_S
    )
    curve = Picture(changed, first(plan)).curves[0]
    assert curve == pytest.approx(np.where(np.isfinite(hours), hours, np.nan), rel=1e-6, nan_ok=True)


def test_the_good_range_costs_two_per_cent(mono):
    # Perfect calibration: what frames share is not counted when the best sub is sought.
    gone = ("longest_sub", "stacking", "biases")
    perfect = {("routine", key): "perfect" for key in ("darks", "flats")}
    free = mono.with_values({("routine", key): None for key in gone} | perfect | {("goal", "unsaturated_star"): None})
    shown_ = Picture(free, first(free))
    hours = shown_.curves[0]
    at_ends = np.interp(np.log(shown_.good_s), np.log(SUB_S), hours)
    assert at_ends / hours.min() == pytest.approx([1.02, 1.02], abs=0.003)


def test_the_read_noise_bound_is_where_read_noise_adds_what_the_goal_allows(mono):
    bound = next(bound for bound in Picture(mono, first(mono)).bounds if bound.kind == "read noise")
    rate = rates(mono.case, mono.case.filters[0])
    growth = noise_growth(rate.background_e_s, bound.sub_s, mono.case.camera.setting.read_variance_e2)
    assert float(growth[0]) == pytest.approx(0.05)


def test_bounds_follow_the_plan(mono):
    kinds = {bound.kind: bound for bound in Picture(mono, first(mono)).bounds}
    assert kinds["mount"].sub_s == 300
    assert kinds["mount"].words == "mount holds 5 min"
    bare = mono.with_values({("routine", "longest_sub"): None, ("goal", "unsaturated_star"): None})
    assert {bound.kind for bound in Picture(bare, first(bare)).bounds} == {"read noise"}


def test_shares_fill_the_bar(plan):
    for bar in Picture(plan, first(plan)).bars:
        assert bar.parts[0].start == 0
        assert bar.parts[-1].end == pytest.approx(1)
        assert all(a.end == b.start for a, b in zip(bar.parts, bar.parts[1:], strict=False))


def test_words_of_a_bar_do_not_meet(plan):
    for bar in Picture(plan, first(plan)).bars:
        for line in (0, 1):  # room for two digits in words of 12 px beside a key, in a figure of 300 px
            parts = [part for part in bar.parts if part.line == line]
            ends = [*(part.words_at for part in parts[1:]), 1.0]
            assert parts[0].words_at == 0
            for part, end in zip(parts, ends, strict=True):
                assert 6.6 * len(f"{part.quantity} 88 %") + 14 < 300 * (end - part.words_at)


def test_labels_keep_apart_and_inside():
    assert spread([0.0, 0.1, 0.2, 5.0], 1.0, low=0.0) == pytest.approx([0.0, 1.0, 2.0, 5.0])
    assert spread([3.0], 1.0) == [3.0]
    assert spread([], 1.0) == []


def test_the_verdict_is_the_plans(mono):
    words = Picture(mono, "O III 5 nm").words
    said = next(one.verdict for one in mono.solve().filters if one.filter_name == "O III 5 nm")
    assert f"{words.headline} {words.rest}".strip() == said
    assert words.headline.startswith("O III 5 nm: ")
    assert "19.10 mag/arcsec² by meter" in words.basis
    assert "1 mag darker" in words.change


def test_a_full_stop_in_a_name_does_not_cut_the_verdict(mono):
    named = mono.with_values({("filters", 0, "name"): "Ha. Narrow one"})
    assert Picture(named, "Ha. Narrow one").words.headline.startswith("Ha. Narrow one: take ")


def test_under_the_darkest_sky_the_change_is_a_brighter_one(mono):
    dark = mono.with_values({("sky", "zenith_brightness"): "21.9 mag/arcsec2"})
    assert "1 mag brighter" in Picture(dark, first(dark)).words.change


def test_a_measured_sky_is_named_as_such(mono):
    measured = mono.with_values({("sky", "measured"): {first(mono): "0.2 electron/s"}})
    words = Picture(measured, first(mono)).words
    assert "the sky that you measured" in words.basis
    assert words.change == ""
    assert shown(measured, first(mono))["sky"].origin == "not used: measured"


def test_a_filter_without_light_has_no_curve_and_says_so(mono):
    blind = mono.with_values({("filters", 0, "passbands", 0, "centre"): "600 nm"})
    shown_ = Picture(blind, first(blind))
    assert np.isnan(shown_.curves[0]).all()
    assert shown_.ends[0].label == "H-alpha 5 nm: no light"
    assert "no number of hours" in shown_.words.rest
    assert hours_table(blind).rows[0][1] == "never"
    assert np.isfinite(shown_.hours_reach).all()


@pytest.mark.parametrize("name", KNOBS)
def test_every_reach_of_a_knob_has_a_picture(mono, name):
    knob = KNOBS[name]
    fastest_mm = 0.5 * float(mono.case.telescope.aperture.value)  # no telescope is faster than f/0.5
    least = fastest_mm if name == "focal length" else knob.low
    for turn in np.linspace(knob.turn(least), knob.turn(knob.high), 9):
        changed = mono.with_values(changes(mono, first(mono), name, knob.at(turn)))
        shown_ = Picture(changed, first(mono))
        low, high = shown_.hours_reach
        assert 0 < low < high <= 1e5
        assert all(0.999 * low <= end.label_hours <= 1.001 * high for end in shown_.ends)
        assert hours_table(changed).rows


def test_a_goal_that_no_hours_reach_is_said(mono):
    hopeless = mono.with_values({("goal", "snr"): 1e6, ("routine", "background_flatness"): 0.01})
    assert Picture(hopeless, first(hopeless)).ends[0].label == "H-alpha 5 nm: out of reach"
    assert {cell for row in hours_table(hopeless).rows for cell in row[1:]} == {"never"}


def test_tables_hold_what_the_figures_show(mono):
    found = {row[0]: row[1:] for row in hours_table(mono).rows}
    assert all(cell.endswith("(the plan's)") for cell in found["5 min"])
    assert "(+" in found["60 s"][0]
    table = noise_table(mono)
    assert table.head[1:] == ("target", "sky", "dark", "read noise", "calibration")
    assert [row[0] for row in table.rows] == [bar.words for bar in Picture(mono, first(mono)).bars]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("altitude", 40),
        ("aperture", 120),
        ("focal length", 600),
        ("temperature", 5),
        ("longest sub", 77),
        ("dead time", 9),
        ("width", 3),
        ("sky", 20.5),
    ],
)
def test_a_knob_changes_what_it_says(mono, name, value):
    changed = mono.with_values(changes(mono, first(mono), name, value))
    assert shown(changed, first(mono))[name].value == pytest.approx(value)
    assert shown(changed, first(mono))[name].origin == "set here"
    assert shown(mono, first(mono))[name].origin == ("meter" if name == "sky" else "plan")


def test_what_the_plan_leaves_out_is_assumed(mono):
    bare = Plan.parse(mono.to_toml().replace('temperature = "-10 deg_C"\n', "").replace('dead_time = "2 s"\n', ""))
    origins = {name: value.origin for name, value in shown(bare, first(bare)).items()}
    assert origins["temperature"] == origins["dead time"] == "assumed"
    assert origins["aperture"] == "plan"


def test_class_and_reading_of_the_sky_are_linked(mono):
    by_class = mono.with_values(changes(mono, first(mono), "bortle", 4))
    assert by_class.case.sky.bortle == 4
    assert by_class.case.sky.zenith_brightness is None
    back = by_class.with_values(changes(by_class, first(mono), "sky", 19.1))
    assert back.case.sky.bortle is None
    assert shown(back, first(mono))["bortle"].text == shown(mono, first(mono))["bortle"].text


def test_a_wide_knob_turns_all_passbands_of_a_filter():
    plan = Plan.read(NOTEBOOKS / COLOUR)
    changed = plan.with_values(changes(plan, first(plan), "width", 3))
    assert [float(band.width.value) for band in changed.case.filters[0].passbands] == [3, 3]


def test_lamps_keep_their_order_whatever_the_share(mono):
    few = mono.with_values(changes(mono, first(mono), "lamps", 20))
    assert (lamps(few).first, lamps(few).share) == (lamps(mono).first, 20)
    with pytest.raises(ValueError, match="from 0 % to 100 %"):
        changes(mono, first(mono), "lamps", 120)


def test_folded_groups_tell_their_values(mono):
    said = summary(mono, shown(mono, first(mono)))
    assert said["Telescope"] == "102 mm at f/5"
    assert said["Mount and pauses"] == "holds 300 s, pause 2 s"


# Widgets


def columns(source):
    return {name: list(values) for name, values in source.data.items()}


@pytest.mark.parametrize("name", KNOBS)
def test_every_slider_moves_the_answer_or_the_figures(panel, name):
    before = columns(panel.hours.lines), columns(panel.noise.parts), columns(panel.hours.bounds)
    control = panel.numbers[name]
    control.slider.value = control.slider.value / 2 if control.knob.log else control.slider.min
    assert not control.wrong.value
    assert (columns(panel.hours.lines), columns(panel.noise.parts), columns(panel.hours.bounds)) != before


def test_a_browser_that_rounds_a_slider_changes_nothing(panel):
    plan = panel.plan
    panel.numbers["focal length"].slider.value = 511.682  # the next step of a slider by factors
    assert panel.plan is plan


def test_a_box_takes_other_units_and_a_decimal_comma(panel):
    panel.numbers["aperture"].box.value = "10,5 cm"
    assert float(panel.plan.case.telescope.aperture.value) == 105
    assert panel.numbers["aperture"].box.value == "105 mm"
    assert panel.numbers["aperture"].slider.value == pytest.approx(105)


@pytest.mark.parametrize(
    ("name", "text", "sentence"),
    [
        ("aperture", "102 s", "convertible"),
        ("aperture", "102 s", "convertible to mm"),
        ("aperture", "nan mm", "finite"),
        ("aperture", "-3 mm", "above 0 mm"),
        ("aperture", "0 mm", "above 0 mm"),
        ("aperture", "wide", "number with its unit"),
        ("altitude", "95 deg", "at most 90 deg"),
        ("altitude", "0 deg", "above 0 deg"),
        ("sky", "23 mag/arcsec2", "darker than"),
        ("sky", "19.1 mag", "convertible"),
        ("bortle", "12", "at most 9"),
        ("bortle", "5.5", "whole number"),
        ("lamps", "130 %", "100 %"),
        ("temperature", "400 deg_C", "at most 60 deg_C"),
        ("width", "0 nm", "width"),
        ("width", "900 nm", "width"),
        ("longest sub", "0 s", "above 0 s"),
        ("dead time", "-1 s", "at least 0 s"),
        ("focal length", "inf mm", "finite"),
    ],
)
def test_bad_input_leaves_a_sentence_and_the_last_good_figure(panel, name, text, sentence):
    plan, lines, said = panel.plan, columns(panel.hours.lines), panel.verdict.widget.value
    control = panel.numbers[name]
    control.box.value = text
    assert sentence in control.wrong.value
    assert control.wrong.layout.display is None
    assert panel.plan is plan
    assert columns(panel.hours.lines) == lines
    assert panel.verdict.widget.value == said
    panel.numbers["altitude"].box.value = "50 deg"  # a good input anywhere shows good values everywhere
    assert control.wrong.value == ""
    assert control.wrong.layout.display == "none"


def test_what_is_refused_after_the_curves_were_drawn_brings_the_last_ones_back(panel, monkeypatch):
    plan, lines, sent = panel.plan, columns(panel.hours.lines), []
    panel.hours.lines.on_change("data", lambda _attr, _old, new: sent.append(dict(new)))

    def refuse(_):
        msg = "the plan: no answer today"
        raise PlanError(msg)

    monkeypatch.setattr(Plan, "solve", refuse)
    control = panel.numbers["altitude"]
    control.box.value = "40 deg"
    assert "no answer today" in control.wrong.value
    assert len(sent) == 2
    assert not np.array_equal(sent[0]["hours_0"], lines["hours_0"], equal_nan=True)
    assert np.array_equal(sent[1]["hours_0"], lines["hours_0"], equal_nan=True)
    assert panel.plan is plan


def test_the_curves_come_first_and_the_rest_once_for_all_changes_of_a_moment(panel):
    async def play():
        lines, said, words = columns(panel.hours.lines), panel.verdict.widget.value, []
        panel.verdict.widget.observe(words.append, "value")
        panel.numbers["altitude"].box.value = "40 deg"
        assert columns(panel.hours.lines) != lines
        assert panel.verdict.widget.value == said
        panel.numbers["aperture"].box.value = "130 mm"
        await asyncio.sleep(0.1)
        assert len(words) == 1
        assert float(panel.plan.case.target.altitude.value) == 40
        assert float(panel.plan.case.telescope.aperture.value) == 130

    asyncio.run(play())
    plan = Plan.parse(panel.plan.to_toml())
    assert panel.hours.ends.data["label"] == [end.label for end in Picture(plan, panel.filter_name).ends]


def test_no_limit_is_a_value(panel):
    panel.numbers["longest sub"].box.value = ""
    assert panel.plan.case.routine.longest_sub is None
    assert panel.numbers["longest sub"].box.value == "no limit"
    assert "mount" not in [bound.kind for bound in Picture(panel.plan, panel.filter_name).bounds]


def test_the_filter_in_view_is_what_the_verdict_speaks_of(panel):
    panel.filter.menu.value = "O III 5 nm"
    assert '<p class="expo-headline">O III 5 nm: ' in said(panel)


def test_gain_and_lamps_are_chosen_by_name(panel):
    panel.gain.menu.value = "low"
    assert panel.plan.case.camera.gain == "low"
    panel.lamps[1].menu.value = "mercury"
    assert dict(panel.plan.case.sky.lamps) == {"led-4000K": 0.6, "mercury": 0.4}


def test_tables_are_filled_only_while_they_are_seen(panel):
    assert panel.hours_table.body.value == ""
    panel.hours_table.button.value = True
    before = panel.hours_table.body.value
    assert "<table" in before
    panel.numbers["altitude"].slider.value = 30
    assert panel.hours_table.body.value != before


def test_a_plan_is_saved_and_loaded(panel, tmp_path):
    panel.numbers["aperture"].box.value = "130 mm"
    panel.plan_row.name.value = "plans/mine.toml"
    panel.plan_row.save.click()
    assert "Saved as plans/mine.toml." in panel.plan_row.said.value
    saved = (tmp_path / "plans/mine.toml").read_text(encoding="utf-8")
    assert saved == (tmp_path / MONO).read_text(encoding="utf-8").replace('"102 mm"', '"130 mm"')
    panel.plan_row.name.value = COLOUR
    panel.plan_row.load.click()
    assert panel.filter_name == "Dual 6 nm"
    assert list(panel.hours.lines.data) == ["sub_s", "hours_0"]
    assert "Dual 6 nm" in said(panel)
    panel.plan_row.name.value = "plans/mine.toml"
    panel.plan_row.load.click()
    assert float(panel.plan.case.telescope.aperture.value) == 130


@pytest.mark.parametrize(
    ("name", "content", "sentence"),
    [
        ("plans/none.toml", None, "can&#x27;t be read"),
        ("start.ipynb", None, "ends in .toml"),
        ("../out.toml", None, "notebook&#x27;s folder"),
        ("/elsewhere/out.toml", None, "notebook&#x27;s folder"),
        ("bad.toml", b"sky = [", "not valid TOML"),
        ("bad.toml", b"\xff\xfe\x00", "not a text file"),
        ("bad.toml", b"", "is empty"),
        ("bad.toml", b"[skye]\n", "did you mean"),
    ],
)
def test_a_plan_that_cannot_be_read_leaves_all_as_it_was(panel, tmp_path, name, content, sentence):
    if content is not None:
        (tmp_path / name).write_bytes(content)
    plan, said = panel.plan, panel.verdict.widget.value
    panel.plan_row.name.value = name
    panel.plan_row.load.click()
    assert sentence in panel.plan_row.said.value
    assert (panel.plan, panel.verdict.widget.value) == (plan, said)


@pytest.mark.parametrize("name", ["start.ipynb", "../out.toml", "missing/out.toml"])
def test_a_plan_that_cannot_be_saved_leaves_a_sentence(panel, tmp_path, name):
    panel.plan_row.name.value = name
    panel.plan_row.save.click()
    assert "expo-wrong" in panel.plan_row.said.value
    assert sorted(path.name for path in tmp_path.iterdir()) == ["plans"]


def test_markup_in_names_is_shown_as_text(panel, tmp_path):
    wild = panel.plan.with_values({("title",): MARKUP, ("filters", 0, "name"): MARKUP})
    wild.save(tmp_path / "wild.toml")
    panel.plan_row.name.value = "wild.toml"
    panel.plan_row.load.click()
    panel.hours_table.button.value = panel.noise_table.button.value = True
    pages = [panel.plan_row.title, panel.verdict.widget, panel.hours_table.body, panel.noise_table.body]
    for page in pages:
        assert "&lt;img" in page.value
        assert "<img" not in page.value


def test_the_answer_at_a_glance_shows_the_demo_plan():
    answer = SubLengthAnswer(MONO, NOTEBOOKS)
    assert len(answer.hours.lines.data["hours_1"]) == SUB_S.size


def test_two_panels_do_not_share_anything(panel, tmp_path):
    other = SubLengthPanel(MONO, tmp_path)
    panel.numbers["altitude"].slider.value = 30
    assert float(other.plan.case.target.altitude.value) == 60


def test_without_its_plan_a_panel_says_so_and_shows_a_demo(tmp_path):
    panel = SubLengthPanel(MONO, tmp_path)
    assert "can&#x27;t be read" in panel.plan_row.said.value
    assert "A demo is shown" in panel.plan_row.said.value
    assert panel.plan_row.name.value == MONO
    panel.plan_row.load.click()
    assert "can&#x27;t be read" in panel.plan_row.said.value
    shutil.copytree(NOTEBOOKS / "plans", tmp_path / "plans", ignore=shutil.ignore_patterns(".*"))
    panel.plan_row.load.click()
    assert f"Loaded {MONO}." in panel.plan_row.said.value


# Exercises


def test_exercises_are_answered_by_turning_the_panel(panel):
    gain, dark, mount = exercises(panel.plan)
    panel.gain.menu.value = "low"
    assert gain.reply(_read_noise_words(panel)).startswith("Right. ")
    panel.plan_row.load.click()
    panel.numbers["sky"].box.value = "21 mag/arcsec2"
    assert dark.reply(_read_noise_words(panel)).startswith("Right. ")
    panel.plan_row.load.click()
    panel.numbers["longest sub"].box.value = "60 s"
    label = panel.hours.ends.data["label"][0]
    assert mount.reply(label.split(": ")[1]).startswith("Right. ")


def _read_noise_words(panel):
    words = next(words for words in panel.hours.bounds.data["words"] if words.startswith("read noise"))
    return words.split(" at ")[1]


def test_exercises_refuse_what_is_wrong_and_say_why(mono):
    for exercise in exercises(mono):
        assert exercise.reply(f"{exercise.answer * 2} {exercise.unit}").startswith("Not yet: the answer is less")
        assert exercise.reply(f"{exercise.answer / 2} {exercise.unit}").startswith("Not yet: the answer is more")
        assert "needs a unit" in exercise.reply("3")
        assert "convertible" in exercise.reply("3 m")


def test_measured_skies_tell_the_lamps_at_a_button_and_say_what_they_tell(demo_folder, mono):
    row = mono.solve().rows[0]
    measured = {("sky", "measured"): {row.filter_name: f"{1.2 * row.sky_e_s} electron/s"}}
    mono.with_values(measured).save(demo_folder / "rates.toml")
    panel = SubLengthPanel("rates.toml", demo_folder)
    told = panel.told
    assert told.widget.layout.display is None
    told.button.click()
    assert panel.plan.values["sky"]["lamps"] == "from rates"
    assert "Lamps told by the rates of H-alpha 5 nm, the reading" in told.words.value
    told.fold.button.value = True
    assert "2 rates tell the lamps" in told.fold.body.value
    assert "H-alpha 5 nm: measured over fitted" in told.fold.body.value
    assert "Sky of O III 5 nm" in told.fold.body.value
    told.button.click()
    assert "lamps" not in panel.plan.values["sky"]


def test_rates_that_contradict_leave_a_sentence_and_a_plan_without_rates_no_button(demo_folder, mono):
    assert SubLengthPanel(MONO, demo_folder).told.widget.layout.display == "none"
    mono.with_values({("sky", "measured"): {"H-alpha 5 nm": "5 electron/s"}}).save(demo_folder / "odd.toml")
    panel = SubLengthPanel("odd.toml", demo_folder)
    panel.told.button.click()
    assert "that one town can have" in panel.told.words.value
    assert panel.plan.case.sky.told is None
