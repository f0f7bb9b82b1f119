"""A filter keeps its own name; where its width is another than its name tells, every page says so."""

import re
import runpy
from pathlib import Path

import pytest

from expocalc.plan import Plan
from workbook.compare.view import ComparePanel
from workbook.hours.view import PICTURES, HoursPanel
from workbook.night.view import NightPanel
from workbook.plan.view import PlanPage
from workbook.sub_length.view import SubLengthPanel

WORDS = runpy.run_path(str(Path(__file__).with_name("on_screen.py")))["words_of"]
PLANS = Path(__file__).resolve().parents[1] / "notebooks/plans"
PLAIN = re.compile(r"(H-alpha|O III|S II) 5 nm(?! \(now 3 nm\))")


@pytest.fixture
def folder(demo_folder):
    """The demo plan with its filters turned to another width than their names tell."""
    plan = Plan.read(PLANS / "mono-single-lines.toml")
    changes = {("filters", at, "passbands", 0, "width"): "3 nm" for at in range(len(plan.case.filters))}
    assert all(one.name.endswith(" 5 nm") for one in plan.case.filters)
    (demo_folder / "plans/turned.toml").write_text(plan.with_values(changes).to_toml())
    return demo_folder


def said(panel):
    """What is on the screen, but for the plan file's own row and what holds values to type."""
    return [text for text in WORDS(panel.widget) if PLAIN.search(text)]


def open_tables(panel):
    for one in ("table", "sure_table", "measure_table", "hours_table", "noise_table", "blocks_table", "reasons_table"):
        if hasattr(panel, one):
            getattr(panel, one).button.value = True


@pytest.mark.parametrize("picture", PICTURES)
def test_in_the_hours(folder, picture):
    panel = HoursPanel("plans/turned.toml", folder)
    panel.pick.value = picture
    open_tables(panel)
    assert any("(now 3 nm)" in text for text in WORDS(panel.widget))
    assert said(panel) == []


def test_in_the_sub_length(folder):
    panel = SubLengthPanel("plans/turned.toml", folder)
    open_tables(panel)
    assert said(panel) == []


def test_in_the_comparison(folder):
    panel = ComparePanel("plans/turned.toml", folder)
    open_tables(panel)
    assert said(panel) == []


def test_in_the_form(folder):
    page = PlanPage("plans/turned.toml", folder)
    page.table.button.value = True
    for name, fold in page._groups.items():
        if name != "Filters":  # there the name itself is typed
            fold.open(True)
    assert [text for text in said(page) if not text.startswith("H-alpha 5 nm, ")] == []


def test_in_the_night(folder):
    panel = NightPanel("plans/turned.toml", folder)
    open_tables(panel)
    for name in panel.pick.options:
        panel.pick.value = name
        assert said(panel) == [], name
