"""Lamps that a plan's own rates tell: the sky of filters that were not measured, its range, what is said of it."""

import dataclasses
import json
import math
from pathlib import Path

import numpy as np
import pytest

from expocalc.__main__ import main
from expocalc.budget.doubt import Doubt
from expocalc.budget.drawn import draw
from expocalc.budget.lamps_told import lamps_told
from expocalc.budget.leverage import leverage
from expocalc.budget.passed import passed
from expocalc.budget.rates import rates, rates_at
from expocalc.gear.image import pixel_scale_arcsec
from expocalc.gear.response import response
from expocalc.light.lamp_shares import USUAL_LAMPS, LampsFromRates
from expocalc.light.sky import Sky
from expocalc.plan import Plan, PlanError
from workbook.parts.reading import on_reading
from workbook.sheets.card import to_card
from workbook.sheets.night import night
from workbook.sub_length.knobs import shown

PLANS = Path(__file__).parents[1] / "notebooks/plans"
FROM_RATES = {("sky", "lamps"): "from rates"}
SODIUM = {("sky", "lamps"): {"sodium-high-pressure": 1.0}}


@pytest.fixture(scope="module")
def mono():
    return Plan.read(PLANS / "mono-single-lines.toml")


@pytest.fixture(scope="module")
def many(mono):
    """The demo with three broad filters beside its two narrow ones."""
    broad = [
        {"name": name, "passbands": [{"centre": f"{nm} nm", "width": "90 nm"}], "wanted": ["H-alpha"]}
        for name, nm in (("blue", 450), ("green", 540), ("red", 640))
    ]
    filters = [*mono.values["filters"], *({k: v for k, v in one.items() if k != "wanted"} for one in broad)]
    return mono.with_values({("filters",): filters})


def e_s(plan, name, times=1.0):
    """What a test sub shows in a plan's town: electron/s by its model."""
    filter_ = next(one for one in plan.case.filters if one.name == name)
    return f"{times * float(rates(plan.case, filter_).sky_e_s[0])} electron/s"


def told(plan, town, *names, times=1.0):
    """The plan with the rates of a town, and its lamps to be told by them."""
    measured = {name: e_s(town, name, times) for name in names}
    return plan.with_values({**FROM_RATES, ("sky", "measured"): measured})


def sky(plan, name):
    return float(rates(plan.case, next(one for one in plan.case.filters if one.name == name)).sky_e_s[0])


TOWNS = (
    {"sodium-high-pressure": 1.0},
    {"led-2700K": 0.3, "led-3000K": 0.7},
    {"led-5000K": 0.7, "mercury": 0.3},
    {"metal-halide": 0.5, "led-4000K": 0.5},
    dict(USUAL_LAMPS),
)


def test_rates_foretell_the_sky_of_each_filter_from_the_others(many):
    """On towns of named lamps: nearer to the truth than the usual lamps at the right reading, as near as said."""
    names = [one.name for one in many.case.filters]
    by_rates, by_usual, sigmas = [], [], []
    for lamps in TOWNS:
        town = many.with_values({("sky", "lamps"): lamps})
        for name in names:
            found = told(many, town, *(other for other in names if other != name))
            case, truth = found.case, sky(town, name)
            filter_ = next(one for one in case.filters if one.name == name)
            low, _, high = case.sky.told.sky_through(response(case.telescope, filter_, case.camera))
            by_rates.append(math.log(sky(found, name) / truth))
            by_usual.append(math.log(sky(many, name) / truth))
            sigmas.append(by_rates[-1] / (math.log(high / low) / 2))
    assert np.sqrt(np.mean(np.square(by_rates))) < 0.7 * np.sqrt(np.mean(np.square(by_usual)))
    assert np.sqrt(np.mean(np.square(sigmas))) < 1.3, "the interval holds what it says"
    assert max(map(abs, sigmas)) < 3


def test_what_was_measured_stays_what_was_measured(many):
    found = told(many, many, "blue", "red", times=1.2)
    for name in ("blue", "red"):
        assert sky(found, name) == pytest.approx(1.2 * sky(many, name), rel=1e-6)


def test_the_plan_s_sky_is_the_middle_of_what_the_rates_say(many):
    found = told(many, many.with_values(SODIUM), "green", "red")
    case = found.case
    for filter_ in case.filters:
        curve = response(case.telescope, filter_, case.camera)
        low, middle, high = case.sky.told.sky_through(curve)
        assert low < case.sky.through(curve) < high
        assert case.sky.through(curve) == pytest.approx(middle, rel=0.05)
        assert case.sky.spectrum.through(curve) == pytest.approx(case.sky.through(curve), rel=0.01)


def test_what_the_listed_lamps_do_not_explain_is_in_the_plan_s_sky_too(many):
    """Three rates that no mix of the list fits well: what is over in red is over in H-alpha, everywhere the same."""
    overhead = many.with_values({("target", "altitude"): "90 deg"})
    plain = told(overhead, overhead, "blue", "green", "red")
    measured = {**plain.values["sky"]["measured"], "red": e_s(overhead, "red", 1.5)}
    found = overhead.with_values({**FROM_RATES, ("sky", "measured"): measured})
    case, filter_ = found.case, found.case.filters[0]
    curve = response(case.telescope, filter_, case.camera)
    pixel = case.telescope.area_cm2 * pixel_scale_arcsec(case.telescope, case.camera) ** 2
    assert filter_.name == "H-alpha 5 nm"
    assert sky(found, filter_.name) == pytest.approx(pixel * case.sky.through(curve), rel=1e-9)
    assert case.sky.told.unlisted_mean(curve) > 1.02
    by_wavelength = case.sky.told.unlisted_curve(656.3)
    assert by_wavelength == pytest.approx(case.sky.told.unlisted_mean(curve), rel=1e-3)
    low, middle, high = case.sky.told.sky_through(curve)
    assert low < case.sky.through(curve) < high
    assert case.sky.through(curve) == pytest.approx(middle, rel=0.05)
    assert plain.case.sky.told.unlisted_mean(curve) == pytest.approx(1, abs=0.02)


def test_the_draws_are_the_towns_that_the_rates_allow(many):
    """Ends of the sky in the draws, all else exactly known, are those of the posterior."""
    found = told(many, many, "green", "red")
    case, filter_ = found.case, found.case.filters[1]
    doubt = Doubt(**{
        name: 1 for name in (
            "natural_sky", "narrow_sky", "target", "efficiency", "extinction", "dark_current", "read_noise",
            "seeing", "filter_width", "moonlight", "flatness", "measured_sky",
        )
    }, lamp_colour=0, filter_centre="0 nm", practice="none")  # fmt: skip
    rng = np.random.default_rng(1)
    numbers = {}
    moment, off = draw(case, doubt, lambda name: numbers.setdefault(name, rng.standard_normal(20_000)))
    drawn = rates_at(passed(case, filter_, doubt), moment, off).model_sky_e_s[:, 0]
    ends = np.quantile(drawn, [0.1587, 0.5, 0.8413]) / sky(found, filter_.name)
    curve = response(case.telescope, filter_, case.camera)
    said = np.array(case.sky.told.sky_through(curve)) / case.sky.through(curve)
    assert ends == pytest.approx(said, rel=0.03)
    exact, off = draw(case, Doubt.none(), lambda _: np.zeros(3))
    assert rates_at(passed(case, filter_, doubt), exact, off).model_sky_e_s[:, 0] == pytest.approx(
        sky(found, filter_.name), rel=1e-6
    )


def test_the_range_counts_the_rates_and_not_the_doubts_they_take_the_place_of(many):
    row = next(row for row in told(many, many, "green", "red").spread().rows if row.filter_name == "O III 5 nm")
    assert row.shares["lamps_told"] > 0.003
    assert not {"sky_reading", "lamp_mix", "lamp_colour", "natural_sky", "narrow_sky"} & set(row.shares)


def test_a_measurement_under_the_moon_and_lower_down_tells_the_same_town(many):
    """Rates of one town under a full Moon and at 35 degrees, brought to the zenith."""
    moon = {"illuminated": 1.0, "altitude": "40 deg", "separation": "70 deg"}
    there = many.with_values({("moon",): moon, ("target", "altitude"): "35 deg"})
    names = ("blue", "green", "red", "H-alpha 5 nm")
    under = {("measured_under",): {"altitude": "35 deg", "moon": moon}}
    here = told(many, many, *names)
    seen_there = {name: e_s(there, name) for name in names}
    brought = many.with_values({**FROM_RATES, ("sky", "measured"): seen_there, **under})
    assert sky(there, "blue") > 2 * sky(many, "blue"), "the Moon must be felt"
    first, other = (plan.case.sky.told for plan in (here, brought))
    for one, two in zip(first.measured, other.measured, strict=True):
        assert two.photons == pytest.approx(one.photons, rel=0.01)
        assert two.log_sd >= one.log_sd
    with pytest.raises(PlanError, match="that one town can have"):  # forgotten conditions
        many.with_values({**FROM_RATES, ("sky", "measured"): seen_there})


def test_a_darker_reading_of_the_same_town_is_a_darker_sky(many, mono):
    """What a lever asks: the town stays, its light fades in V as the reading does."""
    read = told(many, many, "green", "red").case.sky
    darker = dataclasses.replace(read, zenith_brightness=f"{read.zenith_brightness.value + 1} mag/arcsec2")
    assert darker.told is read.told
    assert darker.brightness("bessell-V") - read.brightness("bessell-V") == pytest.approx(1, abs=0.1)
    levers = {one.key: one for one in leverage(told(mono, mono, "H-alpha 5 nm").case)}
    assert levers["darker"].saved_h > 0


def test_a_noun_takes_back_lamps_from_rates(many):
    found = told(many, many, "green").case.sky
    again = Sky(zenith_brightness=found.zenith_brightness, lamps=found.lamps, reading_band=found.reading_band)
    assert again.lamps is found.lamps
    assert sum(again.lamps.values()) == pytest.approx(1)
    assert dict(LampsFromRates()) == dict(USUAL_LAMPS)


def test_other_sections_leave_the_town_alone_and_its_own_tell_it_anew(many):
    found = told(many, many, "green", "red")
    assert found.with_values({("goal", "snr"): 20}).case.sky is found.case.sky
    named = found.with_values(SODIUM)
    assert named.case.sky.told is None
    wider = found.with_values({("telescope", "aperture"): "150 mm"})
    assert wider.case.sky.told is not found.case.sky.told
    assert sky(wider, "O III 5 nm") < 1.05 * sky(found, "O III 5 nm") * (150 / 102) ** 2 / 1.5
    again = Plan.parse(found.to_toml(), found.folder)
    assert sky(again, "O III 5 nm") == pytest.approx(sky(found, "O III 5 nm"), rel=1e-9)


def test_a_mosaic_gives_a_rate_for_each_colour():
    colour = Plan.read(PLANS / "colour-dual-band.toml")
    name = colour.case.filters[0].name
    by_colour = dict(zip("RGB", rates(colour.case, colour.case.filters[0]).sky_e_s, strict=True))
    measured = {name: {one: f"{value} electron/s" for one, value in by_colour.items()}}
    found = colour.with_values({**FROM_RATES, ("sky", "measured"): measured})
    assert [one.name for one in found.case.sky.told.measured] == [*(f"{name} {one}" for one in "RGB"), "the reading"]
    assert max(map(abs, found.case.sky.told.residuals.values())) < 0.2


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "two rates of the sky or more, got the reading alone"),
        ({("sky", "measured"): {"H-alpha 5 nm": "50 electron/s"}}, "that one town can have: the reading is 0."),
        ({("sky", "measured"): {"H-alpha": "0.1 electron/s"}}, 'has no filter "H-alpha"; did you mean'),
        ({("sky", "lamps"): "from rate"}, 'or "from rates" where what you measured is to tell them'),
    ],
)
def test_too_few_rates_and_rates_that_contradict_are_refused_in_a_sentence(mono, changes, said):
    with pytest.raises(PlanError, match=said) as error:
        mono.with_values({**FROM_RATES, **changes})
    assert error.value.place[0] == "sky"
    assert "\n" not in str(error.value)


def test_what_is_said_is_what_the_numbers_say(many):
    found = lamps_told(told(many, many.with_values(SODIUM), "blue", "green", "red", "H-alpha 5 nm").case)
    first = found.foretold[0]
    assert (first.name, first.in_plan, first.better) == ("O III 5 nm", True, True)
    assert first.low > first.middle > first.high, "magnitudes"
    text = " ".join(found.sentences)
    assert "5 rates tell the lamps" in text
    assert "share of the town's light is that of sodium-high-pressure" in text
    assert "The sky of O III 5 nm is foretold to" in text
    one = lamps_told(told(many, many, "green").case)
    assert one.next_one is not None
    after = lamps_told(told(many, many, "green", one.next_one[0]).case) if one.next_one[0] in sky_names(many) else None
    assert one.next_one[1] < one.foretold[0].error
    if after is not None:
        assert after.foretold[0].error < one.foretold[0].error


def sky_names(plan):
    return [one.name for one in plan.case.filters]


def test_a_dual_band_filter_alone_does_not_tell_h_beta_and_says_so():
    colour = Plan.read(PLANS / "colour-dual-band.toml")
    name = colour.case.filters[0].name
    by_colour = dict(zip("RGB", rates(colour.case, colour.case.filters[0]).sky_e_s, strict=True))
    measured = {name: {one: f"{value} electron/s" for one, value in by_colour.items()}}
    found = lamps_told(colour.with_values({**FROM_RATES, ("sky", "measured"): measured}).case)
    beta = next(one for one in found.foretold if one.name.startswith("H-beta"))
    assert not beta.better
    assert any("For H-beta" in one and "the usual ones are as good" in one for one in found.sentences)
    assert found.next_one[0] == "a broad blue filter"


def test_command_json_and_verdict_say_it(many, tmp_path, capsys):
    path = tmp_path / "plan.toml"
    found = told(many, many, "green", "red")
    found.save(path)
    assert main([str(path)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Lamps from rates: 3 rates tell the lamps" in out
    assert "The sky rests on the lamps that 3 measured rates tell." in out
    assert main([str(path), "--json"]) == 0
    lamps = json.loads(capsys.readouterr().out)["lamps_from_rates"]
    assert {one["name"] for one in lamps["rates"]} == {"green", "red", "the reading"}
    assert "lamps_from_rates" not in json.loads(_json(many, tmp_path, capsys))


def _json(plan, tmp_path, capsys):
    path = tmp_path / "other.toml"
    plan.save(path)
    assert main([str(path), "--json"]) == 0
    return capsys.readouterr().out


def test_maps_cards_and_knobs_hold_with_lamps_from_rates(many):
    """A map over many skies can't keep rates of one of them: the lamps that they told stay, by name."""
    found = told(many, many, "green", "red")
    assert shown(found, "O III 5 nm")["sky"].value == pytest.approx(19.1, abs=1e-6), "the reading, not the fit"
    on = found.with_values(on_reading(found))
    assert on.case.sky.told is None
    assert sum(on.case.sky.lamps.values()) == pytest.approx(1, abs=1e-3)
    assert "from rates" not in str(on.values["sky"]["lamps"])
    card = to_card(found, found.solve(), found.spread())
    assert "O III 5 nm" in card
    sheet = night(found.case, found.solve(), found.spread()).sky
    assert "lamps from these rates" in sheet
