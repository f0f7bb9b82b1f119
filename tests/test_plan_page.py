"""The plan page without a browser: a plan is made from nothing, kept while it is not complete, and answered."""

import ipywidgets as w
import pytest

from expocalc.base.words import say_duration
from expocalc.plan import Plan
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
    fill(page, "Target and its light", {"Brightness": "12"})


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
