"""A sky typed as the middle of a test sub: electrons, its ratio to the model, and the plan that then holds it."""

import runpy
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expocalc.budget.rates import rates
from expocalc.frames.tell.typed import sky_of_medians
from expocalc.plan import Plan
from workbook.hours.view import HoursPanel
from workbook.sub_length.view import SubLengthPanel

PLANS = Path(__file__).resolve().parents[1] / "notebooks/plans"
MONO, COLOUR = (Plan.read(PLANS / f"{name}.toml") for name in ("mono-single-lines", "colour-dual-band"))
RANDOM = runpy.run_path(str(Path(__file__).with_name("random_plans.py")))


def medians_of(plan, at, seconds, level, below):
    """What a sub shows under the model's own sky: the camera's words for it, by colour. [ADU]"""
    camera = plan.case.camera
    rate = rates(plan.case, plan.case.filters[at])
    more = float(camera.dark_e_s) if below == "bias" else 0.0
    electrons = (rate.model_sky_e_s + more) * seconds
    return dict(zip(camera.colours, level + electrons / camera.setting.electrons_per_adu, strict=True))


@pytest.mark.parametrize("plan", [MONO, COLOUR], ids=["mono", "colour"])
@pytest.mark.parametrize("below", ["bias", "dark"])
@given(seconds=st.floats(5, 120), level=st.floats(0, 2000))
@settings(max_examples=20, deadline=None)
def test_a_sub_under_the_models_sky_is_one_times_the_model(plan, below, seconds, level):
    found = sky_of_medians(
        plan.case, plan.case.filters[0].name, medians_of(plan, 0, seconds, level, below), level, seconds, below
    )
    assert list(found.ratio.values()) == pytest.approx([1.0] * len(plan.case.camera.colours), rel=1e-6)


def test_a_simulated_sub_tells_the_sky_that_made_it():
    """Poisson electrons, read noise, whole ADU: the typed median gives the rate back within its error."""
    rng = np.random.default_rng(3)
    camera, sky_e_s, seconds = MONO.case.camera, 0.31, 120.0
    setting = camera.setting
    light = rng.poisson((sky_e_s + float(camera.dark_e_s)) * seconds, 400_000)
    adu = np.round(500 + (light + rng.normal(0, 1.4, light.shape)) / setting.electrons_per_adu)
    found = sky_of_medians(MONO.case, MONO.case.filters[0].name, {"mono": float(np.median(adu))}, 500, seconds)
    # a whole step of the converter, and the third of an electron between median and mean
    assert found.sky_e_s["mono"] == pytest.approx(sky_e_s, abs=(setting.electrons_per_adu + 0.34) / seconds)


@pytest.mark.parametrize(
    ("medians", "below", "words"),
    [
        ({"mono": 400}, 500, "Median must lie between the bias's level, 500 ADU"),
        ({"mono": 64000}, 500, "top of the well"),
        ({"R": 600, "G": 700, "B": 650}, 500, "must be given for mono"),
    ],
)
def test_what_can_not_be_is_refused(medians, below, words):
    with pytest.raises(ValueError, match=words):
        sky_of_medians(MONO.case, MONO.case.filters[0].name, medians, below, 60.0)


@pytest.fixture(params=[SubLengthPanel, HoursPanel])
def panel(request, demo_folder):
    return request.param("plans/colour-dual-band.toml", demo_folder)


def fill(part, **texts):
    for name, text in texts.items():
        box = {"below": part.below, "seconds": part.seconds}.get(name) or part.medians[name]
        box.box.value = text


def test_typed_numbers_show_the_ratio_of_each_colour_and_go_into_the_plan(panel):
    part = panel.measured
    assert part.use.disabled
    fill(part, R="620", G="660,5", B="600", seconds="2 min")
    assert "red " in part.said.value
    assert " times what the plan expects" in part.said.value
    assert part.said.value.count("green") == 2, "rate and ratio"
    before = panel.plan.solve().filters[0].kept_h
    part.use.click()
    measured = panel.plan.values["sky"]["measured"]["Dual 6 nm"]
    assert measured["G"] == f"{(160.5 * 0.25 / 120 - float(panel.plan.case.camera.dark_e_s)):.4g} electron/s"
    rate = panel.plan.solve().filters[0].rates
    assert float(rate.sky_e_s[1]) == pytest.approx(part.found.sky_e_s["G"], rel=1e-3)
    assert panel.plan.solve().filters[0].kept_h != before
    assert "electron/s" in panel.folds._said["Sky by a test sub"]
    assert panel.store.unsaved
    part.forget.click()
    assert "measured" not in panel.plan.values["sky"]
    assert "measured_under" not in panel.plan.values
    assert panel.plan.solve().filters[0].kept_h == before


@pytest.mark.parametrize(
    ("box", "text", "words"),
    [
        ("G", "<b>much</b>", "Median in green must be a number"),
        ("G", "1,000", "thousands"),
        ("seconds", "2 parsec", "Test sub&#x27;s length"),
        ("seconds", "0", "above 0 s"),
        ("below", "dark", "Level below, ADU must be a number"),
        ("R", "12", "Median in red must lie between"),
    ],
)
def test_bad_numbers_leave_a_sentence_and_no_button(panel, box, text, words):
    part = panel.measured
    fill(part, R="620", G="660", B="600", seconds="120")
    assert not part.use.disabled
    fill(part, **{box: text})
    assert words in part.said.value
    assert "<b>" not in part.said.value
    assert part.use.disabled


def test_none_below_is_a_level_of_nothing(panel):
    part = panel.measured
    fill(part, R="120", G="160", B="100", seconds="120", below="none")
    assert part.found is not None
    assert part.found.sky_e_s["G"] == pytest.approx(160 * 0.25 / 120 - float(panel.plan.case.camera.dark_e_s), rel=1e-6)
