"""Windows, worth and words of a night, from plans as people write them."""

import datetime as dt
import json
import subprocess
import sys

import numpy as np
import pytest

from expocalc.light.air import natural_factor
from expocalc.night.__main__ import main
from expocalc.night.as_json import night_json
from expocalc.night.evening import Evening
from expocalc.night.moments import ZENITH, Moments, moments_of, rates_over
from expocalc.night.night import tonight_of
from expocalc.night.windows import almanac_of, skyline_deg, windows_of
from expocalc.night.words import verdict
from expocalc.night.worth import reference_of, worth_over
from expocalc.plan import Plan, PlanError

DEMO = "notebooks/plans/mono-single-lines.toml"
PLACE = {("target", "right_ascension"): "20h 45m 38s", ("target", "declination"): "+30d 43m"}
NIGHT = {("night", "date"): "2026-10-10", ("night", "clear_share"): 0.4}


def plan(changes=None, *, night=True):
    return Plan.read(DEMO).with_values({**PLACE, **(NIGHT if night else {}), **(changes or {})})


def hours(windows):
    return sum(window.hours for window in windows)


@pytest.fixture(scope="module")
def demo():
    return tonight_of(plan({("night", "flip_time"): "5 min", ("night", "filter_change_time"): "4 min"}).case)


# ---- the evening names the night


@pytest.mark.parametrize(
    ("date", "zone", "length_h"),
    [
        ("2026-03-28", "Europe/Brussels", 23),
        ("2026-10-24", "Europe/Brussels", 25),
        ("2026-10-10", "Pacific/Kiritimati", 24),
    ],
)  # fmt: skip
def test_a_night_is_noon_to_noon_whatever_the_clock_does(date, zone, length_h):
    night = Evening(dt.date.fromisoformat(date), zone)
    assert (night.end_s - night.begin_s) / 3600 == length_h
    assert night.clock(night.begin_s) == night.clock(night.end_s) == "12:00"
    assert night.local(night.midnight_s).hour == 0
    assert np.all(np.diff(night.moments_s) > 0)


def test_hours_of_the_clock_lie_in_their_night():
    night = Evening(dt.date(2026, 10, 24), "Europe/Brussels")  # 3 h becomes 2 h
    assert [night.clock(night.after_noon(hour)) for hour in (20.0, 0.5, 11.0)] == ["20:00", "00:30", "11:00"]
    assert night.after_noon(1.5) - night.midnight_s == 1.5 * 3600


def test_both_sides_of_the_date_line_have_their_own_evening():
    east = tonight_of(plan({("site", "longitude"): "179.9 deg", ("site", "time_zone"): "Pacific/Auckland"}).case)
    west = tonight_of(plan({("site", "longitude"): "-179.9 deg", ("site", "time_zone"): "Pacific/Midway"}).case)
    assert west.sun.set_s - east.sun.set_s == pytest.approx(86400, abs=180)
    assert night_json(east)["date"] == night_json(west)["date"] == "2026-10-10"


# ---- windows


def test_windows_are_dark_above_the_skyline_and_within_the_users_hours():
    case = plan({("night", "earliest"): "22:00", ("night", "latest"): "02:30"}).case
    almanac, night = almanac_of(case), Evening(case.night.date, "Europe/Brussels")
    windows = windows_of(case, almanac, night)
    assert [(night.clock(w.begin_s), night.clock(w.end_s)) for w in windows] == [("22:00", "02:30")]
    assert (windows[0].opened_by, windows[0].closed_by) == ("earliest", "latest")
    t = np.linspace(windows[0].begin_s, windows[0].end_s, 50)
    assert almanac.sun(t).altitude_deg.max() < -18
    assert almanac.fixed(311.408, 30.717, t).altitude_deg.min() > 25


def test_what_opens_and_closes_is_where_it_says(demo):
    almanac, case = almanac_of(demo.case), demo.case
    dusk, flip = demo.windows
    assert (dusk.opened_by, dusk.closed_by, flip.opened_by, flip.closed_by) == ("dusk", "flip", "flip", "target sets")
    assert dusk.begin_s == pytest.approx(demo.dark_begin_s, abs=2)
    assert dusk.end_s == pytest.approx(demo.target.transit_s, abs=2)
    assert flip.begin_s - dusk.end_s == pytest.approx(300)
    end = almanac.fixed(311.408, 30.717, flip.end_s)
    skyline = skyline_deg(case.site.horizon, end.azimuth_deg)
    assert float(end.altitude_deg) == pytest.approx(float(skyline), abs=0.01)


def test_the_moon_cuts_windows_and_each_has_one_state_of_it():
    case = plan({("night", "date"): "2026-10-20"}).case
    night = tonight_of(case)
    almanac = almanac_of(case)
    assert {w.moon_up for w in night.windows} == {True, False}
    for w in night.windows:
        middle = almanac.moon((w.begin_s + w.end_s) / 2)
        assert (float(middle.altitude_deg) > -0.8) == w.moon_up
    assert "Moon sets" in {w.opened_by for w in night.windows}


def test_a_wall_to_the_south_takes_its_hours():
    wall = [[0, 10], [150, 10], [160, 75], [260, 75], [270, 10]]
    case = plan({("site", "horizon"): wall}).case
    low = plan({("site", "horizon"): "10 deg"}).case
    night = Evening(case.night.date, "Europe/Brussels")
    blocked, free = (windows_of(c, almanac_of(c), night) for c in (case, low))
    assert 0 < hours(blocked) < hours(free)
    assert "target rises" in {w.opened_by for w in blocked}


@pytest.mark.parametrize(
    ("latitude", "date", "said"),
    [
        ("60 deg", "2026-06-20", "the Sun never sinks below -18 deg"),
        ("-60 deg", "2026-10-10", "the target never rises"),
    ],
)
def test_nights_without_time_say_why(latitude, date, said):
    night = tonight_of(plan({("site", "latitude"): latitude, ("night", "date"): date}).case)
    assert night.windows == ()
    assert said in verdict(night)
    assert night.blocks == ()
    json.dumps(night_json(night), allow_nan=False)


def test_polar_night_is_dark_all_day():
    changes = {("site", "latitude"): "88 deg", ("site", "horizon"): "5 deg", ("night", "date"): "2026-12-20"}
    night = tonight_of(plan(changes).case)
    assert night.dark_begin_s is None
    assert night.dark_end_s is None
    assert hours(night.windows) == pytest.approx(24 - 5 / 60, abs=0.02)  # but for the turn at the meridian
    assert (night.target.rise_s, night.target.set_s) == (None, None)  # circumpolar


def test_southern_hemisphere():
    changes = {
        ("site", "latitude"): "-33.9 deg", ("site", "longitude"): "18.5 deg",
        ("site", "time_zone"): "Africa/Johannesburg",
        ("target", "right_ascension"): "5h 38m", ("target", "declination"): "-69d 6m", ("night", "date"): "2026-01-10",
    }  # fmt: skip
    night = tonight_of(plan(changes).case)
    assert night.highest_deg == pytest.approx(90 - (69.1 - 33.9), abs=0.1)
    assert night.target.rise_s is None
    assert hours(night.windows) > 5


# ---- the worth of an hour


def at_rest(altitude_deg, moon=None):
    moon = moon or (-90.0, 180.0, 180.0)
    return Moments(*(np.full(5, x) for x in (altitude_deg, 0.0, *moon)))


@pytest.mark.parametrize(("altitude", "moonlit"), [(90, False), (60, False), (30, False), (60, True), (40, True)])
def test_a_constant_night_takes_the_hours_of_solve(altitude, moonlit):
    # SNR so high that whole subs don't matter
    changes = {("target", "altitude"): f"{altitude} deg", ("goal", "snr"): 200, ("routine", "sub_length"): "300 s",
               ("routine", "darks"): "perfect", ("routine", "flats"): "perfect"}  # fmt: skip
    if moonlit:
        changes |= {("moon", "phase_angle"): "45 deg", ("moon", "altitude"): "35 deg", ("moon", "separation"): "70 deg"}
    one = plan(changes)
    for summary, filter_ in zip(one.solve().filters, one.case.filters, strict=True):
        reference = reference_of(one.case, filter_)
        worth = worth_over(one.case, reference, at_rest(altitude, (35.0, 45.0, 70.0) if moonlit else None)).worth
        assert reference.need_h / worth == pytest.approx(np.full(5, summary.clock_h), rel=1e-3)


def test_the_reference_is_worth_one_hour():
    case = plan().case
    for filter_ in case.filters:
        assert worth_over(case, reference_of(case, filter_), ZENITH).worth == pytest.approx([1.0])


def test_worth_falls_with_altitude_and_moonlight_and_most_in_blue_light():
    case = plan().case
    halpha, oiii = (reference_of(case, f) for f in case.filters)
    at = Moments(np.array([80.0, 50, 30, 15]), np.zeros(4), np.full(4, -90.0), np.full(4, 180.0), np.full(4, 90.0))
    for reference in (halpha, oiii):
        assert np.all(np.diff(worth_over(case, reference, at).worth) < 0)
    full = at_rest(60, (45.0, 0.0, 60.0))
    dark = at_rest(60)
    ratio = [float(worth_over(case, r, full).worth[0] / worth_over(case, r, dark).worth[0]) for r in (halpha, oiii)]
    assert ratio[1] < ratio[0] < 1


def test_a_town_in_one_direction_costs_only_there():
    gradient = {"at_45deg": "1 mag", "toward_azimuth": "180 deg"}
    case = plan({("sky", "gradient"): gradient}).case
    reference = reference_of(case, case.filters[0])

    def worth_toward(azimuth):
        at = Moments(*(np.array([x]) for x in (45.0, azimuth, -90.0, 180.0, 180.0)))
        return float(worth_over(case, reference, at).worth[0])

    south, north = worth_toward(180.0), worth_toward(0.0)
    level = plan({("sky", "gradient"): "1 mag"}).case
    assert south == pytest.approx(worth_over(level, reference_of(level, level.filters[0]), at_rest(45.0)).worth[0])
    assert north > 1.3 * south


def test_a_measured_sky_scales_with_the_night():
    case = plan({("sky", "measured"): {"H-alpha 5 nm": "0.2 electron/s"}}).case
    at = Moments(np.array([60.0, 30.0]), np.zeros(2), np.full(2, -90.0), np.full(2, 180.0), np.full(2, 90.0))
    found = rates_over(case, case.filters[0], at).sky_e_s[:, 0]
    assert found[0] == pytest.approx(0.2)  # measured at the plan's altitude
    assert found[1] > found[0]


def test_hours_are_the_integral_of_their_worth(demo):
    # summed anew, minute by minute
    case, almanac = demo.case, almanac_of(demo.case)
    for filter_, found in zip(case.filters, demo.hours, strict=True):
        total = 0.0
        for w in demo.windows:
            edges = np.linspace(w.begin_s, w.end_s, 2 + int(w.hours * 60))
            middle = (edges[1:] + edges[:-1]) / 2
            worth = worth_over(case, reference_of(case, filter_), moments_of(case, almanac, middle)).worth
            total += float((worth * np.diff(edges)).sum()) / 3600
        assert found.equivalent_dark_h == pytest.approx(total, rel=1e-3)
        assert found.dark_h + found.moonlit_h == pytest.approx(hours(demo.windows), abs=0.01)


# ---- blocks and verdict


def test_blocks_lie_in_windows_and_their_subs_fit(demo):
    assert demo.blocks
    for block in demo.blocks:
        assert any(w.begin_s - 1 <= block.begin_s < block.end_s <= w.end_s + 1 for w in demo.windows)
        assert block.subs * (block.sub_s + demo.case.routine.dead_s) <= block.end_s - block.begin_s + 1e-6
    for one, following in zip(demo.blocks, demo.blocks[1:], strict=False):
        assert one.end_s <= following.begin_s + 1


def test_the_verdict_says_the_numbers_of_the_blocks(demo):
    said = verdict(demo)
    for block in demo.blocks:
        assert block.filter_name in said
    first, last = demo.blocks[0], demo.blocks[-1]
    assert f"Start with {first.filter_name} at {demo.evening.clock(first.begin_s)}" in said
    assert f"stop at {demo.evening.clock(last.end_s)}" in said
    assert "40 % of the nights clear" in said


def test_more_clear_nights_take_fewer_nights():
    found = [
        tonight_of(plan({("night", "clear_share"): share}).case).campaign.counts["all"].p50 for share in (0.2, 0.5, 1)
    ]
    assert found == sorted(found, reverse=True)
    assert found[0] > found[2]


# ---- what is missing, what is wrong


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({("site", "latitude"): None, ("site", "longitude"): None}, "latitude and longitude in [site]"),
        ({("site", "time_zone"): None}, "Without time_zone in [site] all times are UTC"),
        ({("target", "right_ascension"): None, ("target", "declination"): None}, "right_ascension and declination"),
    ],
)
def test_a_plan_that_lacks_something_says_what_and_answers_the_rest(changes, said):
    one = plan(changes)
    night = tonight_of(one.case)
    assert said in verdict(night)
    json.dumps(night_json(night), allow_nan=False)
    assert one.solve().rows[0].kept_h == plan().solve().rows[0].kept_h
    if ("site", "latitude") not in changes:
        assert night.sun.set_s is not None


def test_without_a_zone_the_night_is_still_one_night():
    night = tonight_of(plan({("site", "time_zone"): None, ("site", "longitude"): "175 deg"}).case)
    assert night.sun.set_s < night.sun.rise_s
    assert night.evening.zone == "UTC"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({("night", "date"): "2026-13-40"}, 'date must be a date, got \'2026-13-40\'; write it like "2026-10-24"'),
        ({("night", "date"): "1800-01-01"}, "date must lie from 1951 to 2098, got 1800-01-01"),
        ({("site", "latitude"): "91 deg"}, "latitude must be"),
        ({("night", "earliest"): "03:00", ("night", "latest"): "22:00"}, "earliest must come before latest"),
        ({("night", "earliest"): "25:00"}, "earliest must be a time of day"),
        ({("night", "clear_share"): 1.5}, "clear_share must be"),
        ({("night", "sun_limit"): "-18"}, "sun_limit"),
        ({("night", "moonlight"): "1"}, "[night] has no key"),
        ({("site", "horizon"): [[200, 20], [100, 10]]}, "increasing azimuth"),
        ({("site", "horizon"): []}, "increasing azimuth"),
        ({("target", "declination"): None}, "got no declination"),
        ({("sky", "gradient"): {"at_45deg": "0.4 mag", "toward": "90 deg"}}, "toward_azimuth"),
        ({("sky", "gradient"): {"toward_azimuth": "90 deg"}}, "gradient must have at_45deg"),
        ({("sky", "gradient"): "0.4"}, "gradient"),
        (
            {("routine", "counts"): [{"sub_length": "300 s", "taken": 40, "spoiled": 41}]},
            "spoiled must be at most the 40 subs taken, got 41",
        ),
        ({("routine", "counts"): [{"sub_length": "300 s", "taken": 40}]}, "counts number 1 must have spoiled"),
    ],
)  # fmt: skip
def test_bad_input_is_one_sentence(changes, said):
    with pytest.raises(PlanError) as error:
        plan(changes)
    assert said in str(error.value)
    assert "\n" not in str(error.value)


def test_goals_that_no_hours_reach_are_said():
    night = tonight_of(plan({("routine", "background_flatness"): 0.5}).case)
    assert night.blocks == ()
    assert "No filter of the plan reaches its goal, however many the hours." in verdict(night)
    assert night_json(night)["nights"][-1] == {
        "filter": "all",
        "nights_p10": None,
        "nights_p50": None,
        "nights_p90": None,
    }


def test_goals_beyond_a_year_are_said():
    night = tonight_of(
        plan({("goal", "snr"): 2000, ("routine", "darks"): "perfect", ("routine", "flats"): "perfect"}).case
    )
    assert "The goals are not reached within a year." in verdict(night)
    assert night.blocks  # what can be done tonight stands there all the same


# ---- the command


def saved(tmp_path, changes=None):
    path = tmp_path / "plan.toml"
    plan(changes).save(path)
    return str(path)


def test_command_prints_one_object(tmp_path, capsys):
    assert main([saved(tmp_path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert list(found) == [
        "title", "date", "time_zone", "sun", "moon", "target", "windows", "hours", "blocks", "nights", "verdict",
    ]  # fmt: skip
    passage = ["rise_utc", "set_utc", "transit_utc"]
    assert list(found["sun"]) == [*passage, "dark_begin_utc", "dark_end_utc"]
    assert list(found["moon"]) == [*passage, "illuminated", "phase_angle_deg"]
    assert list(found["target"]) == [*passage, "highest_deg"]
    assert list(found["windows"][0]) == ["begin_utc", "end_utc", "opened_by", "closed_by"]
    assert list(found["hours"][0]) == ["filter", "dark_h", "moonlit_h", "equivalent_dark_h"]
    assert list(found["blocks"][0]) == [
        "filter", "begin_utc", "end_utc", "sub_s", "subs", "dither_every", "median_adu", "equivalent_dark_h",
    ]  # fmt: skip
    assert list(found["nights"][0]) == ["filter", "nights_p10", "nights_p50", "nights_p90"]
    assert [row["filter"] for row in found["nights"]] == ["H-alpha 5 nm", "O III 5 nm", "all"]
    assert found["sun"]["set_utc"].endswith("Z")


def test_command_takes_a_date(tmp_path, capsys):
    assert main([saved(tmp_path), "--date", "2026-12-24"]) == 0
    assert "Night of 2026-12-24" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("date", "said"), [("tomorrow", "must be a date"), ("2300-01-01", "must lie from 1951 to 2098")]
)
def test_command_refuses_a_bad_date_in_one_sentence(tmp_path, capsys, date, said):
    assert main([saved(tmp_path), "--date", date]) == 2
    out, error = capsys.readouterr()
    assert out == ""
    assert said in error
    assert error.count("\n") == 1


def test_command_says_what_is_wrong_with_a_plan(tmp_path, capsys):
    path = tmp_path / "plan.toml"
    path.write_text(Plan.read(DEMO).text.replace("51.2 deg", "91 deg"))
    assert main([str(path)]) == 2
    assert "latitude" in capsys.readouterr().err


def test_command_runs_as_a_module(tmp_path):
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "expocalc.night", saved(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "equivalent dark" in done.stdout


@pytest.mark.parametrize("altitude", [80, 50, 30])
def test_without_a_gradient_the_natural_sky_brightens_in_solve_and_in_the_night_alike(altitude):
    changes = {
        ("sky", "gradient"): None, ("sky", "zenith_brightness"): "21.5 mag/arcsec2",
        ("sky", "reading_band"): "bessell-V",
        ("target", "altitude"): f"{altitude} deg", ("goal", "snr"): 200, ("routine", "sub_length"): "300 s",
        ("routine", "darks"): "perfect", ("routine", "flats"): "perfect",
    }  # fmt: skip
    one, zenith = plan(changes), plan({**changes, ("target", "altitude"): "90 deg"})
    for summary, above, filter_ in zip(one.solve().filters, zenith.solve().filters, one.case.filters, strict=True):
        reference = reference_of(one.case, filter_)
        worth = worth_over(one.case, reference, at_rest(altitude)).worth
        assert reference.need_h / worth == pytest.approx(np.full(5, summary.clock_h), rel=1e-3)
        k = float(one.case.sky.extinction_curve(12.0)(550))
        brighter = summary.rates.sky_e_s[0] / above.rates.sky_e_s[0]
        assert 1 < brighter <= natural_factor(altitude, k) + 1e-9  # the town's share does not know how
