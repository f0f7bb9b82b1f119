"""Hours at best and hours to plan for are told apart, in the same words, wherever a plan's hours are said."""

import re
from html import unescape
from pathlib import Path

import pytest

from expocalc.base.words import say_duration
from expocalc.budget.planned import plan_for, say_range, to_plan
from expocalc.night.night import tonight_of
from expocalc.night.words import schedule_sentences, sky_sentences, supply_words
from expocalc.plan import Plan
from expocalc.report import report
from workbook.compare.model import Side, compare
from workbook.hours.model import picture
from workbook.hours.sure import sure_steps
from workbook.hours.verdict import words as hours_words
from workbook.plan.model import words as plan_words
from workbook.sheets.page import to_html
from workbook.sub_length.model import Picture
from workbook.workshop.own_plan_model import page

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


def sentences(text):
    """Sentences of a text; a decimal point ends none."""
    return re.split(r"(?<=[.;:!?])\s+(?=[A-Z])", " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split()))


def sure_of(shown):
    steps = sure_steps(shown)
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return end.value


def all_words(plan, found, spread):
    """What each screen, command and sheet says of the hours, by where it stands."""
    said = {
        "verdict": " ".join(one.verdict for one in found.filters),
        "command": report(found, spread).split("\n\n", 2)[-1],
        "page of the plan": " ".join((lambda w: (w.headline, *w.rest))(plan_words(plan.values, plan))),
        "printed page": to_html(plan.case, found, spread).split("<h2>Why</h2>")[1],
    }
    night = tonight_of(plan.case)
    said["night"] = " ".join((*sky_sentences(night), *schedule_sentences(night), supply_words(night)))
    first = found.filters[0]
    other = plan.with_values({("telescope", "aperture"): "60 mm"})
    said["compare"] = compare(Side.of(plan), Side.of(other), 1.0).words.headline
    said["compare, the same"] = compare(Side.of(plan), Side.of(plan), 1.0).words.headline
    sub = Picture(plan, first.filter_name).words
    said["sub length"] = f"{sub.headline} {sub.rest}"
    if first.neediest.light is not None:
        shown = picture(plan, first.filter_name)
        hours = hours_words(shown, sure_of(shown))
        said["hours"] = " ".join(str(part) for part in vars(hours).values() if isinstance(part, str))
        own = page(plan, first.filter_name, first.neediest.light, 5.0)
        said["own plan"] = " ".join((own.headline, own.planned, *own.rest))
    return said


def test_hours_of_an_answer_never_stand_alone(asked):
    """A sentence with a filter's hours, kept or on the clock, says at best, or gives those to plan for."""
    plan, found, spread = asked
    hours = [
        (say_duration(3600 * value), kind)
        for one in found.filters
        for value, kind in ((one.kept_h, "kept|of kept subs|are good"), (one.clock_h, "on the clock"))
        if value is not None
    ]
    for where, text in all_words(plan, found, spread).items():
        for sentence in sentences(text):
            for said, kind in hours:
                if re.search(rf"(?<![\d.]){re.escape(said)}\)? (?:{kind})", sentence):
                    assert re.search(r"\bat best\b|\bplan for\b", sentence, re.I), (where, sentence)


def test_hours_to_plan_for_are_in_the_same_words(asked):
    """Command, hours panel and the own plan say the very sentence of one function, for the same range."""
    plan, found, spread = asked
    said = {where: " ".join(sentences(text)) for where, text in all_words(plan, found, spread).items()}
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
