"""One's own plan: what its boxes take, what it says, and that it is the project of the other pages too."""

import math
import re
import shutil

import pytest

from expocalc.base.words import say_duration
from expocalc.light.reading import BORTLE
from expocalc.plan import Plan
from workbook.copies import shipped
from workbook.hours.model import picture
from workbook.hours.sure import sure_steps
from workbook.hours.verdict import words
from workbook.parts.plan_store import PlanStore
from workbook.parts.slow_work import _to_the_end
from workbook.workshop.experiments.rig import H_ALPHA, demo, rig_of
from workbook.workshop.own_plan import OwnPlan
from workbook.workshop.own_plan_boxes import (
    BROAD,
    CAMERAS,
    DIALS,
    KINDS,
    camera_turned,
    filter_kind,
    filter_turned,
    lights_of,
    turned,
    values_of,
)
from workbook.workshop.own_plan_model import page

COLOUR = Plan.read(shipped() / "plans" / "colour-dual-band.toml")
FILTER = "H-alpha 5 nm"


@pytest.fixture
def folder(tmp_path):
    """A guest's, as the hall lays it: the demo plans, and beside them the lessons."""
    shutil.copytree(shipped() / "plans", tmp_path / "plans", ignore=shutil.ignore_patterns(".*"))
    (tmp_path / "workshop").mkdir()
    return tmp_path / "workshop"


def kept_h(plan, filter_name, light):
    row = next(row for row in plan.solve().rows if (row.filter_name, row.light) == (filter_name, light))
    return math.inf if row.kept_h is None else row.kept_h  # out of reach


def test_it_starts_from_the_demo_plan(folder):
    mine = OwnPlan(folder)
    row = demo().solve().rows[0]
    assert row.target_e_s == pytest.approx(rig_of().target_e_s)
    assert f"At best {row.shot:.0f} subs of 5 min" in mine.page.headline


@pytest.mark.parametrize("plan", [demo(), COLOUR], ids=["mono", "colour"])
def test_its_hours_are_those_of_the_hours_panel(plan):
    name = plan.case.filters[0].name
    said = page(plan, name, lights_of(plan, name)[0], 4.0)
    shown = picture(plan, name)
    hours = words(shown, _to_the_end(lambda: sure_steps(shown)))
    assert said.planned[:-1] in hours.headline
    clock = re.search(r": (.+) on the clock", said.headline)[1]
    assert clock in hours.rest


@pytest.mark.parametrize("name", [name for name in DIALS if name not in ("night", "continuum")])
def test_each_box_changes_the_page_and_its_ends_are_answered(name):
    before = page(demo(), FILTER, H_ALPHA, 4.0)
    for end in (DIALS[name].low, DIALS[name].high):
        plan, filter_name = turned(demo(), FILTER, H_ALPHA, name, end)
        said = page(plan, filter_name, H_ALPHA, 4.0)
        assert said != before
        assert "nan" not in said.headline + said.planned + " ".join(said.rest)
        assert values_of(plan, filter_name, H_ALPHA)[name] == pytest.approx(end)


@pytest.mark.parametrize("camera", CAMERAS)
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("start", [demo(), COLOUR], ids=["mono", "colour"])
def test_every_camera_takes_every_filter(start, kind, camera):
    plan = camera_turned(start, camera)
    name = plan.case.filters[0].name
    alone = plan.with_values({("filters",): [plan.values["filters"][0]]})
    plan, name, light = filter_turned(alone, name, kind)
    assert filter_kind(plan, name) == kind
    assert (plan.case.camera.mosaic != "none") == (camera == CAMERAS[1])
    said = page(plan, name, light, 4.0)
    kept = kept_h(plan, name, light)
    assert ("out of reach" in said.headline) == (math.isinf(kept))
    assert (light == "continuum") == (kind == BROAD)
    # the file holds the same plan
    assert kept_h(Plan.parse(plan.to_toml()), name, light) == kept


def test_a_colour_camera_needs_more_hours_through_one_line():
    colour = camera_turned(demo(), CAMERAS[1])
    assert kept_h(colour, FILTER, H_ALPHA) > 2 * kept_h(demo(), FILTER, H_ALPHA)  # a quarter of its pixels is red
    assert camera_turned(colour, CAMERAS[0]).case.camera.mosaic == "none"


@pytest.mark.parametrize("number", BORTLE)
def test_a_class_says_its_range_and_what_that_does_to_the_hours(number):
    plan, name = turned(demo(), FILTER, H_ALPHA, "sky", float(number))
    said = next(one for one in page(plan, name, H_ALPHA, 4.0).rest if one.startswith("Bortle"))
    bright, dark = BORTLE[number]
    assert f"Bortle {number} is a range: {bright:g} to {dark:g} mag/arcsec²" in said
    ends = [
        kept_h(
            demo().with_values(
                {("sky", "zenith_brightness"): f"{mag} mag/arcsec2", ("sky", "reading_band"): "bessell-V"}
            ),
            FILTER,
            H_ALPHA,
        )
        for mag in (dark, bright)
    ]
    assert ends[0] <= kept_h(plan, name, H_ALPHA) <= ends[1]
    darkest, brightest = ("never" if math.isinf(hours) else say_duration(3600 * hours) for hours in ends)
    assert (f"from {darkest} under the darkest such sky to {brightest} under" in said) == (darkest != brightest)
    assert ("leaves the hours as they are" in said) == (darkest == brightest)
    assert "Bortle" not in " ".join(page(demo(), FILTER, H_ALPHA, 4.0).rest)


@pytest.mark.parametrize(
    ("box", "text", "value"),
    [
        ("aperture", "4 in", 101.6),
        ("aperture", '4"', 101.6),
        ("aperture", "8,0 cm", 80),
        ("aperture", "90", 90),
        ("focal length", "20 inches", 508),
        ("sky", "Bortle 5", 5),
        ("sky", "b4", 4),
        ("sky", "6", 6),
        ("sky", "20,3", 20.3),
        ("sky", "20.3 mag", 20.3),
        ("sky", "20.3 mag/arcsec²", 20.3),
        ("line", "30", 30),
        ("longest sub", "2 min", 120),
        ("width", "7", 7),
    ],
)
def test_what_people_type_is_understood(folder, box, text, value):
    mine = OwnPlan(folder)
    mine.numbers[box].box.value = text
    assert not mine.numbers[box].wrong.value
    assert values_of(mine.plan, mine.filter_name, mine.light_name)[box] == pytest.approx(value)


@pytest.mark.parametrize(("box", "text"), [("sky", "12"), ("sky", "Bortle 0"), ("aperture", "big"), ("width", "-3")])
def test_what_cannot_be_is_refused_and_nothing_is_lost(folder, box, text):
    mine = OwnPlan(folder)
    before, said = mine.plan, mine.page
    mine.numbers[box].box.value = text
    assert mine.numbers[box].wrong.value
    assert mine.plan is before
    assert mine.page is said


def test_a_filter_bears_its_width(folder):
    mine = OwnPlan(folder)
    mine.numbers["width"].box.value = "3"
    assert mine.filter_name == "H-alpha 3 nm"
    assert "H-alpha 3 nm" in mine.page.headline
    mine.kind.menu.value = KINDS[1]  # the plan has one already
    assert "has a filter O III 5 nm already" in mine.kind.wrong.value
    assert mine.filter_name == "H-alpha 3 nm"


def test_a_broad_filter_is_there_for_its_own_light_on_all_pages(folder):
    mine = OwnPlan(folder)
    mine.kind.menu.value = BROAD
    assert mine.lights == ("continuum",)
    shown = [name for name in ("line", "continuum") if mine.numbers[name].widget.layout.display != "none"]
    assert shown == ["continuum"]
    assert words(picture(mine.plan, mine.filter_name), None).headline.startswith(mine.filter_name)
    assert "out of reach" not in words(picture(mine.plan, mine.filter_name), None).headline


def test_of_two_bands_it_speaks_of_one_and_names_the_other(folder):
    mine = OwnPlan(folder)
    mine.kind.menu.value = KINDS[3]
    first, other = mine.lights
    mine.light.menu.value = other
    assert f"This page speaks of {other}; {first} through the same filter takes" in mine.page.rest[0]


def test_it_is_saved_as_one_project_with_the_panels(folder):
    mine = OwnPlan(folder)
    mine.numbers["aperture"].box.value = "8,0 cm"
    mine.plan_row.save.click()
    assert "Saved as plans/my-plan.toml." in mine.plan_row.said.value
    panels = PlanStore(folder.parent)
    assert panels.name == "plans/my-plan.toml"
    assert panels.plan.case.telescope.aperture.value == 80
    assert panels.plan.case.title == "My plan"
    # and what a panel saves is what the page opens
    panels.note(panels.plan.with_values({("telescope", "aperture"): "90 mm"}))
    panels.save()
    assert OwnPlan(folder).plan.case.telescope.aperture.value == 90


def test_a_plan_that_cannot_be_saved_says_so(folder, monkeypatch):
    mine = OwnPlan(folder)

    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("workbook.parts.saving.write_new", refuse)
    mine.numbers["aperture"].box.value = "8,0 cm"
    mine.plan_row.save.click()
    assert "can&#x27;t be written" in mine.plan_row.said.value
    assert mine.plan.case.telescope.aperture.value == 80


def test_the_rest_is_folded(folder):
    mine = OwnPlan(folder)
    assert mine.folded.layout.display == "none"
    assert not mine.folded.value
    mine.more.value = True
    assert "Middle of a test sub, ADU" in mine.folded.value
