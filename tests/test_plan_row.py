"""The plan's row on the panels: what a person reads and presses."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from expocalc.plan import Plan
from workbook.compare.view import ComparePanel
from workbook.frames.view import FramesPanel
from workbook.hours.pictures import LEVERS
from workbook.hours.view import HoursPanel
from workbook.night.view import NightPanel
from workbook.parts.plan_files import DEMO, PlanFiles
from workbook.plan import PlanPage
from workbook.sub_length import SubLengthAnswer, SubLengthPanel
from workbook.workshop.own_plan import OwnPlan

MINE = "plans/mine.toml"
PANELS = {
    "sub length": SubLengthPanel,
    "hours": HoursPanel,
    "compare": ComparePanel,
    "night": NightPanel,
    "frames": FramesPanel,
    "plan": PlanPage,
    "own plan": lambda name, folder: (PlanFiles(folder).use(folder / name), OwnPlan(folder))[1],
}


@pytest.fixture
def folder(demo_folder):
    Plan.read(demo_folder / DEMO).save(demo_folder / MINE)
    return demo_folder


def row_of(panel):
    return getattr(panel, "plan_row", None) or panel.left_row


def test_a_page_opens_what_another_page_changed(folder):
    panel = SubLengthPanel(MINE, folder)
    panel.numbers["altitude"].box.value = "41 deg"
    assert "(not saved)" in panel.plan_row.title.value
    other = HoursPanel(folder=folder)
    assert other.plan_row.name.value == MINE
    assert float(other.plan.case.target.altitude.value) == 41
    assert "Unsaved changes of" in other.plan_row.said.value
    other.plan_row.save.click()
    assert "(not saved)" not in other.plan_row.title.value
    assert Plan.read(folder / MINE).values["target"]["altitude"] == "41 deg"


def test_two_panels_on_one_plan_keep_both_changes(folder):
    one, other = SubLengthPanel(MINE, folder), HoursPanel(MINE, folder)
    one.numbers["altitude"].box.value = "41 deg"
    other.numbers["goal"].box.value = "17"
    one.plan_row.save.click()
    other.plan_row.save.click()
    saved = Plan.read(folder / MINE)
    assert (float(saved.case.target.altitude.value), saved.case.goal.snr) == (41, 17)
    assert "meanwhile: target, altitude" in other.plan_row.said.value
    assert float(other.plan.case.target.altitude.value) == 41


@pytest.mark.parametrize(("button", "kept"), [("mine", 52), ("theirs", 41)])
def test_the_same_value_changed_twice_is_asked_about(folder, button, kept):
    one, other = SubLengthPanel(MINE, folder), SubLengthPanel(MINE, folder)
    for panel, text in ((one, "41 deg"), (other, "52 deg")):
        panel.numbers["altitude"].box.value = text
    one.plan_row.save.click()
    row = other.plan_row
    assert row._choice.layout.display == "none"
    row.save.click()
    assert "target, altitude is 52 deg here and 41 deg in the file" in row.said.value
    assert row._choice.layout.display is None
    assert Plan.read(folder / MINE).values["target"]["altitude"] == "41 deg"
    getattr(row, button).click()
    assert row._choice.layout.display == "none"
    assert float(Plan.read(folder / MINE).case.target.altitude.value) == kept
    assert float(other.plan.case.target.altitude.value) == kept
    row.undo.click()
    assert float(other.plan.case.target.altitude.value) == 93 - kept


def test_undo_takes_the_last_change_back(folder):
    panel = HoursPanel(MINE, folder)
    assert panel.plan_row.undo.disabled
    before = panel.plan.case.goal.snr
    panel.numbers["goal"].box.value = "17"
    assert not panel.plan_row.undo.disabled
    panel.plan_row.undo.click()
    assert panel.plan.case.goal.snr == before
    assert panel.numbers["goal"].box.value == f"{before:g}"
    assert panel.plan_row.undo.disabled


def test_saving_a_demo_asks_for_a_name(folder):
    panel = SubLengthPanel(folder=folder)
    assert "(demo)" in panel.plan_row.title.value
    before = (folder / DEMO).read_bytes()
    panel.numbers["altitude"].box.value = "41 deg"
    assert "(demo, not saved)" in panel.plan_row.title.value
    panel.plan_row.save.click()
    assert "type a name of your own" in panel.plan_row.said.value
    assert (folder / DEMO).read_bytes() == before
    panel.plan_row.name.value = "tonight"
    panel.plan_row.save.click()
    assert "Saved as plans/tonight.toml." in panel.plan_row.said.value
    assert panel.plan_row.name.value == "plans/tonight.toml"


def test_the_list_opens_a_plan_and_the_buttons_make_new_ones(folder):
    row = SubLengthPanel(folder=folder).plan_row
    row.more.value = True
    assert row.menu.options[1] == MINE
    assert f"{DEMO} (demo)" in row.menu.options
    row.menu.value = MINE
    assert f"Loaded {MINE}." in row.said.value
    row.copy.click()
    assert row.name.value == "plans/mine-copy.toml"
    row.name.value = "tonight"
    row.rename.click()
    assert row.name.value == "plans/tonight.toml"
    row.new.click()
    assert row.name.value == "plans/new-plan.toml"
    assert "plans/tonight.toml" in row.menu.options
    data = (folder / MINE).read_bytes()
    brought = {"name": "mine.toml", "content": memoryview(data), "size": len(data), "type": ""}
    row.upload.value = ({**brought, "last_modified": datetime.now(UTC)},)
    assert row.name.value == "plans/mine-2.toml"
    assert row.upload.value == ()
    assert 'download="mine-2.toml"' in row.home.value


@pytest.mark.parametrize("name", PANELS)
@pytest.mark.parametrize("text", ["sky = [", "[sky]\nbortle = 12\n"])
def test_a_typo_in_the_plan_leaves_the_sentence_and_the_row(folder, name, text):
    (folder / MINE).write_text(text)
    row = row_of(PANELS[name](MINE, folder))
    assert 'class="expo-wrong"' in row.said.value
    assert row.name.value == MINE
    Plan.read(folder / DEMO).with_values({("title",): "Mended"}).save(folder / MINE)
    row.load.click()
    assert "Loaded" in row.said.value
    assert "Mended" in row.title.value


def test_every_page_with_a_plan_box_is_tried():
    source = Path(__file__).resolve().parent.parent / "workbook"
    pages = {path.parent.name for path in source.glob("*/*.py") if "= PlanRow(" in path.read_text(encoding="utf-8")}
    assert pages == {"sub_length", "hours", "compare", "night", "frames", "plan", "workshop"}


def test_a_typo_leaves_a_sentence_on_the_page_without_a_row_too(folder):
    (folder / MINE).write_text("sky = [")
    answer = SubLengthAnswer(MINE, folder)
    assert "not valid TOML" in answer.widget.children[1].value


@pytest.mark.parametrize("reading", [{"bortle": 6}, {"luminance": "0.002 cd/m2"}, {"naked_eye_limit": 4.6}])
def test_the_comparison_opens_a_plan_with_any_reading_of_the_sky(folder, reading):
    sky = {("sky", "zenith_brightness"): None} | {("sky", name): value for name, value in reading.items()}
    Plan.read(folder / DEMO).with_values(sky).save(folder / MINE)
    panel = ComparePanel(MINE, folder)
    assert "expo-wrong" not in panel.left_row.said.value
    assert panel.right.plan.values["sky"]["zenith_brightness"] == "21 mag/arcsec2"
    assert not {*reading} & {*panel.right.plan.values["sky"]}


def test_the_right_side_is_back_after_a_reload(folder):
    panel = ComparePanel(MINE, folder)
    panel.numbers["temperature"].box.value = "-3 deg_C"
    again = ComparePanel(folder=folder)
    assert "The right side of" in again.right_row.said.value
    assert float(again.right.plan.case.camera.temperature.value) == -3
    again.right_row.undo.click()
    assert float(again.right.plan.case.camera.temperature.value) != -3
    again.right_row.save.click()
    assert "Saved as plans/right.toml." in again.right_row.said.value


def test_a_page_that_refuses_a_plan_keeps_its_own(folder):
    Plan.read(folder / DEMO).with_values({("target", "patch"): "0.1 arcsec"}).save(folder / "plans/tiny.toml")
    panel = HoursPanel(MINE, folder)
    panel.plan_row.name.value = "tiny"
    panel.plan_row.load.click()
    assert "one pixel" in panel.plan_row.said.value
    assert panel.store.name == MINE
    assert HoursPanel(folder=folder).store.name == MINE


def test_what_helps_is_shown_for_a_plan_with_its_own_sub_length(folder):
    Plan.read(folder / DEMO).with_values({("routine", "sub_length"): "180 s"}).save(folder / MINE)
    panel = HoursPanel(MINE, folder)
    panel.pick.value = LEVERS
    assert LEVERS in panel.stage.figures
    panel.table.button.value = True
    assert "Hours after" in panel.table.body.value
