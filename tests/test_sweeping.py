"""A sweep is many plans at once: the same numbers as plan by plan, in the order that was asked for, with units."""

import itertools
import math
from pathlib import Path

import astropy.units as u
import numpy as np
import pytest

from expocalc.plan import Plan, PlanError, as_json
from expocalc.sweeping import sweep

PLANS = Path(__file__).resolve().parent.parent / "notebooks" / "plans"
MONO, COLOUR = Plan.read(PLANS / "mono-single-lines.toml"), Plan.read(PLANS / "colour-dual-band.toml")
HIGH = ("camera", "gains", "high")
STARS = MONO.with_values(
    {("target", "light"): [{"line": "H-alpha", "brightness": "12 R"}, {"star": "15 mag"}], ("sky", "measured"): None}
)
SPREAD = ("hours_p10", "hours_p50", "hours_p90")


def where(place):
    return place if isinstance(place, tuple) else tuple(int(s) if s.isdigit() else s for s in place.split("."))


def same(swept, alone):
    if isinstance(alone, str):
        return swept == alone
    number = float(getattr(swept, "value", swept)) if not isinstance(swept, str) else swept
    if alone is None:  # in JSON a number that is missing, infinite or no name
        return number == "" or not math.isfinite(number)
    return number == pytest.approx(alone, rel=1e-6, abs=1e-12)


SWEEPS = {
    "sky, sub length, width": (
        MONO,
        {
            "sky.zenith_brightness": ["18 mag/arcsec2", "21.5 mag/arcsec2"],
            "routine.sub_length": ["30 s", "auto", "10 min"],
            "filters.0.passbands.0.width": ["3 nm", "7 nm"],
        },
    ),
    "camera": (
        MONO,
        {
            (*HIGH, "read_noise"): ["1 e-", "3.4 e-"],
            "camera.temperature": ["-20 deg_C", "15 deg_C"],
            "camera.gain": ["high", "low"],
            "routine.darks": [5, 40],
        },
    ),
    "routine and goal": (
        COLOUR,
        {
            "routine.lost_per_hour": [0, 0.2, 10],
            "goal.snr": [5, 1000],
            "routine.longest_sub": ["20 s", "1 h"],
            "routine.stacking": ["mean", "median"],
            "goal.noise_growth": [0.01, 0.2],
        },
    ),
    "a filter that loses its light": (
        MONO,
        {"filters.1.passbands.0.centre": ["500.7 nm", "530 nm"], "routine.dead_time": ["0 s", "9 s"]},
    ),
    "a sky of other lamps, a gradient and the Moon": (
        MONO.with_values({("moon",): {"illuminated": 0.5, "altitude": "30 deg", "separation": "60 deg"}}),
        {
            "sky.lamps": [{"mercury": 1.0}, {"led-4000K": 0.5, "sodium-high-pressure": 0.5}],
            "sky.gradient": ["0 mag", "1 mag"],
            "sky.zenith_brightness": ["18 mag/arcsec2", "21.5 mag/arcsec2"],
            "camera.temperature": ["-20 deg_C", "20 deg_C"],
        },
    ),
    "stars and well": (
        STARS,
        {
            "site.seeing": ["2 arcsec", "4 arcsec"],
            "sky.bortle": [2, 8],
            "goal.unsaturated_star": ["4 mag", "9 mag"],
            "goal.sky_share_of_well": [0.001, 0.5],
        },
    ),
}


@pytest.mark.parametrize("name", SWEEPS)
def test_sweep_is_what_the_plans_say_one_by_one(name):
    plan, places = SWEEPS[name]
    if "sky.bortle" in places:
        other = {("sky", "zenith_brightness"): None, ("sky", "reading_band"): None, ("sky", "bortle"): 5}
        plan = plan.with_values(other)
    table = sweep(plan, places)
    names = [place if isinstance(place, str) else ".".join(place) for place in places]
    assert table.colnames[: len(names)] == names
    at = 0
    for values in itertools.product(*places.values()):
        changes = {where(place): value for place, value in zip(places, values, strict=True)}
        rows = as_json(plan.with_values(changes).solve())["rows"]
        for row in rows:
            shares = row.pop("noise_share")
            for key in SPREAD:
                assert row.pop(key) is None
            row |= {f"noise_share.{cause}": share for cause, share in shares.items()}
            assert set(row) == set(table.colnames[len(names) :])
            for key, alone in row.items():
                assert same(table[key][at], alone), (changes, key, table[key][at], alone)
            at += 1
    assert at == len(table)


def test_columns_of_a_sweep_have_their_units():
    table = sweep(MONO, {"sky.zenith_brightness": ["19 mag/arcsec2", "21 mag/arcsec2"], "goal.snr": [5, 10]})
    assert list(table["goal.snr"]) == [5, 5, 10, 10] * 2, "two filters each; the last place changes fastest"
    assert table["sky.zenith_brightness"].unit == u.mag / u.arcsec**2
    units = {"sub_s": "s", "clock_h": "h", "sky_electron_s": "electron/s", "pixel_scale_arcsec": "arcsec"}
    for key, unit in units.items():
        assert table[key].unit == u.Unit(unit)
    assert table["light"].dtype.kind == table["bounded_by"].dtype.kind == "U"


def test_progress_grows_to_one():
    done = []
    sweep(
        MONO, {"filters.0.passbands.0.width": [f"{n} nm" for n in (3, 5, 7)], "goal.snr": [5, 10]}, progress=done.append
    )
    assert done == sorted(done)
    assert 0 < done[0] < done[-1] == 1


def test_a_large_sweep_is_cut_in_pieces_that_fit_together(monkeypatch):
    places = {
        "routine.lost_per_hour": [0, 0.1, 0.5, 2],
        "routine.sub_length": ["60 s", "auto", "5 min"],
        "goal.snr": [5, 9],
    }
    whole = sweep(COLOUR, places)
    monkeypatch.setattr("expocalc.grid._SEARCHED", 2)
    monkeypatch.setattr("expocalc.grid._AT_ONCE", 3)
    pieces = sweep(COLOUR, places)
    assert whole.colnames == pieces.colnames
    for key in whole.colnames:
        one, other = np.asarray(whole[key]), np.asarray(pieces[key])
        assert (one == other).all() if one.dtype.kind == "U" else np.allclose(one, other, rtol=1e-9, equal_nan=True)


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ({}, "a sweep needs one place or more"),
        ({"sky": [1]}, 'a place of a sweep names a section and a key, got "sky"'),
        ({"goal.snr": []}, '"goal.snr" must have a list of one value or more'),
        ({"goal.snr": "10"}, '"goal.snr" must have a list of one value or more'),
        ({"goal.snr": [10, -1]}, "[goal] snr"),
        ({"goal.snr": [10] * 3000, "routine.darks": [1] * 3000}, "at most 5,000,000 combinations, got 9,000,000"),
        ({"filters.7.name": ["x"]}, 'the plan has no "filters.7.name"'),
        ({"filters.a.name": ["x"]}, 'the plan has no "filters.a.name"'),
        ({"aperture.mm": [80]}, "a plan has no section [aperture]"),
    ],
)
def test_what_can_not_be_swept_is_said_in_one_sentence(places, words):
    with pytest.raises(PlanError) as caught:
        sweep(MONO, places)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)
