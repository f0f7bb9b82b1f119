"""The maps of hours: their numbers against the plan's own answers, and the places of their words."""

import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from expocalc.base.words import say_duration
from expocalc.budget.rates import rates
from expocalc.plan import Plan
from workbook.explore.hours_map import LEVELS_H, SKY, SUB_S, WIDTH, map_table
from workbook.explore.model import map_steps, no_map
from workbook.explore.view import MapFigure, Maps
from workbook.sub_length.knobs import changes
from workbook.sub_length.model import SUB_S as CURVE_S
from workbook.sub_length.model import Picture

NOTEBOOKS = Path(__file__).parents[1] / "notebooks"
MONO, COLOUR = "plans/mono-single-lines.toml", "plans/colour-dual-band.toml"


def worked_out(plan, name, kind):
    steps = map_steps(plan, name, kind)
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return end.value


@pytest.fixture(scope="module", params=itertools.product((MONO, COLOUR), (SKY, WIDTH)))
def shown(request):
    path, kind = request.param
    plan = Plan.read(NOTEBOOKS / path)
    return plan, worked_out(plan, plan.case.filters[0].name, kind)


def test_a_map_holds_the_answers_of_the_plans_that_it_stands_for(shown):
    plan, found = shown
    name, rng = found.filter_name, np.random.default_rng(1)
    for row, column in zip(rng.integers(0, len(found.up), 6), rng.integers(20, len(SUB_S), 6), strict=True):
        knob = "sky" if found.kind == SKY else "width"
        other = plan.with_values(changes(plan, name, knob, float(found.up[row])))
        other = other.with_values({("routine", "sub_length"): f"{SUB_S[column]:.6f} s"})
        needed = next(one for one in other.solve().filters if one.filter_name == name).clock_h
        at = found.hours[row, column]
        assert math.isnan(at) if needed is None else at == pytest.approx(needed, rel=1e-3)


def test_rows_are_near_enough_for_smooth_lines(shown):
    """Hours of a row lie near the mean of its neighbours', so that the lines that join them show no corners."""
    _, found = shown
    log_h = np.log(np.where(found.hours <= LEVELS_H[-1], found.hours, np.nan))
    if found.kind == WIDTH:
        assert np.diff(np.log(found.up)).max() < 0.09
        assert np.nanmedian(np.abs(log_h[1:-1] - (log_h[:-2] + log_h[2:]) / 2)) < 0.01


def test_the_plan_stands_on_its_map(shown):
    plan, found = shown
    one = plan.solve().filters[0]
    assert found.sub_s == one.sub_s
    row = [np.interp(np.log(one.sub_s), np.log(SUB_S), hours) for hours in found.hours]
    assert np.interp(found.up_here, found.up, row) == pytest.approx(one.clock_h, rel=0.03)
    assert 0 < found.row_of(found.up_here) < 1
    assert found.here == f"your plan: {say_duration(one.sub_s)}, {say_duration(3600 * one.clock_h)}"


def test_a_map_agrees_with_the_curves_to_a_sub(shown):
    plan, found = shown
    if found.kind == WIDTH:
        middle = int(np.abs(found.up - found.up_here).argmin())
        curve = Picture(plan, found.filter_name).curves[0]
        at = np.interp(np.log(SUB_S), np.log(CURVE_S), curve)
        both = (
            np.isfinite(at) & np.isfinite(found.hours[middle]) & (SUB_S > 90)
        )  # where the curve is steep, values between its points are not good to 1 %
        dead_s = plan.case.routine.dead_s
        assert (np.abs(found.hours[middle] - at)[both] <= (2.5 * (SUB_S + dead_s) / 3600 + 0.01 * at)[both]).all()


def test_edges_are_where_the_plan_has_its_bounds(shown):
    plan, found = shown
    row = plan.solve().filters[0].neediest
    edges = {edge.kind: edge for edge in found.edges}
    here = {kind: np.interp(found.row_of(found.up_here), [found.row_of(up) for up in found.up], edge.sub_s)
            for kind, edge in edges.items()}  # fmt: skip
    assert here["read noise"] == pytest.approx(row.sub_shortest_s, rel=0.05)
    assert np.interp(found.row_of(found.up_here), [found.row_of(up) for up in found.up], found.beyond) == pytest.approx(
        row.sub_longest_s, rel=0.05
    )
    assert edges["read noise"].words == "read noise adds 5 %"
    darker = found.kind == SKY
    assert (
        np.diff(edges["read noise"].sub_s) > 0
    ).all() == darker  # a darker sky asks for longer subs, a wider filter not


def test_words_cover_no_words_and_name_the_hours_of_their_line(shown):
    _, found = shown
    labels = found.labels
    assert {"here", "edge", "hours"} <= {label.kind for label in labels}
    assert sum(label.kind == "hours" for label in labels) >= 3
    for one, other in itertools.combinations(labels, 2):
        near = abs(one.row - other.row) < 0.08 and abs(math.log(one.sub_s / other.sub_s)) < 0.02
        assert not near or {one.align, other.align} == {"left", "right"}
    for label in labels:
        if label.kind == "hours":
            column = int(np.abs(np.log(SUB_S / label.sub_s)).argmin())
            rows = [found.row_of(up) for up in found.up]
            hours = math.exp(np.interp(label.row, rows, np.log(found.hours[:, column])))
            assert min(abs(math.log(hours / level)) for level in LEVELS_H) < 0.02
            low, high = found.sub_reach
            assert low <= label.sub_s <= high


def test_a_measured_sky_stands_where_its_reading_would_be():
    plan = Plan.read(NOTEBOOKS / MONO)
    name = plan.case.filters[0].name
    sky = float(rates(plan.case, plan.case.filters[0]).sky_e_s[0])
    same = worked_out(plan.with_values({("sky", "measured"): {name: f"{sky} electron/s"}}), name, SKY)
    brighter = worked_out(plan.with_values({("sky", "measured"): {name: f"{2 * sky} electron/s"}}), name, SKY)
    assert same.up_here == pytest.approx(19.1, abs=0.05)
    assert 0.5 < same.up_here - brighter.up_here < 1.0  # 0.75 mag, less what does not come from the town


@pytest.mark.parametrize("kind", [SKY, WIDTH])
def test_a_sky_that_another_filter_measured_leaves_the_map_as_it_is(kind):
    plan = Plan.read(NOTEBOOKS / MONO)
    first, second = (f.name for f in plan.case.filters)
    other = plan.with_values({("sky", "measured"): {second: "0.1 electron/s"}})
    assert np.array_equal(worked_out(other, first, kind).hours, worked_out(plan, first, kind).hours, equal_nan=True)


def test_a_camera_without_read_noise_has_a_map():
    plan = Plan.read(NOTEBOOKS / MONO)
    silent = plan.with_values({("camera", "gains", plan.case.camera.gain, "read_noise"): "0 electron"})
    assert worked_out(silent, plan.case.filters[0].name, SKY).labels


def test_what_has_no_map_says_why():
    plan = Plan.read(NOTEBOOKS / MONO)
    name = plan.case.filters[0].name
    assert no_map(plan, name, SKY) == no_map(plan, name, WIDTH) == ""
    table = plan.with_values({("filters", 0, "passbands"): [{"standard": "bessell-R"}]})
    assert "comes from a table" in no_map(table, name, WIDTH)
    dark = plan.with_values({("target", "light"): [{"line": "O III", "brightness": "20 R"}]})
    assert "none of the target's light" in no_map(dark, name, SKY)


def test_the_table_says_what_the_map_shows(shown):
    plan, found = shown
    table = map_table(found)
    assert table.head[1:] == ("10 s", "30 s", "60 s", "2 min", "5 min", "10 min", "30 min")
    assert len(table.rows) == (12 if found.kind == SKY else 13)
    assert all(word.endswith(("h", "min", "s", "never")) for row in table.rows for word in row[1:])
    del plan


def test_the_panel_draws_what_is_chosen_and_only_that():
    plan = Plan.read(NOTEBOOKS / MONO)
    maps = Maps()
    maps.show(plan, "O III 5 nm")
    assert maps.widget.layout.display == "none"
    maps.pick.value = "Map by sky"
    maps.look()
    figure = maps._figures[SKY]
    assert isinstance(figure, MapFigure)
    assert list(figure.here.data["up"]) == [19.1]
    assert maps.table.button.layout.display is None
    maps.show(plan.with_values({("sky", "zenith_brightness"): "20.5 mag/arcsec2"}), "H-alpha 5 nm")
    assert list(figure.here.data["up"]) == pytest.approx([20.5])
    maps.show(plan.with_values({("filters", 0, "passbands"): [{"standard": "bessell-R"}]}), "H-alpha 5 nm")
    maps.pick.value = "Map by filter width"
    maps.look()
    assert "comes from a table" in maps.said.value
    assert figure.widget.layout.display == "none"


@pytest.mark.parametrize("sub", ["0.2 s", "2 h"])
def test_a_sub_beyond_the_map_still_leaves_a_map(sub):
    plan = Plan.read(NOTEBOOKS / MONO).with_values({("routine", "sub_length"): sub})
    found = worked_out(plan, plan.case.filters[0].name, SKY)
    low, high = found.sub_reach
    assert SUB_S[0] <= low < high / 2 <= SUB_S[-1] / 2
    assert found.labels


def test_where_no_hours_will_do_the_map_says_so():
    faint = [{"line": "H-alpha", "brightness": "0.05 R"}]
    plan = Plan.read(NOTEBOOKS / MONO).with_values({("target", "light"): faint, ("goal", "snr"): 30})
    assert "never" in [label.kind for label in worked_out(plan, plan.case.filters[0].name, SKY).labels]
