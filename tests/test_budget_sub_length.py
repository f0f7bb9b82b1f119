"""The best sub against closed forms and brute force, and what bounds it."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from expocalc.budget import lengths, solved, sub_length
from expocalc.budget.clock import clock_s, kept_share
from expocalc.budget.estimator import Estimator
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.rates import rates
from expocalc.budget.routine import Routine
from expocalc.budget.stack import Still, parts_of, stack_snr2
from expocalc.plan import Plan

MONO = Path(__file__).resolve().parent.parent / "notebooks" / "plans" / "mono-single-lines.toml"


def colours(weight, signal, rate, read_variance):
    """One light in the pixels of each colour: how many, its own rate, all light's rate, read variance."""
    weight, signal, rate, read = (np.array(values, dtype=float) for values in (weight, signal, rate, read_variance))
    return Patch(
        side_px=1.0, sub_s=1.0, pixel_share=weight, signal_e_s=signal, light_e_s=rate - signal, read_variance_e2=read
    )


def seen(signal=0.01, rate=0.2, read_variance=2.0, weight=1.0):
    """One light in the pixels of one colour."""
    return colours([weight], [signal], [rate], [read_variance])


def snr2_per_sub(light, sub_s):
    return float(stack_snr2(dataclasses.replace(light, sub_s=sub_s), Habits(), 1.0))


def clock_hours(light, sub_s, night, snr):
    """Parts of a sub counted, even of a single one: what closed forms speak of."""
    return sub_length.unbounded_hours(light, Habits(), night, snr, sub_s)


def efficiency(light, sub_s, night):
    return 100 / clock_hours(light, sub_s, night, 10.0)


def best_sub(light, night, longest_s=math.inf):
    def worth(sub_s):
        return 1 / clock_hours(light, sub_s, night, 10.0)

    asked = lengths.Asked.of(worth(lengths.asked_lengths(longest_s)), longest_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        return sub_length.best_of(asked, lossless=not night.lost_per_hour, longest_s=longest_s, closer=worth)


def routine(dead_s=0.0, lost_per_hour=0.0, **more):
    return Routine(dead_time=f"{dead_s} s", lost_per_hour=lost_per_hour, **more)


# --- squared SNR of a sub ---


def test_worth_of_a_sub_by_hand():
    # 100 pixels, 0.02 e-/s of 0.5 e-/s for 50 s, 11 e-^2 of reading: 100 x 1^2 / (25 + 11)
    assert math.isclose(snr2_per_sub(seen(0.02, 0.5, 11.0, 100.0), 50.0), 100 / 36, rel_tol=1e-12)


def test_colours_add_their_squared_snr():
    both = colours([25, 50], [0.1, 0.3], [1, 2], [4, 9])
    alone = [snr2_per_sub(seen(0.1, 1.0, 4.0, 25.0), 30.0), snr2_per_sub(seen(0.3, 2.0, 9.0, 50.0), 30.0)]
    assert math.isclose(snr2_per_sub(both, 30.0), sum(alone), rel_tol=1e-12)


def test_colour_that_sees_nothing_adds_nothing():
    blind = colours([25, 50], [0.1, 0], [1, 0], [4, 0])
    assert snr2_per_sub(blind, 30.0) == snr2_per_sub(seen(0.1, 1.0, 4.0, 25.0), 30.0)


# --- losses and clock ---


def test_share_of_subs_that_survive_by_hand():
    # half an hour at 2 events an hour: 1/e; and 10 % after every fifth sub are 2 % of all
    assert math.isclose(kept_share(1800.0, 2.0, 0.0), math.exp(-1), rel_tol=1e-12)
    assert math.isclose(kept_share(1800.0, 2.0, 0.02), 0.98 * math.exp(-1), rel_tol=1e-12)
    assert Routine(lost_per_dither=0.1, dither_every=5).lost_at_dither == pytest.approx(0.02, rel=1e-12)
    assert Routine(lost_per_dither=0.1).lost_at_dither == 0, "who does not dither loses nothing at dithers"


def test_subs_lost_by_chance():
    """Events at random times in open shutter: a sub is kept if none falls into it."""
    rng, subs, length_h, per_hour = np.random.default_rng(1), 200_000, 0.1, 1.3
    events = rng.uniform(0, subs * length_h, rng.poisson(subs * length_h * per_hour))
    kept = 1 - np.unique((events // length_h).astype(int)).size / subs
    expected = float(kept_share(3600 * length_h, per_hour, 0.0))
    assert abs(kept - expected) < 4 * math.sqrt(expected * (1 - expected) / subs)


def test_time_on_the_clock_holds_dead_time_and_dithers():
    night = Routine(dead_time="2 s", dither_every=3, dither_time="21 s")
    assert night.dead_s == 9
    assert clock_s(30, 60.0, night) == 30 * 69


def test_hours_are_goal_over_efficiency():
    night, light = routine(10.0, 0.5), seen()
    hours = clock_hours(light, 120.0, night, 10.0)
    subs = 100 / (snr2_per_sub(light, 120.0) * kept_share(120.0, 0.5, 0.0))
    assert math.isclose(hours, subs * 130 / 3600, rel_tol=1e-12)
    assert clock_hours(seen(signal=0.0), 120.0, night, 10.0) == math.inf


# --- without losses: no peak ---


@pytest.mark.parametrize(("sub", "share"), [(180, 0.852632), (490, 0.941569), (1980, 0.985025), (19980, 0.998500)])
def test_efficiency_without_losses_climbs_for_ever(sub, share):
    """Worked by hand: with 10 s of read noise over rate and 20 s dead, t^2 / (t + 10)(t + 20) of the supremum."""
    light = seen(signal=0.03, rate=0.5, read_variance=5.0, weight=7.0)
    supremum = 7 * 0.03**2 / 0.5 * 3600
    assert efficiency(light, float(sub), routine(20.0)) / supremum == pytest.approx(share, abs=1e-6)


def shortest_within(share, read_s, dead_s):
    """Root of t^2 = share (t + read)(t + dead)."""
    b, c = share * (read_s + dead_s), share * read_s * dead_s
    return (b + math.sqrt(b**2 + 4 * (1 - share) * c)) / (2 * (1 - share))


@pytest.mark.parametrize(("read_s", "dead_s"), [(10, 20), (300, 1), (0.5, 30), (5, 0), (0, 5)])
def test_best_without_losses_is_the_shortest_within_2_percent_of_the_supremum(read_s, dead_s):
    found = best_sub(seen(rate=0.5, read_variance=0.5 * read_s), routine(dead_s))
    assert found.best_s == pytest.approx(shortest_within(0.98, read_s, dead_s), rel=2e-3)
    assert found.low_s == found.best_s
    assert found.high_s == math.inf
    assert not found.peaks


def test_without_losses_a_far_bound_changes_the_end_of_the_range_only():
    light, night = seen(rate=0.5, read_variance=5.0), routine(20.0)
    free, bounded = best_sub(light, night), best_sub(light, night, 7200.0)
    assert bounded.best_s == pytest.approx(free.best_s, rel=2e-3)
    assert bounded.high_s == 7200


def test_without_losses_a_near_bound_is_the_best():
    found = best_sub(seen(rate=0.5, read_variance=5.0), routine(20.0), 300.0)
    assert found.best_s == found.high_s == pytest.approx(300, rel=1e-9)
    # t^2 / (t + 10)(t + 20) is 98 % of its value at 300 s
    level = 0.98 * 300**2 / (310 * 320)
    assert found.low_s == pytest.approx(shortest_within(level, 10, 20), rel=2e-3)


def test_without_anything_to_lose_the_shortest_sub_will_do():
    assert best_sub(seen(read_variance=0.0), routine()).best_s == 1


# --- with losses: a peak ---


@pytest.mark.parametrize("lost_per_hour", [0.1, 1.0, 10.0])
@pytest.mark.parametrize("price", ["dead time", "read noise"])
def test_peak_with_one_price_by_hand(price, lost_per_hour):
    """t exp(-Lt) / (t + D) has its peak where D / t (t + D) = L; read noise over rate does as dead time does."""
    seconds, per_s = 12.0, lost_per_hour / 3600
    light = seen(rate=0.5, read_variance=6.0 if price == "read noise" else 0.0)
    found = best_sub(light, routine(seconds if price == "dead time" else 0.0, lost_per_hour))
    expected = (math.sqrt(seconds**2 + 4 * seconds / per_s) - seconds) / 2
    assert found.best_s == pytest.approx(expected, rel=0.01)
    assert found.peaks


POSITIVE = {"allow_nan": False, "allow_infinity": False}


@given(
    rate=st.floats(1e-3, 100, **POSITIVE),
    read=st.floats(0, 30, **POSITIVE),
    dead_s=st.floats(0, 120, **POSITIVE),
    lost_per_hour=st.floats(0.01, 20, **POSITIVE),
    longest_s=st.just(math.inf) | st.floats(2, 1e4, **POSITIVE),
)
@example(rate=0.5, read=0.0, dead_s=12.0, lost_per_hour=10.0, longest_s=61.5)  # the top just before the longest
@example(rate=0.0193, read=0.0015, dead_s=0.006, lost_per_hour=20.0, longest_s=math.inf)  # just after the shortest
@example(rate=0.00115, read=11.15, dead_s=120.0, lost_per_hour=15.75, longest_s=5328.0)  # an edge between two nodes
@example(rate=2.0, read=3.5, dead_s=0.0, lost_per_hour=1.0, longest_s=2.0000000000000004)  # a node as good as the end
def test_best_sub_against_brute_force(rate, read, dead_s, lost_per_hour, longest_s):
    light, night = seen(rate=rate, read_variance=read**2), routine(dead_s, lost_per_hour)
    found = best_sub(light, night, longest_s)
    dense = np.geomspace(1, min(longest_s, 1e7), 20_000)
    worth = efficiency(light, dense, night)
    best = float(worth.max())
    assert efficiency(light, found.best_s, night) >= best * (1 - 1e-5)
    assert found.low_s <= found.best_s <= found.high_s <= longest_s * (1 + 1e-12)
    inside = dense[worth >= 0.98 * best]
    assert found.low_s == pytest.approx(float(inside[0]), rel=0.01)
    assert found.high_s == pytest.approx(float(inside[-1]), rel=0.01)
    for edge, end in ((found.low_s, 1), (found.high_s, min(longest_s, 1e7))):
        reached = efficiency(light, edge, night) / best
        assert reached == pytest.approx(0.98, abs=2e-3) or (reached > 0.98 and edge == pytest.approx(end, rel=1e-9))


# --- what bounds it ---

HIGH = ("camera", "gains", "high")
FREE = {
    ("routine", "longest_sub"): None,
    ("goal", "unsaturated_star"): None,
    ("routine", "lost_per_hour"): 0.0,
    ("routine", "dead_time"): "0 s",
    ("routine", "dither_every"): None,
    ("routine", "dither_time"): None,
    ("routine", "lost_per_dither"): None,
    ("goal", "sky_share_of_well"): 1.0,
    ("routine", "background_flatness"): "perfect",
    (*HIGH, "full_well"): "1e6 electron",
    (*HIGH, "electrons_per_adu"): 16.0,
}
BRIGHT = {("sky", "zenith_brightness"): "18 mag/arcsec2"}  # many short subs, so that whole ones round little
BOUNDED = {
    "nothing": BRIGHT,
    "dead time": BRIGHT | {("routine", "dead_time"): "5 s"},
    "losses": {("routine", "dead_time"): "5 s", ("routine", "lost_per_hour"): 0.5},
    "mount": {("routine", "dead_time"): "5 s", ("routine", "lost_per_hour"): 0.5, ("routine", "longest_sub"): "60 s"},
    "saturation": {("routine", "dead_time"): "5 s", ("goal", "unsaturated_star"): "1 mag"},
    "sky share": {("routine", "dead_time"): "5 s", ("goal", "sky_share_of_well"): 1.1e-5},
    "whole subs": {("routine", "dead_time"): "5 s"},
}


@pytest.mark.parametrize("bound", BOUNDED)
def test_each_bound_is_reached_and_named(bound):
    solved = Plan.read(MONO).with_values(FREE | BOUNDED[bound]).solve()
    row, summary = solved.rows[0], solved.filters[0]
    assert row.bounded_by == bound
    tight = bound in ("mount", "saturation", "sky share")
    assert (row.sub_s == row.sub_longest_s) is tight
    words = {
        "nothing": "nothing speaks against longer ones",
        "dead time": "shorter subs lose more to the pauses",
        "losses": "longer subs lose more than they gain",
        "mount": "the mount allows no longer",
        "saturation": "that must not fill the well would",
        "sky share": "the sky would fill more of the well",
        "whole subs": "so few will do that a part of one more would count",
    }
    assert words[bound] in summary.verdict


def test_longest_sub_by_saturation_by_hand():
    """Full well over the rate of the brightest pixel: its share of the star, and sky and dark."""
    plan = Plan.read(MONO).with_values(FREE | BOUNDED["saturation"])
    rate = rates(plan.case, plan.case.filters[0])
    brightest = rate.peak_share * rate.bright_star_e_s[0] + rate.sky_e_s[0] + rate.dark_e_s
    row = plan.solve().rows[0]
    # 16 bits of 16 electrons, 500 of them bias, hold more than the well
    assert row.sub_longest_s == pytest.approx(1e6 / brightest, rel=1e-9)


def test_converter_that_is_full_before_the_well_bounds_the_sub():
    plan = Plan.read(MONO).with_values(FREE | BOUNDED["sky share"])
    row = plan.solve().rows[0]
    assert row.sub_longest_s == pytest.approx(1.1e-5 * 1e6 / (row.sky_e_s + row.dark_e_s), rel=1e-9)
    small = plan.with_values({(*HIGH, "electrons_per_adu"): 1.0}).solve().rows[0]
    assert small.sub_longest_s == pytest.approx(1.1e-5 * (65535 - 500) / (row.sky_e_s + row.dark_e_s), rel=1e-9)


def test_where_the_shortest_exceeds_the_longest_the_sub_is_the_longest_and_the_price_is_said():
    plan = Plan.read(MONO).with_values({("routine", "longest_sub"): "30 s"})
    solved = plan.solve()
    row = solved.rows[0]
    assert row.sub_shortest_s > 30
    assert row.sub_s == 30
    growth = math.sqrt(1 + 1.4**2 / (30 * (row.sky_e_s + row.dark_e_s + row.target_e_s * 1.0))) - 1
    assert "the longest there is" in solved.filters[0].verdict
    assert f"read noise adds {100 * growth:.0f} % to the noise" in solved.filters[0].verdict


def test_length_that_the_user_sets_is_taken_and_judged():
    plan = Plan.read(MONO).with_values({("routine", "sub_length"): "10 min"})
    solved = plan.solve()
    assert {row.sub_s for row in solved.rows} == {600.0}
    assert "10 min subs, as you set, are too long: past 5 min the mount does not hold" in solved.filters[0].verdict
    short = plan.with_values({("routine", "sub_length"): "100 s"}).solve()
    assert {row.sub_s for row in short.rows} == {100.0}
    assert "100 s subs, as you set." in short.filters[0].verdict


def test_a_sub_without_any_bound_or_light_ends_with_the_day():
    none = "0 electron/s"
    plan = Plan.read(MONO).with_values(
        FREE
        | {
            ("sky", "measured"): {"H-alpha 5 nm": none, "O III 5 nm": none},
            ("camera", "dark_current", "rate"): none,
            ("target", "light"): [{"line": "S II", "brightness": "1 R"}],
        }
    )
    solved = plan.solve()
    assert [row.sub_s for row in solved.rows] == [86400.0, 86400.0]
    assert "Read noise is all the noise there is." in solved.filters[0].verdict


# --- the advice ---

LOSSES_WITHOUT_MOUNT = {
    ("routine", "longest_sub"): None,
    ("goal", "unsaturated_star"): None,
    ("sky", "zenith_brightness"): "21.5 mag/arcsec2",
    ("filters", 0, "passbands", 0, "width"): "3 nm",
    (*HIGH, "read_noise"): "3.4 electron",
    ("routine", "darks"): "perfect",
    ("routine", "flats"): "perfect",
    ("goal", "snr"): 50,  # many subs, so that whole ones round little
}


@pytest.mark.parametrize("lost_per_hour", [1, 10])
def test_read_noise_does_not_beat_the_best_where_losses_are_high(lost_per_hour):
    plan = Plan.read(MONO).with_values(LOSSES_WITHOUT_MOUNT | {("routine", "lost_per_hour"): lost_per_hour})
    one = plan.solve().filters[0]
    row = one.neediest
    assert row.sub_shortest_s > 3600, "what read noise asks for"
    assert row.sub_low_s <= row.sub_s <= row.sub_high_s < row.sub_shortest_s
    assert row.bounded_by == "losses"
    for words in ("would be needed to keep read noise within 5 %, but that would lose more", "more hours"):
        assert words in one.verdict
    for times in (0.5, 0.8, 1.25, 2):
        length = {("routine", "sub_length"): f"{times * row.sub_s} s"}
        assert plan.with_values(length).solve().filters[0].clock_h >= 0.97 * one.clock_h


def test_few_whole_subs_are_found_without_a_second_answer(monkeypatch):
    """All numbers are worked out once, and squared SNR beside the lengths at which whole subs just do once."""
    done = []
    for where, name in ((solved, "needed"), (Still, "at")):
        work = getattr(where, name)
        monkeypatch.setattr(where, name, lambda *a, work=work, name=name: done.append(name) or work(*a))
    rows = Plan.read(MONO).with_values({("sky", "zenith_brightness"): "21.6 mag/arcsec2"}).solve().rows
    assert "whole subs" in {row.bounded_by for row in rows}
    assert sorted(done) == ["at", "at", "at", "needed"]


def test_where_longer_subs_cost_nothing_a_minute_keeps_files_few():
    free = {("routine", "lost_per_hour"): 0, ("routine", "dead_time"): "0 s", ("routine", "dither_every"): None,
            ("routine", "stacking"): "mean"}  # fmt: skip
    plan = Plan.read(MONO).with_values({**free, (*HIGH, "read_noise"): "0 electron", ("routine", "darks"): "perfect",
                                        ("routine", "flats"): "perfect"})  # fmt: skip
    assert plan.solve().rows[0].sub_s == 60


def test_a_full_well_has_no_hours_and_a_median_no_higher_than_its_top():
    full = {("routine", "sub_length"): "6 h", ("camera", "glow"): "5 electron/s"}
    one = Plan.read(MONO).with_values(full).solve().filters[0]
    assert one.clock_h is None
    assert one.neediest.median_adu == pytest.approx(500 + 15000 / 0.25)
    assert "alone fill the well in a sub of that length, so that nothing shows" in one.verdict


@pytest.mark.parametrize("stacking", ["mean", "clipped mean"])
def test_no_length_that_a_person_types_beats_the_advised_one_by_3_percent_in_whole_subs(stacking):
    """Some ten subs: rounding up to whole ones costs a tenth where the length does not heed it."""
    few = FREE | BOUNDED["whole subs"] | {("routine", "stacking"): stacking}
    plan = Plan.read(MONO).with_values(few)
    advised = plan.solve().filters[0]
    assert advised.shot < 30
    typed = [plan.with_values({("routine", "sub_length"): f"{t:.6g} s"}) for t in np.geomspace(300, 20000, 60)]
    assert advised.clock_h <= 1.03 * min(one.solve().filters[0].clock_h for one in typed)
    assert advised.neediest.snr_patch >= advised.neediest.goal_snr * (1 - 1e-8)


def test_whole_subs_of_a_median_reach_the_goal_where_an_odd_number_is_worse_than_one_less():
    """Noise of few steps of the converter: 33 subs show less than 32 do."""
    light = Patch(
        side_px=10.0, sub_s=50.0, signal_e_s=np.array([0.05]), light_e_s=np.array([0.1]), read_variance_e2=4.0
    )
    habits = Habits(estimator=Estimator(stacking="median", native_step_e=1.5))
    parts = parts_of(light, habits)
    snr2 = stack_snr2(light, habits, np.arange(1.0, 60.0))
    assert (np.diff(snr2) < 0).any()
    for goal2 in np.linspace(snr2[9], snr2[49], 40):
        kept = int(parts.whole_subs_for(goal2))
        assert snr2[kept - 1] >= goal2 * (1 - 1e-6)
        assert (snr2[: kept - 1] < goal2).all(), "no fewer do"
