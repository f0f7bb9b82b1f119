"""A filter keeps its own name; where its width is another than its name tells, every page says so."""

import re
import runpy
from pathlib import Path

import pytest

from expocalc.frames.tell.sky_words import hours_words
from expocalc.night.night import tonight_of
from expocalc.night.report import report as night_report
from expocalc.plan import Plan
from expocalc.report import report
from workbook.compare.view import ComparePanel
from workbook.frames import FramesPanel
from workbook.hours.pictures import PICTURES
from workbook.hours.view import HoursPanel
from workbook.night.view import NightPanel
from workbook.plan.view import PlanPage
from workbook.sheets import FORMATS
from workbook.sub_length.view import SubLengthPanel
from workbook.workshop.own_plan_model import page

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


def solved(folder):
    plan = Plan.read(folder / "plans/turned.toml")
    found = plan.solve()
    return plan, found, plan.spread(found)


@pytest.mark.parametrize(
    "kind", [one for one in FORMATS if one.suffix.endswith((".txt", ".html"))], ids=lambda o: o.name
)
def test_on_paper(folder, kind):
    text = re.sub(r"<br>|\n +(?=\(now)", " ", kind.write(*solved(folder)))
    if kind.suffix == ".txt":  # there the width stands under the row's numbers
        row = r"(?m)^(H-alpha|O III) 5 nm +5 min.*(\(now 3 nm\))$"
        assert len(re.findall(row, text)) == 2
        text = re.sub(row, "", text)
    else:
        assert "(now 3 nm)" in text
    assert PLAIN.findall(text) == []


def test_tables_for_programs_keep_the_name_that_the_plan_has(folder):
    for kind in FORMATS:
        if kind.suffix in (".csv", ".json"):
            assert "H-alpha 5 nm" in PLAIN.search(kind.write(*solved(folder)))[0]


def test_in_a_terminal(folder):
    plan, found, hours = solved(folder)
    for text in (report(found, hours), night_report(tonight_of(plan.case))):
        assert "(now 3 nm)" in text
        assert PLAIN.findall(re.sub(r"\s+", " ", text)) == []


@pytest.mark.parametrize("view", ["Test sub", "Morning after", "Stack"])
def test_in_the_frames(folder, view):
    panel = FramesPanel("plans/turned.toml", folder)
    panel.pick.value = view
    assert panel.view.shown is not None, panel.view.work.said.value
    table = panel.view.numbers()
    cells = [cell for row in table.rows if row[0] != "filter" for cell in row]  # what the header says
    assert [text for text in (*panel.view.words, *table.head, *cells) if PLAIN.search(text)] == []
    if view == "Morning after":
        assert any("(now 3 nm)" in text for text in panel.view.words)
        assert all("(now 3 nm)" in way.name for way in panel.view.shown.ways)


def test_of_a_test_sub_through_a_filter_without_light(folder):
    plan = Plan.read(folder / "plans/turned.toml").with_values({("filters", 0, "wanted"): ["O III"]})
    one = plan.solve().filters[0]
    assert hours_words(one, one, None) == "H-alpha 5 nm (now 3 nm) passes none of the target's light"


def test_on_ones_own_plan(folder):
    shown = page(Plan.read(folder / "plans/turned.toml"), "H-alpha 5 nm", "H-alpha", 4.0)
    cells = [cell for row in shown.table.rows for cell in row]
    assert [text for text in (shown.headline, shown.planned, *shown.rest, *cells) if PLAIN.search(text)] == []
