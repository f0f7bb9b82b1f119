"""The split of hours over filters against brute force, and at its ends."""

import itertools
from pathlib import Path

import numpy as np
import pytest

from expocalc.budget.split import even_level, split, split_hours
from expocalc.plan import Plan

PLANS = Path(__file__).parents[1] / "notebooks" / "plans"


@pytest.fixture(scope="module")
def mono():
    return Plan.read(PLANS / "mono-single-lines.toml").case


def changed(name, **places):
    return Plan.read(PLANS / f"{name}.toml").with_values({tuple(k.split("__")): v for k, v in places.items()}).case


@pytest.mark.parametrize("hours", [0.4, 3.0, 40.0])
def test_no_other_split_makes_the_weakest_stronger(hours):
    # Three filters whose SNR bends differently: square law, a floor, and a law of its own.
    laws = (
        lambda h: np.sqrt(h / 2.0),
        lambda h: 1 / np.sqrt(6.0 / h + 0.2),
        lambda h: 0.5 * h**0.4,
    )

    def hours_for(level):
        bent = 6.0 / (1 / level**2 - 0.2) if level**-2 > 0.2 else np.inf
        return np.array([2.0 * level**2, bent, (level / 0.5) ** 2.5])

    ours = split_hours(hours, hours_for)
    weakest = min(law(h) for law, h in zip(laws, ours, strict=True))
    assert ours.sum() == pytest.approx(hours, rel=1e-6)
    assert weakest == pytest.approx(even_level(hours, hours_for), rel=1e-6)
    grid = np.linspace(0.005, 0.99, 120)
    brute = max(
        min(law(h * hours) for law, h in zip(laws, (a, b, 1 - a - b), strict=True))
        for a, b in itertools.product(grid, grid)
        if a + b < 1
    )
    assert brute <= weakest * (1 + 1e-9)
    assert brute == pytest.approx(weakest, rel=0.03)  # the grid's own step


@pytest.mark.parametrize("hours", [2.0, 15.0, 200.0])
def test_moving_time_between_filters_of_a_plan_never_helps(mono, hours):
    ours = split(mono, hours)
    assert sum(ours.hours.values()) == pytest.approx(hours, rel=1e-6)
    assert list(ours.snr.values()) == pytest.approx([ours.level * mono.goal.snr] * 2, rel=1e-6)
    # a filter alone with its hours shows what the split says, and less with fewer
    for filter_ in mono.filters:
        alone = (
            Plan.read(PLANS / "mono-single-lines.toml")
            .with_values(
                {
                    ("filters",): [
                        one
                        for one in Plan.read(PLANS / "mono-single-lines.toml").values["filters"]
                        if one["name"] == filter_.name
                    ]
                }
            )
            .case
        )
        for part in (1.0, 0.97):
            own = split(alone, part * ours.hours[filter_.name])
            assert own.level == pytest.approx(ours.level, rel=1e-6) if part == 1.0 else own.level < ours.level


def test_the_goals_hours_bring_the_goal(mono):
    answered = Plan.read(PLANS / "mono-single-lines.toml").solve()
    hours = sum(one.clock_h for one in answered.filters)
    # the answer counts whole subs, one in some sixty here
    assert split(mono, hours).level == pytest.approx(1.0, abs=0.02)
    assert split(mono, hours).level >= 1


def test_equal_hours_leave_the_weakest_weaker(mono):
    found = split(mono, 10)
    assert min(found.equal_snr.values()) < min(found.snr.values()) < max(found.equal_snr.values())


def test_a_filter_that_shows_two_lights_serves_the_weaker():
    case = Plan.read(PLANS / "colour-dual-band.toml").case
    found = split(case, 10)
    assert found.hours == pytest.approx({"Dual 6 nm": 10}, rel=1e-6)
    assert min(found.snr.values()) == pytest.approx(found.level * case.goal.snr, rel=1e-6)
    assert max(found.snr.values()) > min(found.snr.values())


def test_beyond_what_a_filter_can_reach_more_hours_help_nobody():
    case = changed("mono-single-lines", routine__background_flatness=0.01)
    many, more = split(case, 1e6), split(case, 1e9)
    assert np.isfinite(list(more.hours.values())).all()
    assert more.level == pytest.approx(many.level, rel=1e-2)


def test_a_filter_without_light_gets_no_hours():
    light = [{"line": "H-alpha", "brightness": "12 R"}, {"line": "O III", "brightness": "0 R"}]
    found = split(changed("mono-single-lines", target__light=light), 10)
    assert found.hopeless == ("O III 5 nm",)
    assert dict(found.hours) == pytest.approx({"H-alpha 5 nm": 10}, rel=1e-6)
    dark = split(changed("mono-single-lines", target__light=[{"line": "H-alpha", "brightness": "0 R"}]), 10)
    assert (dark.level, dict(dark.hours), len(dark.hopeless)) == (0, {}, 2)


@pytest.mark.parametrize("hours", [0.0, -1.0, float("inf"), float("nan")])
def test_hours_that_are_none_are_refused(mono, hours):
    with pytest.raises(ValueError, match="hours must be above 0 h"):
        split(mono, hours)
