"""Hours at best and hours to plan for are told apart, in the same words, wherever a plan's hours are said."""

import csv
import io
import json
import math
import re
import runpy
from pathlib import Path
from types import SimpleNamespace

import pytest

from expocalc.base.words import say_duration
from expocalc.budget.planned import below_best, plan_for, planned_sentence, say_range, to_plan
from expocalc.plan import Plan
from workbook.explore.hours_map import SKY
from workbook.explore.model import map_steps
from workbook.hours.bar_figures import LEVERS_AXES
from workbook.hours.levers import levers_table
from workbook.hours.sure import sure_table
from workbook.sheets.formats import FORMATS
from workbook.sub_length.figures import HOURS_TITLE
from workbook.sub_length.tables import hours_table

SAID = SimpleNamespace(**runpy.run_path(str(Path(__file__).with_name("hours_said.py"))))
PLANS = Path(__file__).parents[1] / "notebooks/plans"
CHANGES = {
    "as it is": {},
    "dark": {("sky",): {"zenith_brightness": "21.3 mag/arcsec2"}},
    "short subs": {("routine", "sub_length"): "60 s"},
    "practice of one's own": {("doubt", "practice"): 1.6},
    "out of reach": {("routine", "background_flatness"): 0.01},
    "far": {("goal", "snr"): 40},
}


def plans():
    return [(name, what) for name in ("mono-single-lines", "colour-dual-band") for what in CHANGES]


@pytest.fixture(scope="module", params=plans(), ids=" ".join)
def asked(request):
    """A plan, its answer and how sure it is."""
    name, what = request.param
    plan = Plan.read(PLANS / f"{name}.toml").with_values(CHANGES[what])
    found = plan.solve()
    return plan, found, plan.spread(found)


def test_hours_of_an_answer_never_stand_alone(asked):
    """A sentence with a filter's hours, kept or on the clock, says at best, or gives those to plan for."""
    plan, found, spread = asked
    assert SAID.unmarked(SAID.all_words(plan, found, spread), found) == []


def test_hours_to_plan_for_are_in_the_same_words(asked):
    """Command, hours panel and the own plan say the very sentence of one function, for the same range."""
    plan, found, spread = asked
    said = {where: " ".join(SAID.sentences(text)) for where, text in SAID.all_words(plan, found, spread).items()}
    first = found.filters[0]
    span = spread.filters[first.filter_name]
    whole, planned = plan_for(first.kept_h, span), to_plan(span)
    expected = planned if first.kept_h is not None else whole
    assert f"{expected[0].upper()}{expected[1:]}." in said["command"]
    row = next(one for one in spread.rows if (one.filter_name, one.light) == (first.filter_name, first.neediest.light))
    assert plan_for(first.kept_h, row.range).lower() in said["own plan"].lower(), "of the light that the page is about"
    if first.kept_h is not None:
        assert plan_for(first.kept_h, row.range) in said["hours"], "of the light in view"
        assert say_duration(3600 * span.p50_h) in planned
        assert say_range(span) in planned or "of kept subs, the same" in planned or "no hours reach it" in planned


def by_half(span):
    return span.p50_h


def test_sheets_and_tables_say_both_too(asked):
    """Field sheet, printed page, card, JSON and CSV: of each filter the hours at best and those to plan for."""
    plan, found, spread = asked
    written = {one.name: one.write(plan, found, spread) for one in FORMATS}
    plain = {name: " ".join(SAID.sentences(text)).replace("\xa0", " ") for name, text in written.items()}
    for name in ("Field sheet", "Page", "Card"):
        assert re.search("at best", plain[name], re.I), name
    data = json.loads(written["JSON"])
    rows = list(csv.DictReader(io.StringIO(written["CSV"])))
    for one, entry in zip(found.filters, data["filters"], strict=True):
        span = spread.filters.get(one.filter_name)
        assert entry["planned"] == (None if span is None else planned_sentence(one.kept_h, span))
        own = [row for row in rows if row["filter"] == one.filter_name]
        assert all(bool(row["filter_kept_h"]) == (one.kept_h is not None) for row in own)
        if span is not None and math.isfinite(span.p50_h):
            half = say_duration(3600 * span.p50_h).replace("\xa0", " ")
            planned = re.compile(rf"plan for .*\b{half}( of kept subs)?( or more)? in {one.filter_shown}", re.I)
            assert planned.search(plain["Field sheet"])
            assert half in plain["Page"]
            for number in (entry["hours_p50"], *(float(row["filter_hours_p50"]) for row in own)):
                assert number == pytest.approx(span.p50_h, rel=1e-4)
    most = max((span for span in spread.filters.values() if math.isfinite(span.p50_h)), key=by_half, default=None)
    card = " where most is needed under the plan's sky, "
    assert (card in plain["Card"]) == (most is not None)
    assert most is None or f"{card}{to_plan(most)}".replace("\xa0", " ") in plain["Card"]
    command = SAID.all_words(plan, found, spread)["command"]
    said = " ".join(SAID.sentences(command)).replace("\xa0", " ")
    assert all(entry["planned"] is None or entry["planned"].replace("\xa0", " ") in said for entry in data["filters"])


def test_the_lessons_say_the_same_two_things():
    """A lesson's page and exercise that name a plan's hours say "at best" with them."""
    root = PLANS.parents[1]
    files = [*root.glob("workbook/workshop/*.py"), *root.glob("workbook/hours/exercises.py")]
    text = "\n".join(path.read_text() for path in files)
    assert "at best" in text
    for other in ("best case hours", "best guess", "realistic hours", "expected hours", "optimistic"):
        assert other not in text, f"one wording for the hours: {other!r}"


def test_no_other_words_for_it_anywhere():
    root = PLANS.parents[1]
    shown = [*root.glob("workbook/**/*.py"), *root.glob("expocalc/**/*.py"), *root.glob("notebooks/*.ipynb")]
    for path in shown:
        text = path.read_text(encoding="utf-8")
        for other in ("at best guess", "in the best case,", "realistic hours", "optimistic hours", "pessimistic"):
            assert other not in text, f"{path.name}: {other!r}"


def test_a_range_below_the_hours_at_best_is_explained(asked):
    """Where one in ten needs less than at best, the folded table and the own plan say why; else neither does."""
    plan, found, spread = asked
    first = found.filters[0]
    shown = SAID.picture(plan, first.filter_name)
    row = next(one for one in spread.rows if (one.filter_name, one.light) == (first.filter_name, first.neediest.light))
    why = below_best(first.kept_h, row.range)
    low, best = row.range.p10_h, first.kept_h
    below = best is not None and low < best and say_duration(3600 * low) != say_duration(3600 * best)
    assert bool(why) == below
    own = SAID.page(plan, first.filter_name, first.neediest.light, 5.0).rest
    assert own[1] == why
    caption = sure_table(shown, SAID.finished(SAID.sure_steps(shown))).caption
    assert not why or why in caption


def test_pictures_and_tables_of_hours_say_at_best():
    """Titles, axes and captions of hours on the clock."""
    plan = Plan.example()
    shown = SAID.picture(plan, "H-alpha")
    said = [
        hours_table(plan).caption,
        levers_table(shown).caption,
        SAID.finished(map_steps(plan, "H-alpha", SKY)).title,
    ]
    said += [HOURS_TITLE, *LEVERS_AXES]
    assert all("at best" in one for one in said)
