"""No sentence of any panel, sheet or command says "1 subs", "5 to 5 min", "1e+06", "nan" or "-0", whatever the plan."""

import runpy
from pathlib import Path
from types import SimpleNamespace

import pytest

from expocalc.base.words import say_span
from expocalc.plan import Plan, PlanError

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
