"""On a mosaic each number of one colour says whose it is, and none is a sum over colours; mono names none."""

import functools
import math
import re
import runpy
from pathlib import Path

import numpy as np

from expocalc.base.words import colour_word, say_share
from expocalc.budget.noise import hours_growth, shortest_sub_s
from expocalc.budget.whose import of_read_noise, of_sky, of_star
from expocalc.plan import Plan, PlanError
from workbook.compare.model import Side, compare
from workbook.hours.model import picture
from workbook.hours.noise import noise_bars
from workbook.hours.verdict import words
from workbook.sub_length.model import Picture

RANDOM = runpy.run_path(str(Path(__file__).with_name("random_plans.py")))
PLANS = Path(__file__).resolve().parents[1] / "notebooks/plans"
COLOURS = r"\b(?:red|green|blue)\b"
OF_ONE = re.compile(
    r"read noise adds|read noise within|sky (?:would )?fills?\b|must not fill the well|times what the model expects"
    r"|times as bright|alone fill the well|brightest star full|times (?:more|less) light|its sky in"
)
"""Words that stand beside a number of one colour's pixels."""


@functools.cache
def plans():
    """Invented plans, mosaics and mono ones; a third of them with a Moon, a third with a measured sky."""
    found = []
    for number in range(70):
        try:
            plan = Plan.parse(RANDOM["text_of"]("tame", number))
            plan.solve()
        except PlanError:
            continue
        found.append(plan)
    assert sum(len(plan.case.camera.colours) > 1 for plan in found) > 15
    return found


def sentences(text):
    return [one for one in re.split(r"(?<=[.;]) ", text) if one]


def said(plan):
    """Everything that is said of each filter of a plan."""
    for one in plan.solve().filters:
        yield one, [*one.sentences]
        try:
            shown = Picture(plan, one.filter_name)
            panel = [shown.words.headline, shown.words.rest, shown.words.change, *(b.words for b in shown.bounds)]
            spoken = words(picture(plan, one.filter_name, one.neediest.light), None)
        except ValueError:  # a patch that no picture shows
            continue
        yield one, panel
        yield one, [spoken.headline, spoken.rest, spoken.basis]


def test_numbers_of_one_colour_name_it_and_mono_names_none():
    seen = {True: 0, False: 0}
    for plan in plans():
        mosaic = len(plan.case.camera.colours) > 1
        names = {filter_.name for filter_ in plan.case.filters}
        for _, texts in said(plan):
            for sentence in (one for text in texts for one in sentences(text)):
                plain = functools.reduce(lambda text, name: text.replace(name, ""), names, sentence)
                if OF_ONE.search(plain):
                    assert bool(re.search(COLOURS, plain)) == mosaic, sentence
                    seen[mosaic] += 1
    assert min(seen.values()) > 20, seen


def test_what_read_noise_adds_is_of_the_colour_that_is_named():
    checked = 0
    for plan in plans():
        setting, goal = plan.case.camera.setting, plan.case.goal
        for one in plan.solve().filters:
            found = re.search(r"adds ([\d.]+) % to the noise in (\w+)", one.verdict)
            if not found:
                continue
            rate = one.rates
            at = [colour_word(colour) for colour in rate.colours].index(found[2])
            alone = shortest_sub_s(rate.background_e_s[at], setting.read_variance_e2, goal.noise_growth)
            adds = math.sqrt(1 + float(hours_growth(goal.noise_growth)) * float(alone) / one.sub_s) - 1
            assert say_share(adds) == f"{found[1]} %"
            checked += 1
    assert checked > 5


def test_the_colours_that_fill_first():
    for plan in plans():
        for one in plan.solve().filters:
            rate = one.rates
            if len(rate.colours) == 1:
                assert (of_read_noise(plan.case, rate, one.neediest), of_sky(rate), of_star(rate)) == (None,) * 3
                continue
            assert rate.sky_e_s[rate.colours.index(of_sky(rate))] == rate.sky_e_s.max()
            full = rate.peak_share * rate.bright_star_e_s + rate.sky_e_s
            assert full[rate.colours.index(of_star(rate))] == full.max()


def test_a_measured_sky_is_held_against_the_model_colour_by_colour():
    plan = Plan.read(PLANS / "colour-dual-band.toml")
    model = plan.solve().filters[0].rates.model_sky_e_s
    factors = dict(zip("RGB", (1.5, 0.7, 2.0), strict=True))
    measured = {c: f"{factors[c] * one} electron/s" for c, one in zip("RGB", model, strict=True)}
    words_ = plan.with_values({("sky", "measured"): {"Dual 6 nm": measured}}).solve().filters[0].verdict
    assert "1.5 in red, 0.70 in green, 2.0 in blue times what the model expects" in words_


def test_moonlight_names_the_colour_that_suffers_most():
    moon = {"illuminated": 0.9, "altitude": "40 deg", "separation": "60 deg"}
    one = Plan.read(PLANS / "colour-dual-band.toml").with_values({("moon",): moon}).solve().filters[0]
    rate = one.rates
    times = rate.sky_e_s / (rate.sky_e_s - rate.moon_e_s)
    name = colour_word(rate.colours[int(np.argmax(times))])
    assert re.search(rf"{times.max():.2g} times as bright in {name}\.", one.verdict)


def test_bars_and_reasons_name_the_pixels():
    plan = Plan.read(PLANS / "colour-dual-band.toml")
    assert all(re.search(rf"in {COLOURS} pixels", bar.words) for bar in noise_bars(picture(plan, "Dual 6 nm")))
    assert all(re.search(rf"in {COLOURS} pixels", bar.words) for bar in Picture(plan, "Dual 6 nm").bars)
    dark = plan.with_values({("sky", "bortle"): 3})
    (why,) = compare(Side.of(plan), Side.of(dark), 10.0).reasons
    assert re.search(rf"its sky in Dual 6 nm on {COLOURS} pixels is [\d.]+ times darker", why.words)
    mono = Plan.read(PLANS / "mono-single-lines.toml")
    (why,) = compare(Side.of(mono), Side.of(mono.with_values({("telescope", "aperture"): "70 mm"})), 10.0).reasons
    assert not re.search(COLOURS, why.words)
