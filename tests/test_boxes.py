"""Every numeric box of every panel takes what people type, and refuses the rest in a sentence that names the box."""

import html
import math
import re
import runpy
import shutil
from pathlib import Path

import numpy as np
import pytest

from expocalc.light.instruments import sky_readings
from expocalc.plan import Plan
from workbook.compare.view import ComparePanel
from workbook.explore.hours_map import SKY, map_table
from workbook.explore.model import map_steps
from workbook.explore.view import MapFigure
from workbook.hours.view import HoursPanel
from workbook.night.view import NightPanel
from workbook.parts.controls import Number
from workbook.parts.reading import zenith_reading
from workbook.parts.units import METRIC, Units, keep_units, use_units
from workbook.sheets.card import SKIES, to_card
from workbook.sheets.night import night
from workbook.sub_length.view import SubLengthPanel

PLAIN = runpy.run_path(str(Path(__file__).with_name("on_screen.py")))["plain"]

PANELS = {"sub length": SubLengthPanel, "hours": HoursPanel, "night": NightPanel, "compare": ComparePanel}
NONSENSE = ["<b>x</b>", "five", "nan", "inf", "1e400", "1,000", "5 5", "5 mol", "\x1b[31m", "--3"]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Each panel with all its numbers; one for all tests, as each leaves the values as they were."""
    folder = tmp_path_factory.mktemp("mine")
    plans = Path(__file__).parents[1] / "notebooks" / "plans"
    shutil.copytree(plans, folder / "plans", ignore=shutil.ignore_patterns(".*"))
    found, plain = {}, Number.__init__
    with pytest.MonkeyPatch.context() as patch:
        for name, panel in PANELS.items():
            numbers = []

            def record(self, *given, _numbers=numbers, **named):
                plain(self, *given, **named)
                _numbers.append(self)

            patch.setattr(Number, "__init__", record)
            one = panel("plans/mono-single-lines.toml", folder)
            found[name] = (one, [number for number in numbers if number.box.value])
    return found


def controls(made):
    for name, (panel, numbers) in made.items():
        assert len(numbers) > 5, name
        for number in numbers:
            yield panel, number


def wrong(number):
    return html.unescape(re.sub("<[^>]*>", "", number.wrong.value))


def put_back(number, text):
    """The text as it was, without asking for anything."""
    number._showing = True
    number.box.value = text
    number._showing = False
    number.forgive()


def typed(number, text):
    """Type a text; what the box says is wrong, or nothing."""
    number.forgive()
    number.box.value = text
    return wrong(number)


def test_nonsense_names_the_box_and_leaves_the_value(made):
    seen = 0
    for _, number in controls(made):
        before, turn = number.box.value, number._turn
        for text in NONSENSE:
            said = typed(number, text)
            assert said, (number.knob.label, text)
            assert re.search(re.escape(number.knob.label) + "|brightness|star|continuum", said), (text, said)
            assert "<b>" not in number.wrong.value
            assert said.count("\n") == 0
            assert number._turn == turn, "the value is as it was"
            seen += 1
        put_back(number, before)
    assert seen > 200


def test_a_bare_number_means_the_unit_that_the_box_shows_and_a_comma_is_a_point(made):
    for panel, number in controls(made):
        shown = number.box.value
        bare = re.fullmatch(r"(-?[\d.]+)\s*(\D*)", shown)
        if not bare:  # "perfect", "no limit", "5 to 6"
            continue
        plan = lambda panel=panel: getattr(panel, "plan", None) or panel.right.plan  # noqa: E731
        value = number.knob.read(shown)
        for text in (bare[1], shown.replace(".", ","), f"  {shown} ", shown.replace("²", "2")):
            if re.search(r"\d,\d{3}(?!\d)", text):  # thousands or decimals: nobody knows
                continue
            assert math.isclose(number.knob.read(text), value, rel_tol=1e-9, abs_tol=1e-12), (number.knob.label, text)
        before = plan().case
        said = typed(number, bare[1])
        assert said == "", (number.knob.label, said)
        assert number.box.value == shown, number.knob.label
        assert plan().case.title == before.title


def test_none_is_taken_where_there_may_be_none_and_refused_elsewhere(made):
    for _, number in controls(made):
        may = bool(number.knob.without) or number.knob.label in ("Darks", "Flats", "Uneven background")
        if may:
            number.knob.read("none")
            continue
        with pytest.raises((TypeError, ValueError), match=re.escape(number.knob.label) + "|brightness|star|continuum"):
            number.knob.read("none")


@pytest.mark.parametrize(
    ("label", "text", "shown"),
    [
        ("Temperature", "14 °F", "-10 °C"),
        ("Temperature", "263.15 K", "-10 °C"),
        ("Temperature", "−10 °C", "-10 °C"),
        ("Aperture", "4 inch", "101.6 mm"),
        ("Aperture", "10,2 cm", "102 mm"),
        ("Mount's longest sub", "no limit", "no limit"),
        ("Mount's longest sub", "5 min", "300 s"),
        ("Sky at the zenith", "19,5 mag/arcsec²", "19.5 mag/arcsec²"),
        ("Pause after a sub", "1500 ms", "1.5 s"),
    ],
)
def test_what_people_type(demo_folder, label, text, shown):
    panel = SubLengthPanel("plans/mono-single-lines.toml", demo_folder)
    number = next(one for one in panel.numbers.values() if one.knob.label == label)
    number.box.value = text
    assert wrong(number) == ""
    assert number.box.value == shown


def test_a_luminance_typed_among_magnitudes_is_a_luminance(demo_folder):
    panel = SubLengthPanel("plans/mono-single-lines.toml", demo_folder)
    panel.numbers["sky"].box.value = "2,5 mcd/m²"
    assert panel.plan.values["sky"]["luminance"] == "2.5 mcd/m2"
    assert 1000 * sky_readings(panel.plan.case.sky).luminance_cd_m2 == pytest.approx(2.5)
    assert panel.numbers["sky"].box.value == f"{zenith_reading(panel.plan.case.sky):.4g} mag/arcsec²"


def plainly(panel):
    """The verdict with plain spaces where lines may not end."""
    return PLAIN(panel.verdict.widget.value)


def test_all_pages_show_the_units_that_were_chosen(demo_folder):
    try:
        keep_units(demo_folder, Units(length="inch", sky="mcd/m2"))
        use_units(METRIC)  # another kernel
        for name, panel in PANELS.items():
            made_ = panel("plans/mono-single-lines.toml", demo_folder)
            sky = made_.numbers["sky"]
            assert sky.box.value.endswith(" mcd/m²"), name
            sky.box.value = "3"
            assert wrong(sky) == ""
            assert sky.box.value == "3.00 mcd/m²"
            plan = getattr(made_, "plan", None) or made_.right.plan
            assert plan.values["sky"]["luminance"] == "3 mcd/m2"
            said = plainly(made_)
            assert "mag/arcsec" not in said, name
            assert " mag darker" not in said, name
            if "aperture" in made_.numbers:
                assert made_.numbers["aperture"].box.value.endswith(" inch"), name
        hours = HoursPanel("plans/mono-single-lines.toml", demo_folder)
        assert " mcd/m²" in plainly(hours)
        assert "4.016 inch at f/5" in plainly(hours)
        assert "2.5 times darker" in plainly(hours)
        sub = SubLengthPanel("plans/mono-single-lines.toml", demo_folder)
        assert "a sky of " in plainly(sub)
        assert " mcd/m²" in plainly(sub)
    finally:
        use_units(METRIC)


@pytest.mark.parametrize("units", [METRIC, Units(length="inch", sky="mcd/m2")])
def test_sheets_card_and_map_follow_the_units(units):
    plan = Plan.read(Path(__file__).parents[1] / "notebooks/plans/mono-single-lines.toml")
    found = plan.solve()
    luminance = 1000 * sky_readings(plan.case.sky).luminance_cd_m2
    use_units(units)
    try:
        said = night(plan.case, found, plan.spread(found))
        card = html.unescape(to_card(plan, found, plan.spread(found)))
        steps = map_steps(plan, "H-alpha 5 nm", SKY)
        while True:
            try:
                next(steps)
            except StopIteration as end:
                shown = end.value
                break
        axis = MapFigure(shown)._figure.yaxis[0]
        table = map_table(shown)
    finally:
        use_units(METRIC)
    heads = [float(word) for word in re.findall(r'<th scope="col"[^>]*>([\d.]+)</th>', card)[: len(SKIES)]]
    framed = float(re.search(r'<th scope="col" class="marked">([\d.]+)</th>', card)[1])
    if units == METRIC:
        assert (said.gear[:6], said.sky[:18]) == ("102 mm", "19.10 mag/arcsec² ")
        assert "102 mm at" in card
        assert "Sky overhead in mag/arcsec² by meter; the framed column is nearest to the plan's 19.10." in card
        assert (heads, framed) == (list(SKIES), 19.0)
        assert axis.axis_label == "darker ↑  mag/arcsec² by meter"
        assert table.rows[0][0] == "16.50"
        return
    assert said.gear.startswith("4.016 inch at f/5")
    assert float(said.sky.removesuffix(" mcd/m² overhead, from a reading in meter")) == pytest.approx(
        luminance, rel=5e-3
    )
    assert "4.016 inch at f/5" in card
    assert "Sky overhead in mcd/m²; the framed column is nearest to the plan's" in card
    assert not re.search(r"mag/arcsec|\bmm\b", said.sky + said.gear + card)
    at_plan = [luminance * 10 ** (0.4 * (19.1 - mag)) for mag in SKIES]
    assert heads[:5] == pytest.approx(at_plan[:5], rel=0.05)
    assert heads == pytest.approx(at_plan, rel=0.3)  # a meter counts stars too, which matters where it is dark
    assert framed == heads[list(SKIES).index(19.0)]
    assert axis.axis_label == "darker ↑  mcd/m²"
    ticks = {float(word): place for place, word in axis.major_label_overrides.items()}
    assert {0.3, 1, 3, 10} <= set(ticks)
    place = np.interp(-math.log(luminance), -np.log(sorted(ticks, reverse=True)), sorted(ticks.values()))
    assert place == pytest.approx(shown.up_here, abs=0.1)
    assert [float(row[0]) for row in table.rows] == sorted((float(row[0]) for row in table.rows), reverse=True)
    assert np.interp(19.1, shown.up, shown.luminance) == pytest.approx(luminance, rel=0.02)


def test_a_new_reading_drops_what_the_old_one_may_have_been_off_by(demo_folder):
    for name in ("sub length", "hours", "night"):
        panel = PANELS[name]("plans/mono-single-lines.toml", demo_folder)
        panel._load(panel.plan.with_values({("sky", "brightness_error"): "0.02 mag/arcsec2"}))
        panel.numbers["sky"].box.value = "20 mag/arcsec2"
        assert "brightness_error" not in panel.plan.values["sky"], name
        assert float(panel.plan.case.sky.brightness_error.value) == 0.2, "a meter's usual error"
