"""What a frozen class shares with the dataclasses of Python, which it takes the place of."""

import copy
import dataclasses
import inspect
import pickle
import subprocess
import sys
from functools import cached_property

import numpy as np
import pytest

from expocalc.base.frozen import Frozen
from expocalc.gear.telescope import Telescope


class Point(Frozen):
    x: float
    tags: dict[str, int] = dataclasses.field(default_factory=dict)
    y: float = 0.0

    @cached_property
    def far(self):
        return float(np.hypot(self.x, self.y))


@dataclasses.dataclass(frozen=True, eq=False, kw_only=True)
class Alike:
    x: float
    tags: dict[str, int] = dataclasses.field(default_factory=dict)
    y: float = 0.0


@pytest.mark.parametrize("given", [{"x": 1.0}, {"x": 1.0, "y": 2.0}, {"y": 3.0, "x": 1.0, "tags": {"a": 1}}])
def test_it_holds_what_a_dataclass_holds(given):
    mine, theirs = Point(**given), Alike(**given)
    assert vars(mine) == vars(theirs)
    assert repr(mine) == repr(theirs).replace("Alike", "Point")
    assert dataclasses.asdict(mine) == dataclasses.asdict(theirs)
    assert [f.name for f in dataclasses.fields(mine)] == [f.name for f in dataclasses.fields(theirs)]


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({}, "'x'"),
        ({"y": 1.0}, "'x'"),
        ({"x": 1.0, "z": 2.0}, "'z'"),
        ({"z": 1.0}, "'x'|'z'"),
        ({"y": 1, "z": 2}, "'x'|'z'"),
    ],
)
def test_what_is_missing_or_too_much_is_named(given, told):
    with pytest.raises(TypeError, match=told):
        Point(**given)
    with pytest.raises(TypeError):
        Alike(**given)


def test_values_have_names():
    with pytest.raises(TypeError):
        Point(1.0)


def test_nothing_of_it_changes_but_what_it_keeps_for_itself():
    point = Point(x=3.0, y=4.0)
    for change in (lambda: setattr(point, "x", 1.0), lambda: setattr(point, "new", 1), lambda: delattr(point, "y")):
        with pytest.raises(dataclasses.FrozenInstanceError, match="cannot"):
            change()
    assert point.far == 5.0
    assert (point.x, point.y) == (3.0, 4.0)
    moved = dataclasses.replace(point, x=0.0)
    assert (moved.x, moved.y, moved.far) == (0.0, 4.0, 4.0)


def test_what_is_made_for_one_is_not_shared():
    one, other = Point(x=1.0), Point(x=1.0)
    assert one.tags == {}
    assert one.tags is not other.tags


def test_each_equals_itself_alone():
    one, other = Point(x=1.0), Point(x=1.0)
    assert one == one
    assert one != other
    assert len({one, other}) == 2


@pytest.mark.parametrize("again", [copy.copy, copy.deepcopy, lambda one: pickle.loads(pickle.dumps(one))])
def test_it_can_be_copied_and_sent(again):
    point = Point(x=1.0, tags={"a": 1})
    assert vars(again(point)) == vars(point)


def test_help_shows_its_keywords():
    assert list(inspect.signature(Point).parameters) == ["x", "tags", "y"]
    kinds = {one.kind for one in inspect.signature(Telescope).parameters.values()}
    assert kinds == {inspect.Parameter.KEYWORD_ONLY}
    assert inspect.signature(Telescope).parameters["aperture"].default is inspect.Parameter.empty
    assert "aperture : Quantity or str" in inspect.getdoc(Telescope)


def test_nouns_do_without_docstrings():
    code = (
        "from expocalc.gear.telescope import Telescope\n"
        "print('Parameters' in Telescope.__doc__, Telescope(aperture='80 mm', focal_length='0.5 m').aperture)"
    )
    said = subprocess.run([sys.executable, "-OO", "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout == "False 80.0 mm\n"
