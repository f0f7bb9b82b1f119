"""No sentence of any panel, sheet or command says "1 subs", "5 to 5 min", "1e+06", "nan" or "-0", whatever the plan."""

import csv
import html
import io
import re
import runpy
from pathlib import Path
from types import SimpleNamespace

import pytest

from expocalc.base.words import say_duration, say_span
from expocalc.plan import Plan, PlanError
from workbook.hours.model import picture
from workbook.hours.verdict import words as hours_words
from workbook.plan.model import words as plan_words
from workbook.sheets.card import to_card
from workbook.sheets.night import night
from workbook.sheets.page import to_html
from workbook.sheets.table import to_csv
from workbook.sub_length.model import Picture

HERE = Path(__file__)
MADE = SimpleNamespace(**runpy.run_path(str(HERE.with_name("random_plans.py"))))
SAID = SimpleNamespace(**runpy.run_path(str(HERE.with_name("said.py"))))
DEMOS = sorted((HERE.parents[1] / "notebooks/plans").glob("*.toml"))
PLANS, PARTS = 24, 2


@pytest.mark.parametrize(
    "text",
    [
        "among 1 subs", "It takes 1 darks.", "5 to 5 min", "5 min to 5 min", "5.0 to 5 h", "about 1e+06 h", "nan h",
        "in inf h", "off by -0.0 %", "a  hole", "takes 5 h , or more", "None of 5 h", "9 % to 9 %",
    ],
)  # fmt: skip
def test_a_flaw_is_seen(text):
    assert SAID.flaws(text)


@pytest.mark.parametrize(
    "text",
    [
        "1 sub",
        "11 subs",
        "0.1 subs",
        "5 s to 5 min",
        "2 to 9 nights",
        "f/5 at -10 °C",
        "19 to 19.5",
        "21:00 to 21:30",
        "5 to 50 h",
    ],
)
def test_what_is_right_is_left_alone(text):
    assert not SAID.flaws(text)


def test_a_span_is_never_from_a_number_to_itself():
    for low in range(1, 400, 7):
        for high in range(low, 400, 11):
            assert not SAID.flaws(say_span(f"{low / 10:.1f} h", f"{high / 10:.1f} h"))


def check(plan):
    wrong = []
    for filter_ in plan.case.filters[:1]:
        wrong += [f"{where}: {flaw}" for where, said in SAID.sentences(plan, filter_.name) for flaw in SAID.flaws(said)]
    return wrong


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
@pytest.mark.parametrize("changes", [{}, {("goal", "snr"): 0.3}, {("goal", "snr"): 500}], ids=["own", "low", "high"])
def test_the_demos_say_nothing_wrong(path, changes):
    assert check(Plan.read(path).with_values(changes)) == []


@pytest.mark.parametrize("part", range(PARTS))
def test_random_plans_say_nothing_wrong(part):
    for number in range(part, PLANS, PARTS):
        text = MADE.text_of("tame" if number % 2 else "wide", number)
        try:
            plan = Plan.parse(text)
            plan.solve()
        except PlanError:
            continue
        assert check(plan) == [], f"plan {number}"


@pytest.mark.parametrize("number", [0, 2, 4, 6, 8, 12, 14, 16])
def test_panels_sheets_and_tables_say_one_number(number):
    """Sub, subs and hours of each filter: on both panels, the form, the sheet, the page, the card and in the table."""
    plan = Plan.parse(MADE.text_of("tame", number))
    found = plan.solve()
    hours = plan.spread(found)
    rows = list(csv.DictReader(io.StringIO(to_csv(plan, found, hours), newline="")))
    printed, card = to_html(plan.case, found, hours), to_card(plan, found, hours)
    for one, words in zip(found.filters, night(plan.case, found, hours).filters, strict=True):
        name, row = one.filter_name, next(row for row in rows if row["filter"].lstrip("'") == one.filter_name)
        if one.neediest.light is None:
            continue
        assert words.sub == say_duration(float(row["sub_s"])) == say_duration(one.sub_s)
        assert f"<td>{words.sub}</td>" in printed
        if one.clock_h is None:
            assert (row["filter_clock_h"], words.clock) == ("", "-")
            continue
        clock, kept = (say_duration(3600 * h) for h in (one.clock_h, one.kept_h))
        assert (words.clock, words.kept, words.shoot) == (clock, kept, f"{one.shot}")
        assert say_duration(3600 * float(row["filter_clock_h"])) == clock
        assert f"<td>{clock}</td>" in printed
        ladder = re.findall(rf'<th scope="row">{re.escape(html.escape(name))}(?:<br>[^<]*)*</th>(.*?)</tr>', card)[2]
        assert re.findall("<td>(.*?)</td>", ladder)[1] == clock
        assert clock in plan_words(plan.values, plan).headline
        assert f"({kept}) out of {one.shot} shot, {clock} on the clock" in Picture(plan, name).words.rest
        said = hours_words(picture(plan, name, one.neediest.light), None)
        assert f"{kept} at best" in said.headline
        assert f"{clock} on the clock: {one.shot} sub" in said.rest
