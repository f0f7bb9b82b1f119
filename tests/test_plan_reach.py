"""Everything that a plan file can hold has its box on the page of gear and targets."""

from pathlib import Path

import pytest

import workbook.plan.tables
import workbook.plan.view
from expocalc.base.field import fields_of
from expocalc.budget.case import Case
from expocalc.plan import Plan
from workbook.plan.folds import Fold
from workbook.plan.rows import FieldRow
from workbook.plan.rules import pattern
from workbook.plan.tables import ListForm, TableForm
from workbook.plan.view import PlanPage

PLANS = Path(__file__).resolve().parents[1] / "notebooks/plans"
LISTS = {
    ("target", "light"): [
        {"line": "H-alpha", "brightness": "12 R"},
        {"continuum": "25 mag/arcsec2"},
        {"star": "15 mag"},
    ],
    ("routine", "counts"): [{"sub_length": "300 s", "dither_every": 2, "taken": 120, "spoiled": 7}],
}
"""A list shows the boxes of its entries: one of each kind."""


def declared(noun, where=()):
    """Places of all declared keys that are no tables, "*" for each entry."""
    for field in fields_of(noun):
        place = (*where, field.name)
        if not field.nouns:
            yield place
        for one in field.nouns:
            yield from declared(one, place if field.kind == "table" else (*place, "*"))


def open_all(part):
    """Open every fold below a part of the form."""
    if isinstance(part, Fold):
        part.open(True)
        for one in part._parts:
            open_all(one)
    elif isinstance(part, TableForm):
        for one in part._parts:
            open_all(one)
    elif isinstance(part, ListForm):
        for one in part._folds:
            open_all(one)


@pytest.fixture
def reached(demo_folder, monkeypatch):
    """Places of all boxes that the page makes, by hand opened to the last fold."""
    found = set()

    class Seen(FieldRow):
        def __init__(self, desk, field, table):
            super().__init__(desk, field, table)
            gain = ("camera", "gains")
            place = (*table, field.name)
            found.add((*gain, "*", *place[3:]) if place[:2] == gain else pattern(place))

    for module in (workbook.plan.tables, workbook.plan.view):
        monkeypatch.setattr(module, "FieldRow", Seen)
    plan = Plan.read(PLANS / "mono-single-lines.toml").with_values(LISTS | {("filters", 0, "wanted"): ["H-alpha"]})
    (demo_folder / "plans/full.toml").write_text(plan.to_toml())
    page = PlanPage("plans/full.toml", demo_folder)
    for fold in page._groups.values():
        open_all(fold)
    return found


def test_each_declared_key_has_a_box(reached):
    wanted = set(declared(Case))
    assert {("night", "date"), ("measured_under", "moon", "altitude"), ("sky", "lamps"), ("moon", "separation"),
            ("routine", "counts", "*", "taken"), ("doubt", "lamp_mix")} <= wanted  # fmt: skip
    assert wanted - reached == set()
