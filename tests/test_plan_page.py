"""The plan page without a browser: a plan is made from nothing, kept while it is not complete, and answered."""

import re

import ipywidgets as w
import pytest

from expocalc.base.field import fields_of
from expocalc.base.words import say_duration
from expocalc.gear.camera import Camera
from expocalc.plan import Plan
from workbook.parts.plan_files import DEMO
from workbook.parts.plan_store import PlanStore
from workbook.parts.units import Units, use_units
from workbook.plan import PlanPage

REFRACTOR = {
    "Sky and place": {"Bortle class": "7"},
    "Telescope": {"Aperture": "81", "Focal length": "f/5,9", "Reducer or extender": "0,8"},
    "Camera": {
        "Pixel": "3,76", "Columns": "6248", "Rows": "4176", "Mono or colour": "RGGB",
        "Quantum efficiency": "back-lit colour",
        "Temperature": "14 °F", "Dark current": "0.002", "At a sensor of": "-10", "It doubles every": "6",
    },
}  # fmt: skip
GAIN = {"Read noise": "1.5 e-", "Electrons per ADU": "0,25", "Full well": "16000"}


@pytest.fixture
def page(demo_folder):
    return PlanPage(folder=demo_folder)


def boxes(root):
    """Inputs of the form by their label, the later one of two counts."""
    found, waiting = {}, [root]
    while waiting:
        one = waiting.pop(0)
        if isinstance(one, w.Box):
            waiting = [*one.children, *waiting]
        elif isinstance(one, w.Text | w.Dropdown | w.Combobox) and one.description:
            found[one.description] = one
    return found


def press(root, word):
    """Press the last button of that name."""
    found, waiting = [], [root]
    while waiting:
        one = waiting.pop(0)
        if isinstance(one, w.Box):
            waiting = [*one.children, *waiting]
        elif isinstance(one, w.Button) and word in one.description:
            found.append(one)
    found[-1].click()


def fill(page, group, given):
    page._groups[group].open(True)
    for label, text in given.items():
        boxes(page._stage)[label].value = text
    page._groups[group].open(False)


def make(page):
    """The first project: refractor with reducer, colour camera, dual band."""
    page.plan_row.new.click()
    for group, given in REFRACTOR.items():
        fill(page, group, given)
    page._groups["Camera"].open(True)
    press(page._stage, "Add a gain")
    fill(page, "Camera", GAIN)
    page._groups["Filters"].open(True)
    boxes(page._stage)["Kind of filter"].value = "Dual band, H-alpha and O III"
    press(page._stage, "Add this filter")
    page._groups["Filters"].open(False)
    page._groups["Target and its light"].open(True)
    press(page._stage, "Add a line")
    fill(page, "Target and its light", {"Brightness": "15"})


def test_a_plan_is_made_from_nothing(page, demo_folder):
    make(page)
    assert page.said.headline.startswith("SNR 10 takes "), page.said
    plan = Plan.read(demo_folder / "plans/my-plan.toml")
    assert plan.values["sky"] == {"bortle": 7}
    assert plan.values["telescope"] == {"aperture": "81 mm", "focal_length": "382.32 mm", "reducer": 0.8}
    assert plan.case.telescope.focal_ratio == pytest.approx(5.9 * 0.8)
    assert plan.case.camera.temperature.value == -10
    assert plan.case.camera.mosaic == "RGGB"
    assert [f.name for f in plan.case.filters] == ["Dual 7 nm"]
    hours = sum(one.clock_h for one in plan.solve().filters)
    assert say_duration(3600 * hours) in page.said.headline
    assert not page.store.unsaved
    assert not list((demo_folder / "plans").glob(".*.sketch"))


def test_what_is_usual_stands_there_until_ones_own_does(page):
    """Efficiency beside a pixel and doubling beside a dark current; nothing that is given or ruled out is touched."""
    page.plan_row.new.click()
    page._groups["Camera"].open(True)
    box = boxes(page._stage)
    box["Pixel"].value = "3,76"
    camera = page.store.values["camera"]
    assert camera == {"pixel": "3.76 um", "quantum_efficiency": "back-lit mono"}
    box = boxes(page._stage)
    assert box["Quantum efficiency"].value == "back-lit mono"
    efficiency = next(one for one in fields_of(Camera) if one.name == "quantum_efficiency")
    assert page.box(efficiency, ("camera",)).state == "usual"
    box["Quantum efficiency"].value = "0.7"
    boxes(page._stage)["Pixel"].value = "3,8"
    assert page.store.values["camera"]["quantum_efficiency"] == 0.7
    assert page.box(efficiency, ("camera",)).state == "given"
    boxes(page._stage)["Dark current"].value = "0,002"
    assert page.store.values["camera"]["dark_current"] == {"rate": "0.002 electron/s", "doubles_every": "6 K"}
    page.change({("camera", "dark_current"): {"activation": "0.6 eV"}})
    boxes(page._stage)["Dark current"].value = "0,002"
    assert "doubles_every" not in page.store.values["camera"]["dark_current"]


def wrong(root):
    """Sentences about bad input that stand in the form."""
    found, waiting = [], [root]
    while waiting:
        one = waiting.pop(0)
        if isinstance(one, w.Box):
            waiting = [*one.children, *waiting]
        elif isinstance(one, w.HTML) and "expo-wrong" in one.value:
            found.append(one.value)
    return found


def test_what_is_typed_is_back_and_undone_step_by_step(page, demo_folder):
    page.plan_row.new.click()
    fill(page, "Sky and place", {"Bortle class": "6-7"})
    fill(page, "Telescope", {"Aperture": "3,2 in"})
    again = PlanPage(folder=demo_folder)
    assert again.store.name == "plans/my-plan.toml"
    assert again.values["telescope"] == {"aperture": "81.28 mm"}
    assert again.said.headline == page.said.headline == "For an answer 11 things are missing."
    assert "What you typed is back" in again.plan_row.said.value
    page.plan_row.undo.click()
    page.plan_row.undo.click()
    assert page.values == {}
    assert page.plan_row.undo.disabled
    assert PlanPage(folder=demo_folder).values == {}


def test_other_pages_open_the_demo_until_the_plan_is_complete(page, demo_folder):
    page.plan_row.new.click()
    assert PlanStore(demo_folder).name == DEMO
    page._groups["Sky and place"].open(False)
    make(page)
    assert PlanStore(demo_folder).name == page.store.name == "plans/my-plan-2.toml"


def test_saving_a_sketch_says_what_it_needs_and_takes_a_name(page, demo_folder):
    page.plan_row.new.click()
    fill(page, "Sky and place", {"Bortle class": "7"})
    page.plan_row.name.value = "tonight"
    page.plan_row.save.click()
    assert "plans/tonight.toml is not complete yet: it still needs Telescope: aperture" in page.plan_row.said.value
    assert PlanPage(folder=demo_folder).values == {"sky": {"bortle": 7}}
    page.plan_row.name.value = "mono-single-lines"
    page.plan_row.save.click()
    assert "holds another plan" in page.plan_row.said.value
    page.plan_row.copy.click()
    assert "is not complete yet" in page.plan_row.said.value


def test_a_complete_plan_that_loses_something_waits_and_its_file_stays(page, demo_folder):
    page.plan_row.copy.click()
    name = page.store.name
    text = (demo_folder / name).read_text()
    fill(page, "Telescope", {"Aperture": ""})
    assert page.said.headline == "For an answer 1 thing is missing."
    assert page.said.rest == ("Telescope: aperture.",)
    assert (demo_folder / name).read_text() == text
    assert Plan.read(demo_folder / name).values == page.store.plan.values
    again = PlanPage(folder=demo_folder)
    assert again.said.rest == page.said.rest
    fill(again, "Telescope", {"Aperture": "90"})
    assert again.said.answer is not None
    assert again.store.unsaved
    assert "3 h" not in again.said.headline
    again.plan_row.undo.click()
    assert again.values["telescope"]["aperture"] == "102 mm"


def test_a_number_and_its_unit_stand_on_one_line(demo_folder):
    demo = PlanPage("plans/mono-single-lines.toml", demo_folder)
    (first, second) = demo.store.plan.solve().filters
    text = demo.about.value
    for one in (first, second):
        assert f"{one.shot:.0f}\N{NO-BREAK SPACE}subs of 5\N{NO-BREAK SPACE}min" in text
    assert not re.search(r"\d (?:subs?|min|h|s|%)(?!\w)", text)


def test_a_demo_is_never_written(page, demo_folder):
    before = {path.name: path.read_bytes() for path in (demo_folder / "plans").glob("*.toml")}
    fill(page, "Telescope", {"Aperture": "90", "Focal length": ""})
    page.plan_row.save.click()
    assert "expo-wrong" in page.plan_row.said.value
    assert {path.name: path.read_bytes() for path in (demo_folder / "plans").glob("*.toml")} == before


def test_bad_input_stays_in_its_box_beside_a_sentence(page):
    page._groups["Telescope"].open(True)
    before, headline = dict(page.values), page.said.headline
    for text, words in (
        ("<b>", "&lt;b&gt;"),
        ("5000 in", "5000 in"),
        ("0.1 mm", "0.5 to 1000 times the aperture"),
        ("nan mm", "finite"),
    ):
        box = boxes(page._stage)["Aperture"]
        box.value = text
        assert box.value == text
        assert words in " ".join(wrong(page._stage)), text
        assert "<b>wide" not in " ".join(wrong(page._stage))
    assert (dict(page.values), page.said.headline) == (before, headline)
    boxes(page._stage)["Aperture"].value = "102"
    assert not wrong(page._stage)
    assert boxes(page._stage)["Aperture"].value == "102 mm"


def test_a_sketch_whose_parts_do_not_go_together_says_so(page):
    page.plan_row.copy.click()
    fill(page, "Telescope", {"Focal length": ""})
    fill(page, "Telescope", {"Obstruction": "200"})
    assert page.said.headline == "For an answer 1 thing is missing."
    fill(page, "Telescope", {"Focal length": "500"})
    assert page.said.headline == "Not complete yet: two things don't go together."
    assert "obstruction must be smaller than the aperture" in page.said.rest[0]
    fill(page, "Telescope", {"Obstruction": "30"})
    assert page.said.answer is not None


@pytest.mark.parametrize("broken", ["", "{", "[]", '{"sections": 3, "gone": []}', '{"sections": {"sky": 3}}', "\udcff"])
def test_a_broken_sketch_is_passed_over(demo_folder, broken):
    path = demo_folder / "plans" / ".mono-single-lines.toml.sketch"
    path.write_bytes(broken.encode(errors="surrogateescape"))
    assert PlanPage(folder=demo_folder).said.answer is not None


def test_filters_and_lights_come_and_go(page):
    page.plan_row.copy.click()
    page._groups["Filters"].open(True)
    press(page._stage, "Add this filter")
    assert [one["name"] for one in page.values["filters"]] == ["H-alpha 5 nm", "O III 5 nm", "H-alpha 7 nm"]
    press(page._stage, "Copy this filter")
    assert page.values["filters"][-1]["name"] == "H-alpha 7 nm copy"
    boxes(page._stage)["Width"].value = "odd"
    press(page._stage, "Add this filter")
    assert "odd" in " ".join(wrong(page._stage))
    assert len(page.values["filters"]) == 4
    for _ in range(4):
        if not [one for one in page._groups["Filters"]._parts[0]._folds if one.opened]:
            page._groups["Filters"]._parts[0]._folds[0].open(True)
        press(page._stage, "Take this filter out")
    assert "filters" not in page.values
    assert page.said.rest == ("Filters: a filter.",)
    page.plan_row.undo.click()
    assert len(page.values["filters"]) == 1


def test_a_looked_up_light_takes_its_kinds_place(page):
    page.plan_row.copy.click()
    page._groups["Target and its light"].open(True)
    boxes_of_page = page._groups["Target and its light"]
    adder = next(part._add for part in boxes_of_page._parts[1]._parts if hasattr(part, "_add"))
    adder._look_up.name.box.value = "NGC 2237, Rosette Nebula"
    adder._look_up.button.click()
    lines = [light["line"] for light in page.values["target"]["light"]]
    assert lines == ["H-alpha", "O III"]
    assert page.values["target"]["light"][0]["brightness"] == "900 R"


def test_several_gains_ask_which_is_used(page):
    page.plan_row.copy.click()
    page._groups["Camera"].open(True)
    press(page._stage, "Add a gain")
    assert set(page.values["camera"]["gains"]) == {"high", "low", "gain 1"}
    assert "read noise of gain 1" in page.said.rest[0]
    page._groups["Camera"].open(False)
    fill(page, "Camera", {"Gain in use": "low"})
    assert page.values["camera"]["gain"] == "low"


def test_units_of_the_user(page, demo_folder):
    row = page.widget.children[-1]
    row.children[0].value = "inch"
    page._groups["Telescope"].open(True)
    assert boxes(page._stage)["Aperture"].value == "4.01575 inch"
    boxes(page._stage)["Aperture"].value = "4"
    assert page.values["telescope"]["aperture"] == "101.6 mm"
    row.children[1].value = "mcd/m2"
    page._groups["Sky and place"].open(True)
    assert "mcd/m2" in boxes(page._stage)["Luminance"].placeholder
    boxes(page._stage)["Luminance"].value = "2.5"
    assert page.values["sky"]["luminance"] == "2.5 mcd/m2"
    assert "zenith_brightness" not in page.values["sky"]
    other = PlanPage(folder=demo_folder)
    assert other.units == Units(length="inch", sky="mcd/m2")
    use_units(Units())


def test_a_page_left_and_opened_again_leaves_no_widgets_behind(page):
    page._groups["Camera"].open(True)
    page._groups["Camera"].open(False)
    before = len(w.widgets.widget._instances)
    for name in (*page._groups, *page._groups):
        page._groups[name].open(True)
        page._groups[name].open(False)
    assert len(w.widgets.widget._instances) == before


def test_two_pages_on_a_plan_that_is_not_complete_keep_both(page, demo_folder):
    page.plan_row.new.click()
    other = PlanPage(folder=demo_folder)
    fill(page, "Sky and place", {"Bortle class": "7"})
    fill(other, "Telescope", {"Aperture": "81"})
    assert other.values == {"sky": {"bortle": 7}, "telescope": {"aperture": "81 mm"}}
    assert "Another page works on this plan too. From there: sky, bortle." in other.plan_row.said.value
    other._groups["Sky and place"].open(True)
    assert boxes(other._stage)["Bortle class"].value == "7"
    fill(page, "Telescope", {"Focal length": "478"})
    assert page.values["telescope"] == {"aperture": "81 mm", "focal_length": "478 mm"}
    assert PlanPage(folder=demo_folder).values == page.values


def test_of_two_pages_the_one_that_types_last_wins_its_box_says_so_and_undo_takes_only_that_back(page, demo_folder):
    page.plan_row.new.click()
    other = PlanPage(folder=demo_folder)
    fill(page, "Telescope", {"Aperture": "81"})
    fill(other, "Telescope", {"Aperture": "90"})
    assert "telescope, aperture is 90 mm here and 81 mm there" in other.plan_row.said.value
    assert PlanPage(folder=demo_folder).values == {"telescope": {"aperture": "90 mm"}}
    fill(page, "Sky and place", {"Bortle class": "7"})
    assert page.values == {"sky": {"bortle": 7}, "telescope": {"aperture": "90 mm"}}
    page.plan_row.undo.click()
    assert page.values == {"telescope": {"aperture": "90 mm"}}


def test_a_plan_that_another_page_completed_takes_ones_own_typing_too(page, demo_folder):
    page.plan_row.new.click()
    fill(page, "Sky and place", {"Bortle class": "7"})
    other = PlanPage(folder=demo_folder)
    fill(other, "Telescope", {"Obstruction": "30"})
    page.store.open(page.store.name)
    page._build()
    page._groups["Sky and place"].open(False)
    for group, given in REFRACTOR.items():
        if group != "Sky and place":
            fill(page, group, given)
    page._groups["Camera"].open(True)
    press(page._stage, "Add a gain")
    fill(page, "Camera", GAIN)
    page._groups["Filters"].open(True)
    press(page._stage, "Add this filter")
    page._groups["Filters"].open(False)
    page._groups["Target and its light"].open(True)
    press(page._stage, "Add a line")
    fill(page, "Target and its light", {"Brightness": "15"})
    assert page.said.answer is not None
    assert not list((demo_folder / "plans").glob(".*.sketch"))
    fill(other, "Telescope", {"Obstruction": "10"})
    assert other.said.answer is not None
    assert other.store.filed
    assert other.values["telescope"]["aperture"] == "81 mm"
    assert other.values["telescope"]["obstruction"] == "10 mm"
    assert "From there" in other.plan_row.said.value
    other.plan_row.save.click()
    assert Plan.read(demo_folder / other.store.name).values["telescope"]["obstruction"] == "10 mm"
    fill(page, "Telescope", {"Obstruction": "20"})
    page.plan_row.save.click()
    assert "obstruction is 20 mm here and 10 mm in the file" in page.plan_row.said.value


def test_a_page_whose_sketch_can_not_be_kept_says_so(page, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    page.plan_row.new.click()
    monkeypatch.setattr("os.fsync", full)
    fill(page, "Sky and place", {"Bortle class": "7"})
    assert "No space left on device" in page.store.trouble
    assert page.values == {"sky": {"bortle": 7}}
