"""Windows, worth and words of a night, from plans as people write them."""

import datetime as dt
import json
import re
import socket
import subprocess
import sys

import numpy as np
import pytest

from expocalc.budget.stacked import habits_of, patch_of
from expocalc.light.airmass import airmass, natural_factor
from expocalc.night.__main__ import main
from expocalc.night.as_json import night_json
from expocalc.night.evening import Evening
from expocalc.night.moments import ZENITH, Moments, moments_of, rates_over
from expocalc.night.night import tonight_of
from expocalc.night.windows import almanac_of, skyline_deg, windows_of
from expocalc.night.words import verdict
from expocalc.night.worth import reference_of, worth_over
from expocalc.plan import Plan, PlanError
from tests.waiting import PATIENCE_S

DEMO = "notebooks/plans/mono-single-lines.toml"
PLACE = {("target", "right_ascension"): "20h 45m 38s", ("target", "declination"): "+30d 43m"}
FLAT = ("routine", "background_flatness")
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
               ("routine", "darks"): "perfect", ("routine", "flats"): "perfect", FLAT: "perfect"}  # fmt: skip
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


@pytest.mark.parametrize("moonlit", [0.5, 0.75, 0.95])
def test_hours_of_a_mixed_stack_are_nearer_with_the_floor_of_each_moment_than_with_the_references(moonlit):
    # by hand: subs weighted by signal over variance, 1 / SNR^2 = 1 / sum q + (flatness x weighted mean background over
    # light)^2; the floor belongs to the whole stack
    case = plan(
        {("routine", "darks"): "perfect", ("routine", "flats"): "perfect", ("routine", "stacking"): "mean"}
    ).case
    for filter_ in case.filters:
        reference = reference_of(case, filter_)
        goal2, flatness = case.goal_of(reference.light) ** 2, case.routine.flatness
        brings, over_light, worths = [], [], []
        for moon in (None, (45.0, 0.0, 60.0)):
            at = at_rest(60, moon)
            rate = rates_over(case, filter_, at)
            patch = patch_of(case, rate, reference.light, reference.sub_s)
            signal, behind = patch.signal_e_s[0, 0], patch.light_e_s[0, 0] + rate.dark_e_s
            read = case.camera.setting.read_variance_e2
            noise = (signal + behind) * reference.sub_s + read
            pixels = float(np.ravel(patch.side_px)[0]) ** 2
            area = 1 + pixels / habits_of(case, rate.scale_arcsec).background_px ** 2
            noise += (area - 1) * (behind * reference.sub_s + read)
            brings.append(pixels * (signal * reference.sub_s) ** 2 / noise)
            over_light.append(behind / signal)
            worths.append(float(worth_over(case, reference, at).worth[0]))
        shares, brings, over_light = np.array([1 - moonlit, moonlit]), np.array(brings), np.array(over_light)
        weights = shares * brings / (shares @ brings)
        exact = 1 / (1 / goal2 - (flatness * weights @ over_light) ** 2) / (shares @ brings)
        one_dark = 1 / (1 / goal2 - (flatness * over_light[0]) ** 2) / brings[0]
        rule = one_dark / (shares @ (np.array(worths) / worths[0]))
        without = one_dark / (shares @ (brings / brings[0]))
        assert without < exact <= rule * (1 + 1e-6)
        assert rule / exact - 1 < 0.1
        assert rule - exact < exact - without


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


@pytest.mark.parametrize("seeing", ["1.5 arcsec", "2.8 arcsec", "4 arcsec"])
def test_hours_for_a_star_follow_the_exposure_law(seeing):
    # effective time of an exposure (Neilsen et al. 2016, FERMILAB-TM-2610, from memory): where the sky is all the noise
    # it goes as transmission squared over the sky's brightness and over the square of the star's width
    changes = {
        ("site", "seeing"): seeing, ("target", "light"): [{"star": "21 mag"}],
        ("sky", "zenith_brightness"): "19 mag/arcsec2",
        ("filters",): [{"name": "V", "passbands": [{"centre": "550 nm", "width": "10 nm"}]}], ("sky", "measured"): None,
        ("routine", "sub_length"): "3000 s", ("routine", "longest_sub"): None, ("goal", "unsaturated_star"): None,
        ("routine", "darks"): "perfect", ("routine", "flats"): "perfect", FLAT: "perfect",
        ("routine", "stacking"): "mean",
        ("routine", "guiding"): "0 arcsec", ("telescope", "blur"): "0 arcsec", ("goal", "snr"): 200,
        ("telescope", "aperture"): "500 mm", ("telescope", "focal_length"): "2500 mm",
        ("camera", "pixel"): "3 um", ("camera", "dark_current", "rate"): "0 electron/s",
    }  # fmt: skip
    case = plan(changes).case
    reference = reference_of(case, case.filters[0])
    altitude = np.array([85.0, 60.0, 45.0, 35.0])
    at = Moments(altitude, np.zeros(4), np.full(4, -90.0), np.full(4, 180.0), np.full(4, 180.0))
    found = worth_over(case, reference, at)
    mass, zenith = airmass(altitude), airmass(90.0)
    k = float(case.sky.extinction_curve(12.0)(550))
    transmission = 10 ** (-0.4 * k * (mass - zenith))
    brighter = 10 ** (0.4 * 0.4 * ((90 - altitude) / 45) ** 2)
    wider = (mass / zenith) ** 0.6  # Roddier 1981: seeing goes as airmass^0.6
    law = transmission**2 / brighter / wider**2
    assert found.worth == pytest.approx(law, rel=0.04)
    extended = plan({**changes, ("target", "light"): [{"continuum": "25 mag/arcsec2"}]}).case
    flat = worth_over(extended, reference_of(extended, extended.filters[0]), at).worth
    assert flat == pytest.approx(transmission**2 / brighter, rel=0.02)  # seeing does not matter to what is wide


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
        ({("sky", "gradient"): {"toward_azimuth": "90 deg"}}, "gradient needs the key"),
        ({("sky", "gradient"): "0.4"}, "gradient"),
        (
            {("routine", "counts"): [{"sub_length": "300 s", "taken": 40, "spoiled": 41}]},
            "spoiled must be at most the 40 subs taken, got 41",
        ),
        ({("routine", "counts"): [{"sub_length": "300 s", "taken": 40}]}, "counts number 1 needs the key"),
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
        "plan_for_p10": None,
        "plan_for_p50": None,
        "plan_for_p90": None,
    }


def test_goals_beyond_a_year_are_said():
    night = tonight_of(
        plan(
            {("goal", "snr"): 2000, ("routine", "darks"): "perfect", ("routine", "flats"): "perfect", FLAT: "perfect"}
        ).case
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
    counts = [f"{kind}_{share}" for kind in ("nights", "plan_for") for share in ("p10", "p50", "p90")]
    assert list(found["nights"][0]) == ["filter", *counts]
    assert [row["filter"] for row in found["nights"]] == ["H-alpha 5 nm", "O III 5 nm", "all"]
    assert found["sun"]["set_utc"].endswith("Z")


ISO = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")
REASONS = {
    "dusk",
    "dawn",
    "target rises",
    "target sets",
    "earliest",
    "latest",
    "Moon rises",
    "Moon sets",
    "flip",
    "noon",
}


def times(found):
    for key, value in found.items():
        if key.endswith("_utc"):
            yield value


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {("night", "date"): "2026-10-22"},
        {("site", "latitude"): None, ("site", "longitude"): None},
        {("target", "right_ascension"): None, ("target", "declination"): None},
        {("site", "latitude"): "65 deg", ("night", "date"): "2026-06-20"},
        {("site", "latitude"): "88 deg", ("night", "date"): "2026-12-20"},
        {("routine", "background_flatness"): 0.5, ("routine", "dither_every"): None},
        {("camera", "gains", "high", "bias_level"): None, ("night", "earliest"): "23:00"},
    ],
)
def test_every_key_of_the_object_keeps_its_promise(tmp_path, capsys, changes):
    assert main([saved(tmp_path, changes), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    case = plan(changes).case
    assert found["title"] == case.title
    assert found["date"] == case.night.date.isoformat()
    assert found["time_zone"] == case.site.time_zone
    begin, end = (tonight_of(case).evening.begin_s, tonight_of(case).evening.end_s)
    parts = [found["sun"], found["moon"], found["target"], *found["windows"], *found["blocks"]]
    for when in (when for part in parts for when in times(part) if when is not None):
        assert ISO.fullmatch(when)
        assert begin - 1 <= dt.datetime.fromisoformat(when).timestamp() <= end + 1
    assert 0 <= found["moon"]["illuminated"] <= 1
    assert 0 <= found["moon"]["phase_angle_deg"] <= 180
    highest = found["target"]["highest_deg"]
    placed = case.site.latitude is not None and case.target.declination is not None
    if placed:  # at the upper transit, geometric
        declination, latitude = float(case.target.declination.value), float(case.site.latitude.value)
        assert highest == pytest.approx(90 - abs(latitude - declination), abs=0.2)
    else:
        assert highest is None
        assert found["hours"] == found["blocks"] == found["nights"] == []
    for window in found["windows"]:
        assert window["begin_utc"] < window["end_utc"]
        assert {window["opened_by"], window["closed_by"]} <= REASONS
    clock = sum((b - a).total_seconds() / 3600 for a, b in (
        (dt.datetime.fromisoformat(w["begin_utc"]), dt.datetime.fromisoformat(w["end_utc"])) for w in found["windows"]
    ))  # fmt: skip
    names = [f.name for f in case.filters]
    for hours in found["hours"]:
        assert hours["dark_h"] + hours["moonlit_h"] == pytest.approx(clock, abs=0.02)
        assert 0 <= hours["equivalent_dark_h"] <= clock
    assert [hours["filter"] for hours in found["hours"]] in ([], names)
    for block in found["blocks"]:
        assert block["filter"] in names
        assert block["begin_utc"] < block["end_utc"]
        assert block["sub_s"] > 0
        assert isinstance(block["subs"], int)
        assert block["dither_every"] == case.routine.dither_every
        assert (block["median_adu"] is None) == (case.camera.setting.bias_level is None)
        assert 0 < block["equivalent_dark_h"] <= clock
    assert [row["filter"] for row in found["nights"]] in ([], [*names, "all"])
    for row in found["nights"]:
        for kind in ("nights", "plan_for"):
            known = [n for n in (row[f"{kind}_{share}"] for share in ("p10", "p50", "p90")) if n is not None]
            assert known == sorted(known)
            assert all(isinstance(nights, int) and nights >= 1 for nights in known)
    assert found["verdict"].endswith(".")


def test_the_command_asks_no_network(tmp_path, capsys, monkeypatch):
    def refuse(*_args, **_kwargs):
        msg = "the network was asked"
        raise AssertionError(msg)

    for name in ("socket", "create_connection", "getaddrinfo"):
        monkeypatch.setattr(socket, name, refuse)
    assert main([saved(tmp_path)]) == 0
    assert "Start with" in " ".join(capsys.readouterr().out.split())


def test_nothing_but_the_answer_reaches_the_terminal(tmp_path):
    """A library that a schedule is found with has a banner of its own, which a test within Python does not see."""
    words = [sys.executable, "-m", "expocalc.night", saved(tmp_path), "--json"]
    done = subprocess.run(words, capture_output=True, text=True, timeout=PATIENCE_S, check=True)
    assert json.loads(done.stdout)["nights"]
    assert done.stderr == ""


def test_an_interrupt_and_a_closed_pipe_end_it_as_the_plans_command(tmp_path, monkeypatch):
    def interrupted(_arguments):
        raise KeyboardInterrupt

    path = saved(tmp_path)
    done = subprocess.run(
        f"{sys.executable} -m expocalc.night {path} --json | head -c 1 >/dev/null; exit ${{PIPESTATUS[0]}}",
        shell=True, executable="/bin/bash", capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stderr == ""
    full = subprocess.run(
        f"{sys.executable} -m expocalc.night {path} > /dev/full",
        shell=True,
        capture_output=True,
        text=True,
        check=False,
    )
    assert full.returncode == 1
    assert full.stderr.count("\n") == 1
    monkeypatch.setattr("expocalc.night.__main__._run", interrupted)
    assert main([path]) == 130


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
        ("routine", "darks"): "perfect", ("routine", "flats"): "perfect", FLAT: "perfect",
    }  # fmt: skip
    one, zenith = plan(changes), plan({**changes, ("target", "altitude"): "90 deg"})
    for summary, above, filter_ in zip(one.solve().filters, zenith.solve().filters, one.case.filters, strict=True):
        reference = reference_of(one.case, filter_)
        worth = worth_over(one.case, reference, at_rest(altitude)).worth
        assert reference.need_h / worth == pytest.approx(np.full(5, summary.clock_h), rel=1e-3)
        k = float(one.case.sky.extinction_curve(12.0)(550))
        brighter = summary.rates.sky_e_s[0] / above.rates.sky_e_s[0]
        assert 1 < brighter <= natural_factor(altitude, k) + 1e-9  # the town's share does not know how
