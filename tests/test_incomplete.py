"""Pages that can't show the plan at hand say so, with what it lacks and where to complete it."""

import re

import pytest

from workbook.compare.view import ComparePanel
from workbook.frames.view import FramesPanel
from workbook.hours.view import HoursPanel
from workbook.night.view import NightPanel
from workbook.parts.plan_store import PlanStore
from workbook.plan.form_store import FormStore
from workbook.sub_length.view import SubLengthPanel


@pytest.fixture
def begun(demo_folder):
    """A plan with a sky and no more."""
    store = FormStore(demo_folder)
    store.new()
    store.change({("sky", "bortle"): 7})
    return demo_folder


@pytest.mark.parametrize("panel", [SubLengthPanel, HoursPanel, NightPanel, ComparePanel, FramesPanel])
def test_a_panel_says_that_a_demo_stands_in_and_what_is_missing(begun, panel):
    made = panel(folder=begun)
    row = getattr(made, "plan_row", None) or made.left_row
    said = row.said.value
    assert row.said.layout.display is None
    assert "Your plan plans/my-plan.toml is not complete yet: it still needs " in said
    assert "Telescope: aperture, focal length" in said
    assert "Sky" not in re.sub(r".*needs ", "", said), "that is there"
    assert "a demo, is shown here" in said
    assert re.search(r'href="plan.ipynb"[^>]*>Complete it', said)


def test_a_saved_plan_that_is_being_changed_is_shown_as_saved(demo_folder):
    store = FormStore(demo_folder)
    store.copy()
    name = store.name
    assert PlanStore(demo_folder).incomplete == ""
    store.change({("telescope", "aperture"): None})
    other = PlanStore(demo_folder)
    assert other.name == name
    assert other.incomplete == (
        f"Your plan {name} is not complete yet: it still needs Telescope: aperture. Until then it is shown as it was "
        "saved here."
    )
    store.change({("telescope", "aperture"): "90 mm"})
    assert PlanStore(demo_folder).incomplete == ""


def test_the_form_itself_and_a_page_that_names_its_plan_say_nothing(begun):
    assert FormStore(begun).incomplete == ""
    assert PlanStore(begun, "plans/colour-dual-band.toml").incomplete == ""


def test_a_lesson_finds_the_way_up(begun):
    (begun / "workshop").mkdir()
    store = PlanStore(begun / "workshop")
    assert store.files.up == "../"
    assert "not complete yet" in store.incomplete


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"sections": 5, "gone": []}'])
def test_a_broken_sketch_is_passed_over(begun, text):
    (begun / "plans/.my-plan.toml.sketch").write_text(text)
    assert PlanStore(begun).incomplete == ""
