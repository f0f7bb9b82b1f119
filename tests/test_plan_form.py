"""The form of a plan as text and numbers: what boxes read and show, what is missing, what goes together."""

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from expocalc.base.field import fields_of
from expocalc.budget.case import Case
from expocalc.budget.routine import Routine
from expocalc.gear.filter import Filter
from expocalc.gear.sensors import SENSORS
from expocalc.gear.telescope import Telescope
from expocalc.light.reading import BORTLE
from expocalc.light.sky import Sky
from expocalc.plan import Plan
from expocalc.plan.keys import plan_tables
from workbook.copies import shipped
from workbook.parts.units import Units, keep_units, kept_units, use_units
from workbook.plan.edit import edits
from workbook.plan.entry import read_entry, say_entry
from workbook.plan.gaps import gaps, say_gaps
from workbook.plan.model import box, hours_table, words
from workbook.plan.rules import GROUPS, spelled_out
from workbook.plan.usual import KINDS, LAMP_MIXES, filter_like
from workbook.plan.values import at, changed, put

DEMOS = [Plan.read(path) for path in sorted((shipped() / "plans").glob("[!.]*.toml"))]
BOXES = [(table, field) for table in plan_tables() for field in table.fields if not field.nouns]


_NAMES = {name for plan in DEMOS for name in plan.case.camera.gains}


def field_of(noun, name):
    return next(field for field in fields_of(noun) if field.name == name)


def examples(field):
    """Values of a plan file that a declaration gives as examples."""
    for text in re.split(r'(?<=") or (?=")|(?<=\d) or (?=\d)', field.example):
        try:
            yield tomllib.loads(f"value = {text}")["value"]
        except tomllib.TOMLDecodeError:
            yield text.strip('"')


def leaves(values, where=()):
    """Every table of a plan with its place."""
    if isinstance(values, dict):
        yield where, values
        for key, value in values.items():
            yield from leaves(value, (*where, key))
    elif isinstance(values, list):
        for number, value in enumerate(values):
            yield from leaves(value, (*where, number))


# Boxes


@pytest.mark.parametrize("field", [f for _, f in BOXES], ids=[f"{t.header}{f.name}" for t, f in BOXES])
def test_a_box_reads_back_what_it_shows(field):
    for value in [*examples(field), *field.choices[:3], field.default]:
        if isinstance(value, str | int | float | list | dict) and value != "" and field.kind != "table":
            try:
                field.read(field.name, value)
            except (TypeError, ValueError):
                continue  # an example of one way of several
            shown = say_entry(value, field)
            assert read_entry(field, shown) == value, shown


@pytest.mark.parametrize("plan", DEMOS, ids=lambda plan: plan.case.title)
def test_every_value_of_a_demo_is_reached_and_reads_back(plan):
    fields = {(*table.path, field.name): field for table, field in BOXES}
    values = spelled_out(plan.values)
    reached = 0
    for where, table in leaves(values):
        for key, value in table.items():
            field = fields.get((*("*" if isinstance(step, int) or step in _NAMES else step for step in where), key))
            if field is not None and where[:1] != ("target",):
                assert read_entry(field, say_entry(value, field)) == value, (where, key)
                reached += 1
    assert reached > 30
    assert not gaps(values)


@pytest.mark.parametrize(
    ("noun", "name", "text", "value"),
    [
        (Telescope, "aperture", "81", "81 mm"),
        (Telescope, "aperture", "8,1 cm", "8.1 cm"),
        (Telescope, "aperture", "4 in", "101.6 mm"),
        (Telescope, "aperture", '4"', "101.6 mm"),
        (Telescope, "aperture", "", None),
        (Telescope, "obstruction", "none", None),
        (Telescope, "throughput", "92 %", 0.92),
        (Telescope, "throughput", "400 0.8, 700 0.9", [[400.0, 0.8], [700.0, 0.9]]),
        (Telescope, "throughput", "400 0,8, 700 0,9", [[400.0, 0.8], [700.0, 0.9]]),
        (Telescope, "throughput", "400 0,8; 700 0,9", [[400.0, 0.8], [700.0, 0.9]]),
        (Sky, "bortle", "6", 6),
        (Filter, "wanted", "H-alpha, O III", ["H-alpha", "O III"]),
        (Filter, "wanted", '["H-alpha"]', ["H-alpha"]),
        (Routine, "darks", "None", "none"),
        (Sky, "luminance", "2,5", "2.5 mcd/m2"),
        (Sky, "extinction", "Town", "town"),
        (Sky, "lamps", "led-4000K 60 %, sodium-high-pressure 40 %", {"led-4000K": 0.6, "sodium-high-pressure": 0.4}),
        (Sky, "measured", "H-alpha 0,11", {"H-alpha": "0.11 electron/s"}),
        (Sky, "measured", '{ "Dual" = { R = "0.1 e-/s" } }', {"Dual": {"R": "0.1 e-/s"}}),
    ],
)
def test_boxes_take_what_people_type(noun, name, text, value):
    assert read_entry(field_of(noun, name), text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("14 °F", "-10 deg_C"),
        ("263.15 K", "263.15 K"),
        ("-10", "-10 deg_C"),
        ("−10 °C", "-10 deg_C"),
        ("14F", "-10 deg_C"),
    ],
)
def test_a_temperature_in_any_scale(text, value):
    camera = next(field for table, field in BOXES if table.path == ("camera",) and field.name == "temperature")
    assert read_entry(camera, text) == value
    assert camera.read("temperature", value).value == pytest.approx(-10)


@pytest.mark.parametrize(
    ("noun", "name", "text", "wanted"),
    [
        (Telescope, "aperture", "wide", ("Aperture", "wide")),
        (Telescope, "aperture", "-3", ("Aperture must be above 0 mm", "-3")),
        (Telescope, "aperture", "5000 in", ("Aperture must be at most 100000 mm", "5000 in")),
        (Telescope, "aperture", "1,234", ("thousands or decimals", "1,234")),
        (Telescope, "aperture", "none", ("Aperture", "none")),
        (Telescope, "aperture", "9" * 500, ("Aperture",)),
        (Sky, "bortle", "12", ("Bortle", "at most 9", "12")),
        (Sky, "bortle", "6.5", ("whole number", "6.5")),
        (Sky, "zenith_brightness", "19 mm", ("mag/arcsec2", "19 mm")),
        (Sky, "lamps", "candles 1", ("candles",)),
        (Sky, "lamps", "led-4000K 0.5", ("sum to 1",)),
        (Sky, "extinction", "[[[[", ("[[[[",)),
    ],
)
def test_an_error_names_the_box_and_repeats_what_was_typed(noun, name, text, wanted):
    with pytest.raises(ValueError) as refused:  # noqa: PT011 - the words are asserted below
        read_entry(field_of(noun, name), text)
    for word in wanted:
        assert word in str(refused.value)
    assert len(str(refused.value)) < 700


@given(st.text(max_size=60), st.sampled_from(BOXES))
def test_any_text_is_read_or_refused_in_words(text, chosen):
    _, field = chosen
    try:
        value = read_entry(field, text)
    except ValueError:
        return
    if value is not None and not (value == 0 and field.required):
        field.read(field.name, value)


@given(st.floats(0.4, 900), st.sampled_from(["inch", "mm"]))
def test_lengths_in_inches_are_the_same_lengths(length, unit):
    aperture, units = field_of(Telescope, "aperture"), Units(length=unit)
    value = read_entry(aperture, f"{length:.5g}", units)
    back = read_entry(aperture, say_entry(value, aperture, units), units)
    assert aperture.read("", back).value == pytest.approx(aperture.read("", value).value, rel=1e-5)
    assert aperture.read("", value).value == pytest.approx(float(f"{length:.5g}") * (25.4 if unit == "inch" else 1))


def test_units_are_kept_for_all_pages(tmp_path):
    keep_units(tmp_path, Units(length="inch", sky="mcd/m2"))
    assert kept_units(tmp_path) == Units(length="inch", sky="mcd/m2")
    for broken in ("", "{", "[]", '{"length": 3}', '{"length": "ell"}'):
        (tmp_path / ".expocalc-units.json").write_text(broken)
        assert kept_units(tmp_path) == Units()
    use_units(Units())


# What is missing


def test_nothing_lacks_everything_in_the_order_of_the_form():
    groups = [line.split(":")[0] for line in say_gaps(gaps({}))]
    assert groups == ["Sky and place", "Telescope", "Camera", "Filters", "Target and its light"]
    assert groups == [group.name for group in GROUPS if group.name in groups]


@pytest.mark.parametrize("plan", DEMOS, ids=lambda plan: plan.case.title)
def test_what_is_taken_out_of_a_plan_is_what_is_missing(plan):
    """A plan is complete where nothing is missing, and only there."""
    values = spelled_out(plan.values)
    for where, table in leaves(values):
        for key in table:
            if where[-1:] in (("lamps",), ("companions",)):
                continue  # a box holds them whole
            less = put(values, (*where, key), None)
            lacks = gaps(less)
            if lacks:
                assert all(gap.where[0] == (*where, key)[0] for gap in lacks), (where, key, lacks)
                continue
            plan.with_values({(section,): value for section, value in less.items()})


def test_a_begun_moon_asks_for_the_rest():
    values = put(DEMOS[0].values, ("moon", "altitude"), "30 deg")
    assert [gap.words for gap in gaps(values)] == ["illuminated or phase angle", "separation"]
    assert put(values, ("moon", "altitude"), None) == DEMOS[0].values


def test_each_section_of_a_plan_has_its_group():
    shown = [section for group in GROUPS for section in group.sections]
    assert sorted(shown) == sorted(field.name for field in fields_of(Case) if field.nouns)


# What goes together


@pytest.mark.parametrize("first", range(1, 9))
def test_a_span_of_classes_covers_both(first):
    changes = edits(field_of(Sky, "bortle"), ("sky",), f"{first}-{first + 1}", {"sky": {"bortle": 3}})
    sky = changed({"sky": {"bortle": 3}}, changes)["sky"]
    noun = Sky(**sky)
    low, high = (float(noun.zenith_brightness.value) + sign * float(noun.brightness_error.value) for sign in (-1, 1))
    assert (low, high) == pytest.approx((BORTLE[first + 1][0], BORTLE[first][1]))
    assert box(field_of(Sky, "bortle"), ("sky",), {"sky": sky}).text == f"{first}-{first + 1}"
    one = changed({"sky": sky}, edits(field_of(Sky, "bortle"), ("sky",), "5", {"sky": sky}))
    assert one == {"sky": {"bortle": 5}}
    typed = changed({"sky": sky}, edits(field_of(Sky, "zenith_brightness"), ("sky",), "20", {"sky": sky}))
    assert typed == {"sky": {"zenith_brightness": "20 mag/arcsec2"}}


def test_a_luminance_in_the_box_of_magnitudes_is_a_luminance():
    values = {"sky": {"zenith_brightness": "19 mag/arcsec2"}}
    changes = edits(field_of(Sky, "zenith_brightness"), ("sky",), "2.5 mcd/m2", values)
    assert changed(values, changes) == {"sky": {"luminance": "2.5 mcd/m2"}}


@given(st.floats(30, 400), st.floats(3, 12), st.floats(0.3, 3))
def test_focal_length_ratio_and_reducer_agree(aperture, ratio, factor):
    values = {"telescope": {"aperture": f"{aperture:.4f} mm"}}
    for name, text in (("focal_length", f"f/{ratio:.4f}"), ("reducer", f"{factor:.4f}")):
        values = changed(values, edits(field_of(Telescope, name), ("telescope",), text, values))
    found = Telescope(**values["telescope"])
    assert found.focal_ratio == pytest.approx(ratio * factor, rel=2e-3)
    alone = box(field_of(Telescope, "focal_length"), ("telescope",), values).text
    assert float(alone.split()[0]) == pytest.approx(aperture * ratio, rel=2e-3)
    without = changed(values, edits(field_of(Telescope, "reducer"), ("telescope",), "none", values))
    assert Telescope(**without["telescope"]).focal_ratio == pytest.approx(ratio, rel=2e-3)
    assert "reducer" not in without["telescope"]


def test_a_ratio_needs_the_aperture_first():
    with pytest.raises(ValueError, match="f/6, which needs the aperture first"):
        edits(field_of(Telescope, "focal_length"), ("telescope",), "f/6", {})


def test_a_filters_new_name_goes_along_with_its_measured_sky():
    values = put(DEMOS[1].values, ("sky", "measured"), {"H-alpha 5 nm": "0.1 electron/s"})
    name = next(field for table, field in BOXES if table.path == ("filters", "*") and field.name == "name")
    new = changed(values, edits(name, ("filters", 0), "Deep red", values))
    assert new["sky"]["measured"] == {"Deep red": "0.1 electron/s"}
    Plan.parse(DEMOS[1].text).with_values({("filters",): new["filters"], ("sky",): new["sky"]})


# Help to begin with


@pytest.mark.parametrize("kind", KINDS)
def test_a_usual_filter_makes_a_plan(kind):
    new = filter_like(kind, "7 nm")
    values = {**DEMOS[1].values, "filters": [new]}
    if kind == KINDS[-1]:
        assert gaps(values)
        return
    assert not gaps(values)
    assert DEMOS[1].with_values({("filters",): [new]}).solve().filters


@pytest.mark.parametrize("sensor", SENSORS.values(), ids=lambda one: one.name)
def test_a_published_sensor_says_what_it_lacks(sensor):
    camera = sensor.camera()
    assert sensor.source
    assert all(gap.where[:1] == ("camera",) for gap in gaps({**DEMOS[1].values, "camera": camera}))
    for gap in gaps({**DEMOS[1].values, "camera": camera}):
        camera = put({"camera": camera}, gap.where, _typed(gap.where[-1]))["camera"]
    assert DEMOS[1].with_values({("camera",): camera}).solve().filters


def _typed(name):
    rest = {"full_well": "50000 electron", "electrons_per_adu": 0.8, "read_noise": "2 electron"}
    dark = {"rate": "0.1 electron/s", "at": "0 deg_C", "doubles_every": "6 K"}
    return {**rest, **dark}[name]


def test_lamp_mixes_are_ones_that_a_sky_takes():
    for mix in LAMP_MIXES.values():
        assert Sky(bortle=6, lamps=dict(mix)).lamps


# The answer


@pytest.mark.parametrize("plan", DEMOS, ids=lambda plan: plan.case.title)
def test_the_answer_is_the_plans(plan):
    said = words(plan.values, plan)
    found = plan.solve()
    assert said.answer is not None
    for one in found.filters:
        assert one.filter_name in said.headline
        assert f"{one.shot:.0f} subs of" in " ".join(said.rest)
    assert len(hours_table(found).rows) == len(found.filters)


def test_a_filter_that_never_gets_there_has_no_hours():
    plan = DEMOS[1].with_values({("goal", "snr"): 1e5})
    said = words(plan.values, plan)
    assert "no number of hours" in said.headline
    assert "out of reach" in " ".join(said.rest)


def test_a_plan_whose_parts_do_not_fit_says_so():
    plan = DEMOS[1].with_values({("camera", "quantum_efficiency"): [[400, 0.5], [500, 0.5]]})
    said = words(plan.values, plan)
    assert said.answer is None
    assert said.headline.startswith("No answer yet")


def test_values_are_left_alone_by_a_change():
    values = {"filters": [{"name": "L", "passbands": [{}]}]}
    new = put(values, ("filters", 0, "passbands", 0, "centre"), "550 nm")
    assert values == {"filters": [{"name": "L", "passbands": [{}]}]}
    assert at(new, ("filters", 0, "passbands", 0, "centre")) == "550 nm"
    assert at(new, ("filters", 3, "name")) is None
    assert put(new, ("filters", 0, "passbands", 0, "centre"), None) == values


def test_a_narrow_filter_whose_hours_a_halo_sets_is_asked_what_it_is_for():
    colour = Plan.read(Path(__file__).parents[1] / "notebooks/plans/colour-dual-band.toml")
    both = [*colour.values["target"]["light"], {"continuum": "26 mag/arcsec2"}]
    plan = colour.with_values({("target", "light"): both})
    asked = "It counts for continuum too: if it is not for that, say in its box “Wanted” what it is for."
    assert asked in " ".join(words(plan.values, plan).rest)
    told = plan.with_values({("filters", 0, "wanted"): ["H-alpha", "O III"]})
    assert asked not in " ".join(words(told.values, told).rest)
    assert asked not in " ".join(words(colour.values, colour).rest)
