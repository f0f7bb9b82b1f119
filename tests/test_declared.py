"""One declaration a field: complete, true to the reader, shown in the help, and a noun takes back what it holds."""

import dataclasses
import importlib
import math
import pkgutil
import re

import astropy.units as u
import numpy as np
import pytest
import tomlkit
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

import expocalc
from expocalc.base.curve import Curve
from expocalc.base.field import KINDS, MISSING, fields_of
from expocalc.base.noun import Noun
from expocalc.budget.leverage import leverage
from expocalc.budget.routine import Routine
from expocalc.gear.camera import Camera
from expocalc.gear.filter import Filter
from expocalc.gear.passband import Passband
from expocalc.gear.telescope import Telescope
from expocalc.light.lights import LineLight
from expocalc.light.site import Site
from expocalc.light.sky import Sky
from expocalc.plan import Plan
from expocalc.plan.keys import keys_markdown, keys_text, plan_tables
from tests.test_bad_input import FOUND, WHOLE

for module in pkgutil.walk_packages(expocalc.__path__, "expocalc."):
    importlib.import_module(module.name)
NOUNS = sorted(Noun.__subclasses__(), key=lambda noun: noun.__name__)
DECLARED = [(noun, field) for noun in NOUNS for field in fields_of(noun)]
EVERY = [pytest.param(field, id=f"{noun.__name__}.{field.name}") for noun, field in DECLARED]


def test_every_field_is_declared_with_all_that_a_form_asks():
    assert len(NOUNS) >= 16
    for noun in NOUNS:
        assert [field.name for field in fields_of(noun)] == [field.name for field in dataclasses.fields(noun)]
    for noun, field in DECLARED:
        which = f"{noun.__name__}.{field.name}"
        assert field.kind in KINDS, which
        assert field.meaning.endswith((".", "!")), which
        assert field.meaning[:1].isupper(), which
        assert field.meaning.count(". ") == 0, f"{which}: one sentence"
        assert len(field.meaning.split()) >= 3, which
        assert field.origin, which
        assert not field.origin.endswith("."), which
        assert (field.unit != "") == (field.kind == "quantity"), which
        assert bool(field.nouns) <= (field.kind in ("table", "tables", "list")), which
        assert "|" not in keys_markdown().replace("| ", "").replace(" |", ""), "a bar would end a cell"


def beyond(field):
    """Numbers just outside the declared range, and at its ends as far as they are allowed."""
    low = field.minimum if field.minimum is not None else field.above
    high = field.maximum if field.maximum is not None else field.below
    if low is not None:
        yield (low, field.minimum is not None)
        yield (low - max(1e-3, 1e-6 * abs(low)), False)
    if high is not None:
        yield (high, field.maximum is not None)
        yield (high + max(1e-3, 1e-6 * abs(high)), False)


@pytest.mark.parametrize(
    "field", [one for one in EVERY if one.values[0].kind != "table"]
)  # whose range is its entries'
def test_the_reader_keeps_to_the_declared_range(field):
    for number, allowed in beyond(field):
        value = u.Quantity(number, field.unit) if field.unit else number
        if allowed:
            field.read(field.name, value)
        else:
            with pytest.raises(ValueError, match=r"must|between"):
                field.read(field.name, value)


@pytest.mark.parametrize("field", EVERY)
def test_words_examples_and_defaults_are_read(field):
    if field.kind in ("choice", "curve") or field.unit:
        for word in field.choices:
            field.read(field.name, word)
    if field.default not in (MISSING, None):
        field.read(field.name, field.default)
    examples = re.split(r' or (?=")| or the factor ', field.example) if field.example else []
    for example in examples:
        field.read(field.name, tomlkit.parse(f"x = {example}").unwrap()["x"])


@pytest.mark.parametrize("noun", NOUNS, ids=lambda noun: noun.__name__)
def test_the_help_of_a_noun_is_its_declaration(noun):
    doc = noun.__doc__
    assert doc.count("Parameters\n") == 1
    flat = " ".join(doc.split())
    for field in fields_of(noun):
        assert f"{field.name} :" in flat
        assert field.meaning in flat
        assert field.allowed in flat or field.kind == "choice"


# --- a noun takes back what it holds ---


def held(noun):
    return {field.name: getattr(noun, field.name) for field in fields_of(type(noun))}


def same(one, other):
    """Whether two values of a noun's field are the same, down to the last digit."""
    if isinstance(one, Noun):
        return type(one) is type(other) and same(held(one), held(other))
    if isinstance(one, u.Quantity):
        return one.unit == other.unit and one.value == other.value
    if isinstance(one, Curve):
        return np.array_equal(one.wavelength_nm, other.wavelength_nm) and np.array_equal(one.value, other.value)
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    if hasattr(one, "items"):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    return type(one) is type(other) and one == other


@pytest.mark.parametrize("name", FOUND)
def test_a_noun_built_from_its_own_fields_is_the_same(name):
    noun = FOUND[name][1]
    assert same(type(noun)(**held(noun)), noun)
    assert same(dataclasses.replace(noun), noun)


def values(field):
    """Any value of a field, as text or number, most of them allowed."""
    low = next((end for end in (field.minimum, field.above) if end is not None), -1e3)
    high = next((end for end in (field.maximum, field.below) if end is not None), 1e3)
    numbers = st.floats(low, high)
    if field.choices and not field.unit:
        return st.sampled_from(field.choices)
    if field.unit:
        return numbers.map(lambda number: f"{number!r} {field.unit}")
    if field.kind == "whole":
        return st.integers(math.ceil(low), math.floor(high))
    return numbers if field.kind in ("number", "curve") else st.nothing()


PLACED = [(place, type(noun)) for place, noun in FOUND.values() if place and not isinstance(noun, Camera | Filter)]


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(data=st.data())
def test_any_noun_built_from_its_own_fields_is_the_same(data):
    place, noun = data.draw(st.sampled_from(PLACED))
    inner = WHOLE
    for step in place:
        inner = inner[step]
    fields = [field for field in fields_of(noun) if not field.nouns and field.kind not in ("text", "table", "list")]
    chosen = data.draw(st.lists(st.sampled_from(fields), unique_by=lambda field: field.name, min_size=1, max_size=4))
    given_values = dict(inner)
    for field in chosen:
        given_values[field.name] = data.draw(values(field))
    try:
        made = noun(**given_values)
    except (TypeError, ValueError):
        assume(False)
    assert same(noun(**held(made)), made)
    changed = dataclasses.replace(made)
    assert same(changed, made)


@pytest.mark.parametrize(
    "noun",
    [
        Sky(bortle=5),
        Sky(naked_eye_limit="5,1"),
        Sky(luminance="1.23456789012345678 mcd/m2", extinction=[[400, 0.5], [700, 0.1]]),
        Sky(
            zenith_brightness="19.123456789012345678 mag/arcsec2",
            measured={"a": "20 mag/arcsec2", "b": {"R": "1 e-/s"}},
        ),
        Site(horizon="0.7 rad", seeing="0.1234567890123456 arcmin"),
        Passband(standard="bessell-V"),
        Passband(table=[[500, 0.9], [520, 0.8]], designed_for="f/2,2"),
        Passband(centre="0.65628 um", width="49.87654321098765 Angstrom"),
        Telescope(aperture="10.16 cm", focal_length="0.61 m", throughput=[[400, 0.8], [700, 0.9]]),
        LineLight(line="O III", brightness="4e-18 erg/(s cm2 arcsec2)", companions={"H-beta": "30 %"}),
        Routine(sub_length="3 min"),
        Routine(sub_length="auto"),
    ],
    ids=lambda noun: type(noun).__name__,
)
def test_a_noun_of_another_kind_is_the_same_again(noun):
    assert same(type(noun)(**held(noun)), noun)


def test_a_sub_length_of_ones_own_does_not_keep_from_asking_what_helps():
    plan = Plan.read("notebooks/plans/mono-single-lines.toml").with_values({("routine", "sub_length"): "180 s"})
    assert plan.case.routine.sub_s == 180.0
    assert leverage(plan.case, plan.solve())


# --- the page of keys ---


def test_the_page_of_keys_has_every_table_and_key():
    text, marked = keys_text(), keys_markdown()
    assert {"[camera.gains.NAME]", "[[filters.passbands]]", "[[target.light]]"} < {t.header for t in plan_tables()}
    assert {table.noun for table in plan_tables()} == set(NOUNS)
    for table in plan_tables():
        assert table.meaning
        for field in table.fields:
            if not field.nouns:
                assert f"\n  {field.name} " in text
                assert f"| `{field.name}` | {field.meaning} |" in marked
    assert max(map(len, text.splitlines())) <= 100


def test_every_key_of_a_whole_plan_stands_in_the_listing():
    found = {(table.path, table.kind): {field.name for field in table.fields} for table in plan_tables()}
    for place, noun in FOUND.values():
        path = tuple(
            "*" if isinstance(step, int) or (at == 2 and place[:2] == ("camera", "gains")) else step
            for at, step in enumerate(place)
        )
        assert any(key[0] == path and names == set(held(noun)) for key, names in found.items()), place
