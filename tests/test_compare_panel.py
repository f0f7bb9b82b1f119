"""The comparison panel without a browser: what its model says, and what its widgets then hold."""

import math
import re
from pathlib import Path

import numpy as np
import pytest

from expocalc.base.words import say_duration
from expocalc.plan import Plan, PlanError
from workbook.compare import ComparePanel
from workbook.compare.facts import hours_table
from workbook.compare.figures import PairsFigure
from workbook.compare.knobs import KNOBS, changed
from workbook.compare.model import compare, reasons_table
from workbook.compare.reasons import total_hours
from workbook.compare.sides import Side

NOTEBOOKS = Path(__file__).parents[1] / "notebooks"
MONO = "plans/mono-single-lines.toml"
COLOUR = "plans/colour-dual-band.toml"
MARKUP = "<img src=x onerror=alert(1)> & <b>shell</b>"
HA, OIII = "H-alpha 5 nm", "O III 5 nm"
SKY = ("sky", "zenith_brightness")
WIDTHS = [("filters", at, "passbands", 0, "width") for at in (0, 1)]
EVEN = {("routine", "background_flatness"): "perfect"}
# One change for each section that can be a reason.
CHANGES = {
    "darker": {SKY: "21 mag/arcsec2"},
    "wider": {("telescope", "aperture"): "150 mm"},
    "narrower": dict.fromkeys(WIDTHS, "3 nm"),
    "warm": {("camera", "temperature"): "15 deg_C"},
    "other gain": {("camera", "gain"): "low"},
}


@pytest.fixture
def mono():
    even = {("routine", "background_flatness"): "perfect"}  # so that only what a test changes ends an SNR
    return Plan.read(NOTEBOOKS / MONO).with_values(even)


@pytest.fixture
def colour():
    return Plan.read(NOTEBOOKS / COLOUR)


@pytest.fixture
def panel(demo_folder):
    return ComparePanel(MONO, demo_folder)


def said(left, right, same_h=10.0):
    return compare(Side.of(left), Side.of(right), same_h)


def clock_h(plan):
    return sum(one.clock_h for one in plan.solve().filters)


def rows(plan):
    return {row.filter_name: row for row in plan.solve().rows}


def times_of(headline):
    """Factor in the headline, whichever way it is said."""
    if found := re.search(r"([\d.]+) times fewer hours", headline):
        return float(found[1])
    return 1 / (1 - float(re.search(r"([\d.]+) % fewer hours", headline)[1]) / 100)


def test_a_plan_against_itself_is_no_difference(mono):
    found = said(mono, mono)
    assert found.words.headline.startswith("Both sides are the same")
    assert found.winner == ""
    assert found.reasons == ()


@pytest.mark.parametrize("change", CHANGES)
def test_the_winner_and_the_factor_are_those_of_the_solved_plans(mono, change):
    other = mono.with_values(CHANGES[change])
    found = said(mono, other)
    hours = {"left": clock_h(mono), "right": clock_h(other)}
    assert found.winner == min(hours, key=hours.get)
    # Whole subs are shot, two filters of at least 21 each.
    assert times_of(found.words.headline) == pytest.approx(max(hours.values()) / min(hours.values()), rel=0.05)


@pytest.mark.parametrize("change", CHANGES)
def test_swapping_the_sides_changes_names_only(mono, change):
    other = mono.with_values(CHANGES[change])
    one, turned = said(mono, other), said(other, mono)
    names = {"left": "right", "right": "left"}
    assert turned.winner == names[one.winner]
    swapped = re.sub("left|right", lambda side: names[side[0]], one.words.headline.lower())
    assert turned.words.headline.lower() == swapped
    assert turned.reasons == one.reasons


@pytest.mark.parametrize("change", CHANGES)
def test_a_single_difference_is_the_whole_reason(mono, change):
    other = mono.with_values(CHANGES[change])
    found = said(mono, other)
    (reason,) = found.reasons
    lights = Side.of(mono).lights
    hours = [total_hours(plan.case, plan.solve(), lights) for plan in (mono, other)]
    assert reason.times == pytest.approx(max(hours) / min(hours))
    assert f"because {reason.words}" in found.words.headline


def test_each_reason_is_the_plan_with_that_section_alone(mono):
    parts = {"sky": CHANGES["darker"], "telescope": CHANGES["wider"], "camera": CHANGES["warm"]}
    other = mono.with_values({where: value for part in parts.values() for where, value in part.items()})
    found = said(mono, other)
    assert found.winner == "right"
    lights = Side.of(mono).lights
    own = total_hours(other.case, other.solve(), lights)
    for reason in found.reasons:
        # The winner with the loser's section: every change but that one.
        kept = {where: value for name, part in parts.items() if name != reason.section for where, value in part.items()}
        alone = mono.with_values(kept)
        assert reason.times == pytest.approx(total_hours(alone.case, alone.solve(), lights) / own)
    assert {reason.section for reason in found.reasons} == set(parts)
    weights = [abs(math.log(reason.times)) for reason in found.reasons]
    assert weights == sorted(weights, reverse=True)
    assert dict((r.section, r.times) for r in found.reasons)["camera"] < 1  # the warm chip helps the other side
    assert all(section in found.words.others for section in parts)


def test_a_darker_sky_is_said_with_its_factor(mono):
    other = mono.with_values(CHANGES["darker"])
    words = said(mono, other).reasons[0].words
    ratio = rows(mono)[OIII].sky_e_s / rows(other)[OIII].sky_e_s
    assert words == f"its sky in {OIII} is {ratio:.1f} times darker"


def test_a_narrower_filter_is_a_darker_sky_in_it(mono):
    other = mono.with_values({WIDTHS[0]: "3 nm"})
    ratio = rows(mono)[HA].sky_e_s / rows(other)[HA].sky_e_s
    assert said(mono, other).reasons[0].words == (
        f"its sky in {HA} (now 3 nm) is {ratio:.1f} times darker, though it cuts off its N II"
    )


def test_a_wider_telescope_is_more_light_by_its_area(mono):
    words = said(mono, mono.with_values(CHANGES["wider"])).reasons[0].words
    number = float(re.fullmatch(r"it collects ([\d.]+) times more light of .* from the same patch of sky", words)[1])
    assert number == pytest.approx((150 / 102) ** 2, rel=0.03)


def test_a_warm_chip_is_dark_current(mono):
    other = mono.with_values(CHANGES["warm"])
    ratio = rows(other)[HA].dark_e_s / rows(mono)[HA].dark_e_s
    assert said(mono, other).reasons[0].words == f"its chip makes {ratio:.0f} times less dark current"


def test_another_gain_is_read_noise_squared(mono):
    words = said(mono, mono.with_values(CHANGES["other gain"])).reasons[0].words
    assert words == f"its read noise, squared, counts {(3.4 / 1.4) ** 2:.1f} times less"


def test_longer_pauses_are_the_routine(mono):
    found = said(mono, mono.with_values({("routine", "dead_time"): "120 s"}))
    assert found.winner == "left"
    assert found.reasons[0].words == "its routine and calibration cost less (dead time 2 s instead of 120 s)"


def test_pixels_do_not_win_by_themselves(mono):
    mono = mono.with_values(EVEN)
    # Where the sky makes the noise, the same patch has the same light and the same noise in any pixel.
    fine = mono.with_values({("camera", "pixel"): "3 um", SKY: "17 mag/arcsec2"})
    found = said(mono.with_values({SKY: "17 mag/arcsec2"}), fine)
    assert found.winner == ""
    assert found.words.headline.startswith("Hardly a difference")
    assert found.facts.rows[3][1:] == ("1.54″", "1.21″")


def test_a_cooler_chip_of_the_demo_plan_is_hardly_a_difference(mono):
    found = said(mono, mono.with_values({("camera", "temperature"): "-20 deg_C"}))
    assert found.words.headline.startswith("Hardly a difference")


def test_a_side_that_never_gets_there_loses(mono):
    hopeless = mono.with_values({("routine", "background_flatness"): 0.01})
    found = said(hopeless, mono)
    assert found.winner == "right"
    assert "left never reaches its goal" in found.words.headline
    assert math.isinf(found.reasons[0].times)
    assert found.pairs[0].left_h == math.inf
    assert found.facts.rows[0][1] == "never"
    headline = said(hopeless, hopeless).words.headline
    assert headline == f"Neither side reaches its goal in any number of hours: {HA} never does (nor does 1 other)."


def test_light_that_one_side_can_not_see_is_left_out_and_said(mono):
    alone = mono.with_values({("filters",): mono.values["filters"][:1]})
    found = said(mono, alone)
    assert "Left out, since right has no filter for it: O III." in found.words.basis
    assert found.winner == ""  # for H-alpha they are the same
    star = mono.with_values({("target", "light"): [{"star": "15 mag"}]})
    assert "no light in common" in said(mono, star).words.headline


def test_different_goals_are_minded(mono):
    assert "Mind that" in said(mono, mono.with_values({("goal", "snr"): 20})).words.basis
    assert "same 15″ patch" in said(mono, mono.with_values(CHANGES["warm"])).words.basis


def test_filters_of_other_names_are_matched_by_their_light(mono, colour):
    found = said(mono, colour)
    assert [pair.left.filter_name for pair in found.pairs] == [HA, OIII]
    assert {pair.right.filter_name for pair in found.pairs} == {"Dual 6 nm"}
    for side in ("left", "right"):
        assert [getattr(pair, side).light for pair in found.pairs] == ["H-alpha", "O III"]
    table = hours_table(Side.of(mono), Side.of(colour), 10.0)
    assert [row[1] for row in table.rows] == [HA, OIII]
    assert len(reasons_table(found).rows) == len(found.reasons) >= 5


def test_snr_after_the_planned_hours_is_the_goal(mono):
    row = rows(mono)[HA]
    words = dict((row[0], row[1:]) for row in said(mono, mono, row.clock_h).facts.rows)
    name = next(name for name in words if name.startswith("SNR after"))
    first, second = words[name][0].split(" / ")
    assert float(first.removeprefix("H-alpha ")) == pytest.approx(mono.case.goal.snr, rel=0.03)
    assert second.startswith("O III ")


def test_each_number_names_its_light_or_filter_where_there_are_several(mono):
    name = mono.case.filters[0].name
    other = mono.with_values({("sky", "measured"): {name: "0.01 electron/s"}, ("routine", "longest_sub"): None})
    facts = {row[0]: row[2] for row in said(mono, other, 4.0).facts.rows}
    lengths = [say_duration(one.sub_s) for one in other.solve().filters]
    assert lengths[0] != lengths[1]
    assert facts["Length of a sub"] == f"H-alpha 5 nm {lengths[0]} / O III 5 nm {lengths[1]}"
    both = mono.with_values({("filters", 1, "passbands", 0, "centre"): "656.3 nm"})
    snr = next(row[2] for row in said(mono, both, 4.0).facts.rows if row[0].startswith("SNR after"))
    assert [part.rpartition(" ")[0] for part in snr.split(" / ")] == ["H-alpha 5 nm, H-alpha", "O III 5 nm, H-alpha"]
    alone = mono.with_values({("filters",): [mono.values["filters"][0]]})
    snr = next(row[2] for row in said(mono, alone, 4.0).facts.rows if row[0].startswith("SNR after"))
    float(snr)


def test_snr_of_the_table_grows_with_the_root_of_the_hours(mono):
    clean = mono.with_values({("routine", name): "perfect" for name in ("darks", "flats")})
    side = Side.of(clean)
    few, many = (hours_table(side, side, hours).rows[0][4] for hours in (10, 40))
    assert float(many) / float(few) == pytest.approx(2, rel=0.05)


@pytest.mark.parametrize(
    ("change", "ratio"),
    [
        ({("telescope", "aperture"): "204 mm", ("telescope", "focal_length"): "1020 mm"}, 1.0),
        ({("camera", "pixel"): "7.6 um"}, 4.0),
        ({("camera", "gain"): "low"}, 1.0),
    ],
)
def test_a_measured_sky_goes_along_with_the_gear(mono, change, ratio):
    measured = mono.with_values({("sky", "measured"): {HA: "0.2 electron/s"}})
    other = changed(measured, change)
    assert rows(other)[HA].sky_e_s / 0.2 == pytest.approx(ratio, rel=1e-3)
    again = Plan.parse(other.to_toml(), other.folder)
    assert rows(again)[HA].sky_e_s == pytest.approx(rows(other)[HA].sky_e_s)


def test_a_measured_sky_is_scaled_in_swaps_too(mono):
    mono = mono.with_values(EVEN)
    measured = mono.with_values({("sky", "measured"): {HA: "0.2 electron/s", OIII: "0.3 electron/s"}})
    plain = said(mono, changed(mono, CHANGES["darker"])).reasons[0].times
    carried = said(measured, changed(measured, CHANGES["darker"])).reasons[0].times
    assert carried == pytest.approx(plain, rel=0.15)
    assert said(measured, changed(measured, CHANGES["wider"])).winner == "right"


def test_a_sky_that_the_loser_measured_comes_with_the_losers_gear(mono):
    wide = {("camera", "pixel"): "7.6 um"}  # four times the area, so 0.4 there is 0.1 here

    def under(rate):
        return {("sky", "measured"): dict.fromkeys((HA, OIII), f"{rate} electron/s")}

    found = said(mono.with_values(under(0.2)), mono.with_values(wide | under(0.4)))
    sky = next(reason for reason in found.reasons if reason.section == "sky")
    own, other = (mono.with_values(wide | under(rate)) for rate in (0.4, 0.8))
    lights = Side.of(mono).lights
    hours = [total_hours(plan.case, plan.solve(), lights) for plan in (own, other)]
    assert found.winner == "right"
    assert sky.times == pytest.approx(hours[1] / hours[0], rel=1e-3)
    assert sky.words.endswith("is 2 times darker")


def test_terms_are_weighed_by_what_they_do_to_the_hours(mono):
    # Two thirds of the light are (3/2)^2 = 2.25 of the hours. Read noise 12.8 times as large, squared, is larger as a
    # factor, but of a sixteenth of the noise it makes 1.7 of the hours.
    dull = {("camera", "quantum_efficiency"): 0.6, ("camera", "gains", "high", "read_noise"): "5 electron"}
    words = said(mono.with_values({("camera", "quantum_efficiency"): 0.9}), mono.with_values(dull)).reasons[0].words
    assert words.startswith("it collects 1.5 times more light of ")


def test_swaps_of_two_cameras_with_measured_skies_do_not_fail(mono, colour):
    left = mono.with_values({("sky", "measured"): {HA: "0.2 electron/s"}})
    right = colour.with_values({("sky", "measured"): {"Dual 6 nm": dict.fromkeys("RGB", "0.2 electron/s")}})
    assert len(said(left, right).reasons) >= 5


def test_numbers_hold_no_surprise_over_many_pairs(mono, colour):
    rng = np.random.default_rng(3)
    for _ in range(60):
        plan = (mono, colour)[rng.integers(2)]
        change = {
            SKY: f"{rng.uniform(17, 21.9):.2f} mag/arcsec2", ("sky", "bortle"): None,
            ("telescope", "aperture"): f"{rng.uniform(40, 300):.0f} mm",
            ("camera", "temperature"): f"{rng.uniform(-25, 25):.0f} deg_C",
        }  # fmt: skip
        found = said(mono, plan.with_values(change))
        assert not re.search("nan|inf|without limit", found.words.headline)
        assert all(reason.times > 0 and reason.words for reason in found.reasons)
        low, high = found.hours_reach
        hours = [hours for pair in found.pairs for hours in (pair.left_h, pair.right_h) if hours < math.inf]
        assert low < min(hours) <= max(hours) < high


def test_the_panel_opens_with_a_question_answered(panel):
    assert "Right wins" in panel.verdict.widget.value
    assert "times darker" in panel.verdict.widget.value
    hours = [say_duration(3600 * one.clock_h) for one in panel.left.found.filters]
    assert panel.pairs.marks["left"].data["words"] == [f"left {one}" for one in hours]
    assert "On the clock, all filters" in panel.facts.value


def test_a_change_on_the_right_leaves_the_left_alone(panel):
    left = panel.pairs.marks["left"].data
    before = panel.pairs.marks["right"].data["hours"]
    panel.numbers["aperture"].box.value = "15,3 cm"
    assert panel.pairs.marks["left"].data["hours"] == left["hours"]
    assert max(panel.pairs.marks["right"].data["hours"]) < min(before) * 1.05
    assert panel.numbers["aperture"].origin.value == "changed"
    assert panel.numbers["focal length"].origin.value == "as left"
    assert [words.split()[0] for words in panel.reasons.bars.data["words"]] == ["sky", "telescope"]


@pytest.mark.parametrize("name", KNOBS)
def test_every_knob_moves_something(panel, name):
    before = panel.right.plan
    slider = panel.numbers[name].slider
    slider.value = 3 if name == "bortle" else slider.value * (0.8 if slider.value > 0 else 1.2)
    assert panel.right.plan is not before
    assert panel.right.plan.values != before.values
    assert not panel.numbers[name].wrong.value


@pytest.mark.parametrize(
    ("name", "text", "wanted"),
    [
        ("aperture", "15 s", "convertible to mm"),
        ("sky", "23 mag/arcsec2", "zenith_brightness"),
        ("bortle", "12", "bortle"),
        ("pixel", "-3 um", "pixel"),
        ("read noise", "2 s", "convertible"),
        ("width", "0 nm", "width"),
    ],
)
def test_bad_input_leaves_a_sentence_and_the_last_figure(panel, name, text, wanted):
    shown = dict(panel.pairs.marks["right"].data), panel.verdict.widget.value, panel.right
    panel.numbers[name].box.value = text
    assert wanted in panel.numbers[name].wrong.value
    assert (dict(panel.pairs.marks["right"].data), panel.verdict.widget.value, panel.right) == shown


@pytest.mark.parametrize("text", ["0 h", "-3 h", "10 mm", "20000 h", "3 m"])
def test_hours_to_compare_after_are_checked(panel, text):
    before = panel.facts.value
    panel.hours.box.value = text
    assert panel.hours.wrong.value
    assert panel.facts.value == before
    panel.hours.box.value = "90 min"
    assert not panel.hours.wrong.value
    assert "SNR after 1.5 h each" in panel.facts.value


def test_gain_filter_and_buttons(panel):
    panel.gain.menu.value = "low"
    assert panel.right.case.camera.gain == "low"
    assert panel.gain.origin.value == "changed"
    panel.filter.menu.value = OIII
    panel.numbers["width"].box.value = "3 nm"
    assert [float(one.passbands[0].width.value) for one in panel.right.case.filters] == [5, 3]
    changed_plan, names = panel.right.plan, (panel.left_row.name.value, panel.right_row.name.value)
    panel.swap.click()
    assert panel.left.plan is changed_plan
    assert (panel.right_row.name.value, panel.left_row.name.value) == names
    panel.again.click()
    assert panel.right is panel.left
    assert "Both sides are the same" in panel.verdict.widget.value


def test_sides_of_other_filters_swap_and_what_was_said_of_their_files_goes(panel):
    panel.right_row.name.value = "plans/colour-dual-band.toml"
    panel.right_row.load.click()
    assert "Loaded plans/colour-dual-band.toml." in panel.right_row.said.value
    assert panel.filter.menu.value == "Dual 6 nm"
    left, right = panel.left.case, panel.right.case
    panel.swap.click()
    assert (panel.left.case, panel.right.case) == (right, left)
    assert panel.filter.menu.value == HA
    assert (panel.left_row.said.value, panel.right_row.said.value) == ("", "")
    panel.swap.click()
    assert (panel.left.case, panel.right.case) == (left, right)
    assert panel.filter.menu.value == "Dual 6 nm"


def test_another_plan_loads_on_the_right_and_a_changed_one_is_saved(panel, tmp_path):
    panel.numbers["aperture"].box.value = "80 mm"
    panel.right_row.save.click()
    assert float(Plan.read(tmp_path / "plans" / "right.toml").case.telescope.aperture.value) == 80
    panel.right_row.name.value = COLOUR
    panel.right_row.load.click()
    assert "colour camera" in panel.right_row.title.value
    assert panel.filter.menu.options == (("Dual 6 nm", "Dual 6 nm"),)
    assert "Dual 6 nm" in panel.pairs.labels.data["label"][0]
    panel.left_row.load.click()
    assert "Both sides are the same" in panel.verdict.widget.value


def test_a_plan_that_can_not_be_solved_is_refused_whole(panel, tmp_path):
    text = (tmp_path / COLOUR).read_text(encoding="utf-8")
    bad = text.replace('"back-lit mono"', "[[600, 0.5], [700, 0.5]]")
    (tmp_path / "plans" / "bad.toml").write_text(bad, encoding="utf-8")
    with pytest.raises(PlanError):
        Plan.read(tmp_path / "plans" / "bad.toml").solve()
    shown = panel.right, panel.verdict.widget.value
    panel.right_row.name.value = "plans/bad.toml"
    panel.right_row.load.click()
    assert 'class="expo-wrong"' in panel.right_row.said.value
    assert (panel.right, panel.verdict.widget.value) == shown


def test_titles_and_names_are_only_text(panel, tmp_path):
    text = (tmp_path / MONO).read_text(encoding="utf-8").replace("Faint shell from a town garden, mono camera", MARKUP)
    (tmp_path / "plans" / "odd.toml").write_text(text.replace(HA, "<b>Ha</b>"), encoding="utf-8")
    panel.right_row.name.value = "plans/odd.toml"
    panel.right_row.load.click()
    for table in (panel.hours_table, panel.reasons_table):
        table.button.value = True
    bodies = (panel.hours_table.body, panel.reasons_table.body)
    widgets = (panel.right_row.title, panel.verdict.widget, panel.facts, *bodies)
    assert "&lt;img" in panel.right_row.title.value
    assert not any("<img" in widget.value or "<b>" in widget.value for widget in widgets)


def test_tables_behind_the_figures_follow(panel):
    for table in (panel.hours_table, panel.reasons_table):
        table.button.value = True
    before = panel.hours_table.body.value
    panel.numbers["aperture"].box.value = "150 mm"
    assert panel.hours_table.body.value != before
    assert "telescope" in panel.reasons_table.body.value


def test_two_panels_do_not_share_anything(tmp_path, panel):
    other = ComparePanel(MONO, tmp_path)
    panel.numbers["aperture"].box.value = "150 mm"
    assert float(other.right.case.telescope.aperture.value) == 102


def with_nitrogen(plan, width, share):
    lights = [{"line": "H-alpha", "brightness": "12 R", "companions": {"N II": share}}]
    ours = {**plan.values["filters"][0], "passbands": [{"centre": "656.3 nm", "width": width}]}
    return plan.with_values({("target", "light"): lights, ("filters",): [ours]})


def test_a_filter_that_cuts_off_a_line_says_so(mono):
    """N II at 658.4 nm passes 7 nm around 656.3, not 3 nm: it is said whether that is the reason or speaks against."""
    against = said(*(with_nitrogen(mono, width, 0.1) for width in ("7 nm", "3 nm")))
    assert against.winner == "right"
    assert "though it cuts off its N II" in against.reasons[0].words
    wide, narrow = (with_nitrogen(mono, width, 0.8) for width in ("7 nm", "3 nm"))
    because = said(wide, narrow)
    assert because.winner == "left"
    assert "passes its N II too" in because.reasons[0].words
    same = said(wide.with_values({("goal", "snr"): 5}), wide)
    assert all("N II" not in reason.words for reason in same.reasons)


def test_the_light_that_sets_the_hours_gives_the_reason(mono):
    """O III alone sets the hours of a dual band; a camera with far more dark current is judged for it."""
    dual = {
        "name": "dual",
        "passbands": [{"centre": "656.3 nm", "width": "5 nm"}, {"centre": "500.7 nm", "width": "5 nm"}],
    }
    lights = [{"line": "H-alpha", "brightness": "200 R"}, {"line": "O III", "brightness": "5 R"}]
    plan = mono.with_values({("target", "light"): lights, ("filters",): [dual], **EVEN})
    larger = plan.with_values({("telescope", "aperture"): "130 mm", ("telescope", "focal_length"): "650 mm"})
    assert "of O III" in said(plan, larger).reasons[0].words


DARK = {("sky", "bortle"): None, SKY: "21.5 mag/arcsec2"}
LINES_AND_HALO = {
    ("target", "light"): [
        {"line": "H-alpha", "brightness": "12 R"},
        {"continuum": "26.5 mag/arcsec2", "snr": 5, "patch": "60 arcsec"},
    ],
    ("filters",): [
        {"name": "lines", "wanted": ["H-alpha"], "passbands": [{"centre": "656.3 nm", "width": "7 nm"}]},
        {"name": "broad", "wanted": ["continuum"], "passbands": [{"centre": "550 nm", "width": "280 nm"}]},
    ],
}


def test_a_darker_sky_is_the_reason_even_where_the_other_never_gets_there(colour):
    """What calibration leaves grows with the sky, and is all the noise of endless hours; but the sky differs."""
    bright = {("sky", "bortle"): 7, ("telescope", "aperture"): "81 mm"}  # so the star that must not fill asks for 11 s
    left = Side.of(colour.with_values(LINES_AND_HALO).with_values(bright))
    assert left.found.filters[1].clock_h is None
    found = compare(left, Side.of(left.plan.with_values(DARK)), 10.0)
    assert found.winner == "right"
    (reason,) = found.reasons
    assert "sky" in reason.words
    assert "calibration" not in found.words.headline


def test_each_lights_own_goal_is_said(colour):
    side = Side.of(colour.with_values(LINES_AND_HALO))
    said = compare(side, side, 10.0).words.basis
    assert "until SNR 10 in the same 30″ patch for H-alpha; SNR 5 in the same 60″ patch for continuum, under" in said
    other = Side.of(side.plan.with_values({("target", "light", 1, "snr"): 6}))
    assert "different SNR" in compare(side, other, 10.0).words.basis


def test_who_never_gets_there_is_named_and_its_words_stand_once(mono):
    side = Side.of(mono.with_values({("target", "light", 1, "brightness"): "0.01 R"}))
    found = compare(side, side, 10.0)
    assert found.words.headline == f"Neither side reaches its goal in any number of hours: {OIII} never does."
    figure = PairsFigure(found)
    words = [*figure.marks["left"].data["words"], *figure.marks["right"].data["words"]]
    assert words.count("both never") == 1
    assert words.count("") == 1


SKY_17 = {("sky", "zenith_brightness"): "16.6 mag/arcsec2"}
UNEVEN = {("routine", "background_flatness"): 0.004}


@pytest.fixture
def within_reach(mono):
    """A plan that reaches its goal, O III last, and under a brighter sky or with a more uneven background no more."""
    lights = [{"line": "H-alpha", "brightness": "12 R"}, {"line": "O III", "brightness": "8 R"}]
    plan = mono.with_values({("target", "light"): lights, ("routine", "background_flatness"): 0.0003})
    assert [one.clock_h is None for one in plan.solve().filters] == [False, False]
    for out in (SKY_17, UNEVEN):
        assert [one.clock_h is None for one in plan.with_values(out).solve().filters] == [True, True]
    return plan


@pytest.mark.parametrize("order", [1, -1])
def test_of_filters_that_get_out_of_reach_the_one_that_took_most_hours_gives_the_reason(within_reach, order):
    plan = within_reach.with_values({("filters",): within_reach.values["filters"][::order]})
    assert max(plan.solve().filters, key=lambda one: one.clock_h).filter_name == OIII
    assert f"because its sky in {OIII} is" in said(plan, plan.with_values(SKY_17)).words.headline


def test_what_is_enough_by_itself_is_said_beside_the_reason(within_reach):
    """A sky and a background that each keep the other side from its goal; one of them alone names no other."""
    for changes, count in ((SKY_17, 1), (UNEVEN, 1), (SKY_17 | UNEVEN, 2)):
        found = said(within_reach, within_reach.with_values(changes))
        enough = [reason.section for reason in found.reasons if math.isinf(reason.times)]
        assert len(enough) == count
        assert "mostly" not in found.words.headline
        if count == 1:
            assert "alone" not in found.words.headline
        else:
            assert found.words.headline.endswith(f"; right's {enough[1]} alone would do the same.")


def test_words_of_a_side_that_never_gets_there_cover_no_mark(mono):
    found = said(mono, mono.with_values({("routine", "background_flatness"): 0.004}))
    figure = PairsFigure(found)
    never = figure.marks["right"].data
    assert {words for words in never["words"]} == {"right never"}
    assert set(never["align"]) == {"left"}
    assert figure._figure.min_border_right >= 6.9 * len("right never") + 11
    figure.show(said(mono, mono))
    assert figure._figure.min_border_right == 20
