"""Hours at best and to plan for, told apart on random plans too: screens, command, sheets, night and simulated frames.

Nights have one to three filters, with and without a share of clear nights; frames are those of the plan itself.
"""

import runpy
from pathlib import Path
from types import SimpleNamespace

import pytest

from expocalc.base.refusal import Refusal
from expocalc.budget.spread import spread
from expocalc.plan import Plan, PlanError

HERE = Path(__file__).parent
SAID = SimpleNamespace(**runpy.run_path(str(HERE / "hours_said.py")))
MADE = SimpleNamespace(**runpy.run_path(str(HERE / "random_plans.py")))
PLANS, NIGHTS = 12, 6
OF_A_NIGHT = ("focus_every", "focus_time", "flip_time", "filter_change_time", "battery", "power", "storage")


def random_plan(number):
    """A plan as people have it, on a night of its own."""
    return Plan.parse(MADE.text_of("tame", number)).with_values(MADE.PANELS.night_values(number, False))


def night_plan(number):
    """The demo's gear with one to three filters, on a night in which its target is up, whatever else the night has."""
    demo = Plan.read(HERE.parent / "notebooks/plans/mono-single-lines.toml")
    wide = {"name": "wide", "passbands": [{"centre": "600 nm", "width": "250 nm"}], "wanted": ["H-alpha"]}
    night = MADE.PANELS.night_values(number, False)
    kept = {where: night[where] for where in (("night", name) for name in OF_A_NIGHT) if where in night}
    shares = {("night", "clear_share"): (0.3, None)[number // 3 % 2]}
    filters = [*demo.values["filters"], wide][: 1 + number % 3]
    return demo.with_values({**kept, **shares, ("filters",): filters, ("goal", "snr"): 1.0 + number})


def said_of(plan, answer, number):
    """All that is said of a plan, by where it stands; places that refuse it in a sentence are left out."""

    def screens(plan, _):
        return SAID.all_words(plan, answer, spread(plan.case, plan.case.doubt, 300, found=answer))

    said = {}
    for words in (screens, SAID.night_words, SAID.frames_words):
        try:
            said |= words(plan, number)
        except (PlanError, Refusal) as error:
            MADE.refusal(error)
    return said


@pytest.fixture(scope="module")
def told():
    """Plans that have an answer, with it and all that is said of them."""
    found = []
    for number in range(PLANS):
        try:
            plan = random_plan(number)
            answer = plan.solve()
        except PlanError as error:
            MADE.refusal(error)
        else:
            found.append((plan, answer, said_of(plan, answer, number)))
    for plan in map(night_plan, range(NIGHTS)):
        found.append((plan, plan.solve(), SAID.night_words(plan, 0)))
    return found


def test_no_hours_or_nights_stand_alone(told):
    assert [where for _, answer, said in told for where in SAID.unmarked(said, answer)] == []


def test_every_place_was_looked_at(told):
    """One to three filters, both ways of weather, sentences of each place: else the search would find nothing."""
    assert {len(plan.case.filters) for plan, _, _ in told} == {1, 2, 3}
    words = {where: " ".join(said.get(where, "") for _, _, said in told) for _, _, each in told for where in each}
    for where, sentence in {
        "night": "if every night is clear; ",
        "field sheet of the night": "If it is cloudy until",
        "nights of the hours panel": "nights on the calendar if",
        "test sub": "Hours for the goal",
        "morning after": "% of the goal",
        "hours": "plan for",
        "sub length": "at best",
        "printed page": "at best",
        "own plan": "plan for",
        "compare": "at best",
    }.items():
        assert sentence.lower() in words[where].lower(), where
    assert "of the nights clear; " in words["night"]


@pytest.mark.parametrize(
    "sentence",
    [
        "All goals are met in 6 to 17 nights on the calendar, with 40 % of the nights clear.",
        "That brings 2.5 h of the 7.3 h in O III 5 nm, counted as moonless hours at the zenith.",
        "H-alpha: 30 min kept, worth 29 min of the plan's dark hours, 8 % of the goal.",
        "Hours for the goal under this sky: 5.3 h.",
        "From 2026-10-10 on that is 2 to 9 nights on the calendar if H-alpha has them to itself.",
    ],
)
def test_the_net_catches_what_it_is_for(sentence, told):
    assert SAID.unmarked({"here": sentence}, told[0][1]) == [("here", sentence)]
    assert SAID.unmarked({"here": f"At best {sentence}"}, told[0][1]) == []


def test_the_net_catches_the_answer_s_own_hours(told):
    one = next(one for _, answer, _ in told for one in answer.filters if one.kept_h is not None)
    answer = SimpleNamespace(filters=[one])
    alone = f"It takes {SAID.say_duration(3600 * one.kept_h)} of kept subs."
    assert SAID.unmarked({"here": alone}, answer) == [("here", alone)]
