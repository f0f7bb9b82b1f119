"""Lines on a filter's edge: named where they matter, silent where they do not."""

from pathlib import Path

import pytest

from expocalc.budget.edges import edges
from expocalc.budget.rates import rates
from expocalc.plan import Plan, as_json
from workbook.hours.model import picture
from workbook.hours.verdict import words

PLANS = Path(__file__).parents[1] / "notebooks/plans"
SODIUM = {("sky", "lamps"): {"sodium-high-pressure": 1.0}}


@pytest.fixture(scope="module")
def mono():
    return Plan.read(PLANS / "mono-single-lines.toml").with_values(SODIUM)


def with_band(plan, **band):
    return plan.with_values({("filters",): [{"name": "narrow", "passbands": [band]}]})


def of(plan):
    return edges(plan.case, plan.case.filters[0])


def test_a_sodium_line_on_the_edge_of_an_o_iii_filter_is_named(mono):
    (edge,) = of(with_band(mono, centre="500.7 nm", width="5 nm"))
    assert edge.kind == "sodium"
    assert edge.wavelength_nm == pytest.approx(498.2, abs=0.3)
    assert edge.sentence.startswith("A sodium line at 498")
    assert "lies on the edge of this filter" in edge.sentence


def test_nitrogen_of_the_target_on_the_edge_is_named_with_what_it_changes(mono):
    plan, moved = (with_band(mono, centre=f"{nm} nm", width="4 nm") for nm in (656.3, 656.6))
    strong = {("target", "light"): [{"line": "H-alpha", "brightness": "12 R", "companions": {"N II": 1.0}}]}
    plan, moved = plan.with_values(strong), moved.with_values(strong)
    (edge,) = of(plan)
    assert (edge.kind, edge.of, edge.wavelength_nm) == ("nitrogen", "H-alpha", 658.35)
    before, after = (float(rates(p.case, p.case.filters[0]).extended["H-alpha"][0]) for p in (plan, moved))
    assert edge.change == pytest.approx(after / before - 1, abs=0.06)
    assert edge.sentence.startswith("A nitrogen line of the target at 658.4 nm lies on the edge of this filter: ")
    assert edge.sentence.endswith("more light of H-alpha.")
    assert of(plan.with_values({("target", "light"): [{"line": "H-alpha", "brightness": "12 R"}]})) == ()


def test_the_sentence_stands_in_the_verdict_and_so_in_json(mono):
    plan = with_band(mono, centre="500.7 nm", width="5 nm")
    (edge,) = of(plan)
    answer = plan.solve()
    assert edge.sentence in answer.filters[0].verdict
    assert edge.sentence in as_json(answer, plan.spread(answer))["filters"][0]["verdict"]
    assert edge.sentence in words(picture(plan, "narrow"), None).basis
    led = plan.with_values({("sky", "lamps"): {"led-4000K": 1.0}})
    assert "on the edge" not in led.solve().filters[0].verdict + words(picture(led, "narrow"), None).basis


@pytest.mark.parametrize(
    "band",
    [
        {"centre": "500.7 nm", "width": "2.5 nm"},  # well outside
        {"centre": "499 nm", "width": "15 nm"},  # well inside
        {"centre": "656.3 nm", "width": "5 nm"},  # no line near
    ],
)
def test_elsewhere_nothing_is_said(mono, band):
    assert of(with_band(mono, **band)) == ()


def test_without_sodium_lamps_nothing_is_said(mono):
    led = with_band(mono, centre="500.7 nm", width="5 nm").with_values({("sky", "lamps"): {"led-4000K": 1.0}})
    assert of(led) == ()


def test_under_the_darkest_sky_there_are_no_lamps_to_name(mono):
    dark = {("sky", "zenith_brightness"): "22 mag/arcsec2"}
    assert of(with_band(mono, centre="500.7 nm", width="5 nm").with_values(dark)) == ()


def test_the_change_is_that_of_the_plan_with_a_moved_filter(mono):
    plan, moved = (with_band(mono, centre=f"{nm} nm", width="5 nm") for nm in (500.7, 500.4))
    (edge,) = of(plan)
    before, after = (float(rates(p.case, p.case.filters[0]).sky_e_s[0]) for p in (plan, moved))
    assert edge.shift_nm == 0.3
    assert edge.change == pytest.approx(after / before - 1, abs=0.04)


def test_half_a_nanometre_no_longer_trebles_the_sky(mono):
    """With upright edges it did; a real filter's slopes take that down, the doubt of its centre carries the rest."""

    def times(shape):
        skies = [
            float(rates(p.case, p.case.filters[0]).sky_e_s[0])
            for p in (with_band(mono, centre=f"{nm} nm", width="5 nm", shape=shape) for nm in (501.0, 500.5))
        ]
        return skies[1] / skies[0]

    assert times("cavities") < 1.6 < times("box")
