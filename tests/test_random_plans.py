"""2,000 random plans through the command, JSON, exports and the panels' models, and what must hold of each answer.

``python tests/benchmarks/many_plans.py`` takes 100,000.
"""

import runpy
from pathlib import Path
from types import SimpleNamespace

import pytest

MADE = SimpleNamespace(**runpy.run_path(str(Path(__file__).with_name("random_plans.py"))))
PLANS = {"tame": 200, "wide": 300, "mutated": 1500}
PARTS = 4
BROKE_ONCE = (
    ("wide", 3000024),
    ("wide", 3001706),
    ("wide", 3001557),
    ("wide", 3006867),
    ("mutated", 1000547),
    ("mutated", 1009172),
    ("mutated", 7004608),
    ("wide", 7000609),
)
"""Plans of the longer round whose hours were beaten, or that were shown or cured beyond what a plan may hold."""


@pytest.mark.parametrize("part", range(PARTS))
@pytest.mark.parametrize("kind", MADE.KINDS)
def test_random_plans(kind, part):
    answered, numbers = 0, range(part, PLANS[kind], PARTS)
    for number in numbers:
        try:
            refused = MADE.check(kind, number)
        except Exception as error:
            error.add_note(f"plan {number} of the {kind} ones")
            raise
        assert kind != "tame" or refused is None or MADE.TOO_LARGE not in refused
        answered += refused is None
    assert answered >= {"tame": 0.8, "wide": 0.2, "mutated": 0.02}[kind] * len(numbers), "most refuse: nothing is tried"


@pytest.mark.parametrize(("kind", "number"), BROKE_ONCE)
def test_what_broke_once_holds(kind, number):
    assert MADE.check(kind, number) is None
