"""Each cause that is named costs what it is said to cost: the hours without it, found another way."""

import dataclasses
import functools
import math
import re
import runpy
from pathlib import Path

import numpy as np
import pytest

from expocalc.budget.because import calibration_words, ceiling_sentence, hours_sentence, length_sentence
from expocalc.budget.blame import CAUSES, Blame, Effort
from expocalc.budget.calibration import common_variance_e2
from expocalc.budget.clock import kept_share
from expocalc.budget.cure import cures, lift
from expocalc.budget.dither import dither_share
from expocalc.budget.rates import rates
from expocalc.plan import Plan, PlanError

RANDOM = runpy.run_path(str(Path(__file__).with_name("random_plans.py")))
PLANS = Path(__file__).resolve().parents[1] / "notebooks/plans"
NUMBERS = range(24)
COLOUR, MONO = (Plan.read(PLANS / f"{name}.toml") for name in ("colour-dual-band", "mono-single-lines"))
LUMPY = MONO.with_values({("target", "stars_removed_to"): "17 mag"})
SHORT = COLOUR.with_values({("routine", "sub_length"): "60 s"})


def effort_of(plan, light=None, at=0):
    one = plan.solve().filters[at]
    return Effort(plan.case, one.rates, light or one.neediest.light, one.sub_s)


@functools.cache
def efforts():
    """Of the neediest light of each filter of many invented plans."""
    found = []
    made = [*(functools.partial(Plan.parse, RANDOM["text_of"]("tame", number)) for number in NUMBERS), lambda: LUMPY]
    for make in made:
        try:
            plan = make()
            found += [
                (plan, Effort(plan.case, one.rates, one.neediest.light, one.sub_s), one)
                for one in plan.solve().filters
                if one.neediest.light is not None
            ]
        except PlanError:
            continue
    return found


def hours_by_hand(effort, cause):
    """Hours on the clock of a plain mean, from the formula of the stack's docstring, by halving."""
    patch, habits, routine = effort.patch, effort.habits, effort.case.routine
    t, side = effort.sub_s, float(patch.side_px)
    background = 1.0 if cause == "background" else 1 + (side / float(habits.background_px)) ** 2
    noise = {
        "sky": effort.rate.sky_e_s * t,
        "other light": (patch.light_e_s - effort.rate.sky_e_s) * t,
        "dark current": effort.rate.dark_e_s * t * np.ones_like(patch.signal_e_s),
        "read noise": patch.read_variance_e2 * np.ones_like(patch.signal_e_s),
    }
    behind = sum(part for name, part in noise.items() if name != cause)
    signal = patch.signal_e_s * t
    own = 0.0 if cause == "target" else signal
    light = (patch.signal_e_s + patch.light_e_s) * t
    common = common_variance_e2(light, noise["dark current"], patch.read_variance_e2, habits.calibration)
    common = 0.0 * common if cause == "calibration" else common
    with np.errstate(divide="ignore", invalid="ignore"):
        uneven = 0.0 if cause == "unevenness" else habits.flatness * (light + noise["dark current"]) / signal
        lumpy = 0.0 if cause == "faint stars" else patch.faint_e_s * t / (side * signal)
        floor = float(np.nanmin(np.square(uneven) + background * np.square(lumpy)))

    def snr2(subs):
        share = dither_share(subs, habits.dither_every, habits.dither_box_px, side)
        variance = (own + background * behind) / subs + background * share * common
        return 1 / (1 / (patch.pixel_share * (side * signal) ** 2 / variance).sum() + floor)

    low, high = 1e-6, 1e9
    for _ in range(200):
        middle = math.sqrt(low * high)
        low, high = (low, middle) if snr2(middle) >= effort.case.goal_of(effort.light) ** 2 else (middle, high)
    if high > 0.999e9:
        return math.inf
    survive = 1.0 if cause == "losses" else float(kept_share(t, routine.lost_per_hour, routine.lost_at_dither))
    return high / survive * (t + (0.0 if cause == "pauses" else routine.dead_s)) / 3600


def test_hours_of_an_effort_are_those_of_the_answer():
    for plan, effort, one in efforts():
        if one.clock_h is None:
            continue
        routine = plan.case.routine
        # whole subs are rounded up, kept ones and then shot ones
        step = (effort.sub_s + routine.dead_s) / 3600
        share = float(kept_share(effort.sub_s, routine.lost_per_hour, routine.lost_at_dither))
        assert one.clock_h - step * (1 + 1 / share) <= effort.hours <= one.clock_h * (1 + 1e-6)
        assert effort.ceiling == pytest.approx(one.neediest.snr_ceiling, rel=1e-9)


@pytest.mark.parametrize("cause", [one for one in CAUSES if one not in ("stacking", "faint stars")])
def test_hours_without_a_cause_are_those_by_hand(cause):
    seen = 0
    for _, effort, _ in efforts():
        plain = dataclasses.replace(effort, case=with_routine(effort.case, stacking="mean"))
        mine, by_hand = plain.without(cause)[0], hours_by_hand(plain, cause)
        if plain.full:
            continue
        assert mine == pytest.approx(by_hand, rel=1e-5), cause
        seen += mine < plain.hours
    assert seen, "some plan must suffer from it"


def with_routine(case, **changed):
    return dataclasses.replace(case, routine=dataclasses.replace(case.routine, **changed))


TAKEN_OUT = {
    "losses": {("routine", "lost_per_hour"): 0, ("routine", "lost_per_dither"): 0},
    "pauses": {("routine", "dead_time"): "0 s", ("routine", "dither_time"): "0 s"},
    "stacking": {("routine", "stacking"): "mean"},
    "calibration": {
        ("routine", "darks"): "perfect",
        ("routine", "flats"): "perfect",
        ("camera", "pattern"): None,
    },
    "background": {("routine", "background_patch"): None},
}


@pytest.mark.parametrize("cause", TAKEN_OUT)
def test_a_plan_without_the_cause_takes_the_hours_that_are_said(cause):
    """Through the plan's own keys, with the sub length held."""
    seen = 0
    for plan, effort, _ in efforts():
        if not math.isfinite(effort.hours):
            continue
        changes = {where: value for where, value in TAKEN_OUT[cause].items() if value is not None or has(plan, where)}
        other = plan.with_values({**changes, ("routine", "sub_length"): f"{effort.sub_s!r} s"})
        filter_ = next(one for one in other.case.filters if one.name in {f.name for f in plan.case.filters}
                       and np.array_equal(rates(other.case, one).sky_e_s, effort.rate.sky_e_s))  # fmt: skip
        mine = Effort(other.case, rates(other.case, filter_), effort.light, effort.sub_s)
        expected = effort.hours if not changes else mine.hours
        assert effort.without(cause)[0] == pytest.approx(expected, rel=1e-6)
        seen += expected < effort.hours
    assert seen


def has(plan, where):
    values = plan.values
    for step in where:
        if step not in values:
            return False
        values = values[step]
    return True


def test_the_dearest_cause_comes_first():
    for _, effort, _ in efforts():
        blame = Blame.of(effort)
        costs = [blame.saved_h(cause) for cause in blame.ranked]
        assert costs == sorted(costs, reverse=True)
        assert all(cost > 0 for cost in costs)
        left_out = set(CAUSES) - set(blame.ranked)
        assert all(blame.saved_h(cause) == 0 for cause in left_out)


def test_sentences_say_what_the_numbers_say():
    """ "Most" only where more than half goes with the cause; the opposite as well."""
    said = {True: 0, False: 0}
    for _, effort, _ in efforts():
        if not math.isfinite(effort.hours):
            continue
        blame, words = Blame.of(effort), hours_sentence(effort)
        most = words.startswith("Most of that is ")
        assert most or words.startswith("The largest part of that is ")
        assert most == (blame.saved_h(blame.largest) > effort.hours / 2)
        assert f"is {CAUSES[blame.largest]}" in words
        said[most] += 1
        second = blame.ranked[1] if len(blame.ranked) > 1 else None
        named = second is not None and blame.saved_h(second) >= 0.05 * effort.hours
        assert (f"Then comes {CAUSES[second]}" in words) if named else ("Then comes" not in words)
    assert min(said.values()) > 0, said


def test_cures_are_plans_that_take_the_hours_that_are_said():
    """The words of a cure name a change of the plan; the plan with it takes those hours."""
    effort = effort_of(SHORT)
    places = {
        "a dither box of 60 pixels": {("routine", "dither_size"): "60 pixel"},
        "a dither after every sub": {("routine", "dither_every"): 1},
        "120 darks": {("routine", "darks"): 120},
        "60 flats": {("routine", "flats"): 60},
        "subs of 2 min": {("routine", "sub_length"): "2 min"},
    }
    found = {cure.words: cure.effort.hours for cure in cures(effort, "calibration")}
    assert set(found) == set(places)
    for words, hours in found.items():
        assert hours == pytest.approx(effort_of(SHORT.with_values(places[words]), effort.light).hours, rel=1e-9)


def test_short_subs_blame_what_makes_them_dear():
    """60-s subs through a box as wide as the patch: the darks cost more than read noise does, and are named."""
    effort = effort_of(SHORT)
    blame = Blame.of(effort)
    assert blame.saved_h("calibration") > 2 * blame.saved_h("read noise")
    words = length_sentence(effort, 180.0)
    assert "without what calibration leaves (60 darks seen through a dither box of 30 pixels)" in words
    more, left = (float(one) / 100 for one in re.findall(r"(\d+) %", words))
    assert effort.hours / dataclasses.replace(effort, sub_s=180.0).hours - 1 == pytest.approx(more, rel=0.05)
    longer = dataclasses.replace(effort, sub_s=180.0)
    free = effort.without("calibration")[0] / longer.without("calibration")[0] - 1
    assert free == pytest.approx(left, rel=0.05)


def test_short_subs_of_a_noisy_chip_blame_read_noise():
    noisy = SHORT.with_values(
        {
            ("routine", "darks"): "perfect",
            ("routine", "flats"): "perfect",
            ("camera", "gains", "unity", "read_noise"): "4 electron",
        }
    )
    assert "without read noise it would be" in length_sentence(effort_of(noisy), 180.0)
    assert length_sentence(effort_of(SHORT), 60.0) == "", "no better length"


HOPELESS = {
    "no dither": {("routine", "dither_every"): None, ("routine", "darks"): 4},
    "narrow box": {("routine", "dither_size"): "2 pixel", ("routine", "darks"): 3},
    "uneven": {("routine", "background_flatness"): 0.01},
    "no darks": {("routine", "darks"): "none", ("routine", "dither_every"): None},
    "no flats": {
        ("routine", "flats"): "none",
        ("routine", "dither_every"): None,
        ("routine", "background_flatness"): "perfect",
        ("goal", "snr"): 100,
    },
}
NAMES = {
    "no dither": "4 darks, without dither",
    "narrow box": "3 darks seen through a dither box of 2 pixels",
    "uneven": "the unevenness of the background",
    "no darks": "no darks, without dither",
    "no flats": "no flats, without dither",
}


@pytest.mark.parametrize("why", HOPELESS)
def test_out_of_reach_names_what_makes_the_ceiling_and_what_lifts_it(why):
    plan = MONO.with_values({("goal", "snr"): 12, **HOPELESS[why]})
    effort = effort_of(plan)
    assert effort.hours == math.inf
    blame, words = Blame.of(effort), ceiling_sentence(effort, 300.0)
    assert NAMES[why] in words
    assert words in plan.solve().filters[0].verdict
    assert blame.ceilings[blame.capping] == max(blame.ceilings.values())
    found = lift(effort, blame.capping, 300.0)
    assert f"With {found.words} it takes " in words
    assert found.effort.ceiling > plan.case.goal.snr > effort.ceiling
    assert math.isfinite(found.effort.hours)


def test_the_cheapest_lift_is_free_where_a_free_one_does():
    """A wider box before more darks; a box alone where there is a dither."""
    narrow = effort_of(MONO.with_values({**HOPELESS["narrow box"], ("goal", "snr"): 12}))
    assert re.fullmatch(r"a dither box of \d+ pixels", lift(narrow, "calibration").words)
    half = dataclasses.replace(narrow, case=with_routine(narrow.case, dither_size="500 pixel"))
    assert "box" not in (lift(half, "calibration") or narrow).__dict__.get("words", "")


def test_what_is_assumed_is_said_and_perfect_is_believed():
    bare = MONO.with_values({("routine", name): None for name in ("darks", "flats", "background_flatness")})
    said = "Assumed, since the plan does not say: 30 darks, 30 flats and a background even to 0.03 %."
    assert said in bare.solve().filters[0].verdict
    even = {("routine", "background_flatness"): "perfect"}
    some = bare.with_values(even).solve().filters[0].verdict
    assert "Assumed, since the plan does not say: 30 darks and 30 flats." in some
    typical = MONO.with_values({("routine", "background_flatness"): 3e-4})
    assert "Assumed" not in typical.solve().filters[0].verdict
    left_out = MONO.with_values({("routine", "background_flatness"): None})
    assert effort_of(typical).hours == effort_of(left_out).hours > effort_of(MONO.with_values(even)).hours
    perfect = MONO.with_values({**even, ("routine", "darks"): "perfect", ("routine", "flats"): "perfect"})
    assert "Assumed" not in perfect.solve().filters[0].verdict
    assert Blame.of(effort_of(perfect)).saved_h("calibration") == 0
    hours = [
        effort_of(MONO.with_values({("routine", "darks"): darks, ("routine", "sub_length"): "300 s"})).hours
        for darks in ("perfect", 300, 30, None, 3, "none")
    ]
    assert hours[2] == hours[3]
    assert hours[0] < hours[1] < hours[2] < hours[4]
    assert hours[5] > hours[0]


def test_calibration_is_named_by_its_dearest_part():
    few = {("routine", "darks"): 2, ("routine", "flats"): 400}
    assert calibration_words(effort_of(MONO.with_values(few))).startswith("2 darks")
    dim = {("routine", "darks"): 400, ("routine", "flats"): 1, ("routine", "flat_level"): 0.001}
    assert calibration_words(effort_of(MONO.with_values(dim))).startswith("1 flat ")
    own = {("camera", "pattern"): {"fixed": "2 electron"}}
    assert calibration_words(effort_of(MONO.with_values(own))).startswith("the camera's own pattern")


@pytest.mark.parametrize(
    ("cause", "place", "end", "nearly", "said"),
    [
        ("pauses", ("routine", "dither_every"), 10_000, 6000, "a dither every 10000 subs"),
        ("background", ("routine", "background_patch"), "360000 arcsec", "200000 arcsec", "a background from 360000″"),
        ("dark current", ("camera", "temperature"), "-150 deg_C", "-144 deg_C", "a sensor 6 K cooler"),
    ],
)
def test_no_cure_goes_beyond_what_a_plan_may_hold(cause, place, end, nearly, said):
    plan = Plan.example().with_values({("routine", "dither_every"): 3, ("routine", "dither_time"): "10 s"})

    def words(value):
        return [cure.words for cure in cures(effort_of(plan.with_values({place: value})), cause)]

    assert said in words(nearly)
    assert not any(one.startswith(said[:12]) for one in words(end))
