"""Which light is wanted through which filter, and what each light asks for."""

from pathlib import Path

import numpy as np
import pytest

from expocalc.budget.rates import rates
from expocalc.budget.split import split
from expocalc.budget.stack import snr_per_patch
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.plan import Plan, PlanError, as_json
from workbook.sub_length.model import Picture

PLANS = Path(__file__).resolve().parents[1] / "notebooks/plans"
LINES_AND_HALO = [
    {"line": "H-alpha", "brightness": "12 R"},
    {"line": "O III", "brightness": "20 R"},
    {"continuum": "26.5 mag/arcsec2", "snr": 5, "patch": "60 arcsec"},
]
DUAL = {
    "name": "Dual",
    "passbands": [{"centre": "656.3 nm", "width": "7 nm"}, {"centre": "500.7 nm", "width": "7 nm"}],
}
BROAD = {"name": "Broad", "passbands": [{"centre": "550 nm", "width": "280 nm"}]}


def plan(dual=None, broad=None):
    filters = [one if wanted is None else {**one, "wanted": wanted} for one, wanted in ((DUAL, dual), (BROAD, broad))]
    colour = Plan.read(PLANS / "colour-dual-band.toml")
    even = {("routine", "background_flatness"): "perfect"}  # else the halo is out of reach at the assumed one
    return colour.with_values({("filters",): filters, ("target", "light"): LINES_AND_HALO} | even)


@pytest.fixture(scope="module")
def sound():
    return plan(["H-alpha", "O III"], ["continuum"])


def test_each_filter_has_rows_for_what_it_is_wanted_for_alone(sound):
    rows = {(row.filter_name, row.light) for row in sound.solve().rows}
    assert rows == {("Dual", "H-alpha"), ("Dual", "O III"), ("Broad", "continuum")}
    assert {(row.filter_name, row.light) for row in plan().solve().rows} > rows


def test_two_projects_in_one_plan_give_two_sound_answers(sound):
    """The lines' hours in the dual band and the halo's in the broadband, instead of the halo through 14 nm."""
    lines, halo = sound.solve().filters
    assert lines.neediest.light in ("H-alpha", "O III")
    assert halo.neediest.light == "continuum"
    assert lines.kept_h < 50
    assert halo.kept_h < 50
    assert [one.kept_h for one in plan().solve().filters] == [None, None], "what nobody wants would set the hours"


def test_light_that_is_not_wanted_is_noise_all_the_same(sound):
    """A filter's answer does not change when a light is taken from what it is for, but for its own row."""
    alone = sound.with_values({("filters", 0, "wanted"): ["H-alpha"], ("routine", "sub_length"): "120 s"})
    both = sound.with_values({("routine", "sub_length"): "120 s"})
    (row,) = [one for one in alone.solve().rows if one.filter_name == "Dual"]
    assert row == next(one for one in both.solve().rows if (one.filter_name, one.light) == ("Dual", "H-alpha"))
    without = alone.with_values({("target", "light"): [LINES_AND_HALO[0], LINES_AND_HALO[2]]})
    assert without.solve().rows[0].kept_h < row.kept_h, "light that does not arrive makes no noise"


def test_a_light_has_its_own_goal_and_patch(sound):
    row = next(one for one in sound.solve().rows if one.light == "continuum")
    assert (row.goal_snr, row.patch_arcsec) == (5, 60)
    case = sound.case
    rate = rates(case, case.filters[1])
    patch, habits = patch_of(case, rate, "continuum", row.sub_s), habits_of(case, rate.scale_arcsec)
    assert float(patch.side_px) == pytest.approx(60 / row.scale_arcsec_px)
    assert float(snr_per_patch(patch, habits, row.kept)) >= 5 > float(snr_per_patch(patch, habits, row.kept - 1))
    others = [one for one in sound.solve().rows if one.light != "continuum"]
    assert {(one.goal_snr, one.patch_arcsec) for one in others} == {(10, 30)}


def test_a_goal_written_beside_the_light_is_the_goal_of_the_plan():
    """The same numbers, whether the goal stands in its section or beside the only light."""
    mono = Plan.read(PLANS / "mono-single-lines.toml")
    beside = [{"line": "H-alpha", "brightness": "12 R", "snr": 7, "patch": "25 arcsec"}]
    plain = mono.with_values(
        {
            ("target", "light"): [{"line": "H-alpha", "brightness": "12 R"}],
            ("goal", "snr"): 7,
            ("target", "patch"): "25 arcsec",
        }
    )
    own = mono.with_values({("target", "light"): beside})
    assert own.solve().rows[0] == plain.solve().rows[0]
    own, plain = (one.with_values({("filters",): one.values["filters"][:1]}) for one in (own, plain))
    assert as_json(own.solve(), own.spread()) == as_json(plain.solve(), plain.spread())
    assert split(own.case, 5.0) == split(plain.case, 5.0)
    np.testing.assert_array_equal(Picture(own, "H-alpha 5 nm").curves, Picture(plain, "H-alpha 5 nm").curves)


def test_hours_are_shared_out_for_what_is_wanted(sound):
    shared = split(sound.case, 20.0)
    assert set(shared.snr) == {("Dual", "H-alpha"), ("Dual", "O III"), ("Broad", "continuum")}
    weakest = min(snr / sound.case.goal_of(light) for (_, light), snr in shared.snr.items())
    assert weakest == pytest.approx(shared.level, rel=1e-6)


def test_ranges_are_of_what_is_wanted(sound):
    assert {(row.filter_name, row.light) for row in sound.spread().rows} == {
        ("Dual", "H-alpha"),
        ("Dual", "O III"),
        ("Broad", "continuum"),
    }


def test_a_filter_that_passes_nothing_of_what_it_is_for_says_so(sound):
    none = sound.with_values({("target", "light"): [*LINES_AND_HALO, {"line": "S II", "brightness": "9 R"}]})
    none = none.with_values({("filters", 0, "wanted"): ["S II"]})
    dual = none.solve().filters[0]
    assert dual.neediest.light is None
    assert "none of the light that it is wanted for (S II)" in dual.verdict


@pytest.mark.parametrize(
    ("wanted", "words"),
    [(["H-alfa"], 'did you mean "H-alpha"?'), (["star"], "it has H-alpha, O III, continuum")],
)
def test_an_unknown_light_is_named(sound, wanted, words):
    with pytest.raises(PlanError, match="which the target does not have") as refusal:
        sound.with_values({("filters", 0, "wanted"): wanted})
    assert words in str(refusal.value)
    text = sound.to_toml().replace('["H-alpha", "O III"]', str(wanted).replace("'", '"'))
    with pytest.raises(PlanError, match=r"\(line \d+\)"):
        Plan.parse(text, PLANS)


@pytest.mark.parametrize(
    ("name", "width", "shown"),
    [
        ("H-alpha 5 nm", "3 nm", "H-alpha 5 nm (now 3 nm)"),
        ("H-alpha 5 nm", "5 nm", "H-alpha 5 nm"),
        ("H-alpha 5,0nm", "5 nm", "H-alpha 5,0nm"),
        ("H-alpha", "3 nm", "H-alpha"),
    ],
)
def test_a_filter_keeps_its_name_and_says_where_its_width_is_another(name, width, shown):
    mono = Plan.read(PLANS / "mono-single-lines.toml")
    one = mono.with_values(
        {("filters",): [{"name": name, "passbands": [{"centre": "656.3 nm", "width": width, "peak": 0.88}]}]}
    )
    found = one.solve().filters[0]
    assert found.filter_name == name
    assert found.verdict.startswith(f"{shown}: ")
    assert Picture(one, name).ends[0].label.replace("\n", " ").startswith(f"{shown}: ")
