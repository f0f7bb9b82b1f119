"""The almanac beside published tables and two independent libraries."""

import datetime as dt
import math
import warnings

import numpy as np
import pytest

from expocalc.night.almanac import Almanac, lit_share, moon_phase_deg
from expocalc.night.evening import Evening
from expocalc.night.events import crossings, moon_height, moon_passage, sun_passage, transit

ephem = pytest.importorskip("ephem")


def utc(text):
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC).timestamp()


def day(begin_s):
    return begin_s + np.arange(0.0, 86400.1, 300)


def clock(found, zone_h=0):
    return [(dt.datetime.fromtimestamp(t + 3600 * zone_h + 30, dt.UTC).strftime("%H%M"), up) for t, up in found]


def sun_at(almanac, begin_s, limit_deg, zone_h=0):
    return clock(crossings(lambda t: almanac.sun(t).altitude_deg - limit_deg, day(begin_s)), zone_h)


def moon_at(almanac, begin_s, zone_h=0):
    return clock(crossings(lambda t: moon_height(almanac.moon(t)), day(begin_s)), zone_h)


# U.S. Naval Observatory, as quoted in the tests of skyfield (contrib/almanac2/test_almanac2.py,
# design/test_sunrise_moonrise.py, skyfield/tests/test_almanac.py); minutes.
GREENWICH = Almanac(51.5, 0.0)
FREDONIA = Almanac(36 + 57 / 60, -(112 + 31 / 60))
DEFIANCE = Almanac(41.281944, -84.362778)


def test_usno_greenwich_morning_of_2017():
    begin = utc("2017-01-01")
    found = [sun_at(GREENWICH, begin, limit)[0] for limit in (-18, -12, -6, -5 / 6)]
    assert found == [("0602", True), ("0643", True), ("0726", True), ("0806", True)]
    assert moon_at(GREENWICH, begin)[0] == ("0946", True)
    assert clock([(transit(GREENWICH.sun, day(begin)), True)]) == [("1204", True)]


def test_usno_defiance_twilights_of_2019():
    begin = utc("2019-11-08")
    for limit, rise, set_ in (
        (-18, "1042", "2359"),
        (-12, "1115", "2327"),
        (-6, "1148", "2254"),
        (-5 / 6, "1217", "2225"),
    ):
        assert sun_at(DEFIANCE, begin + 3600, limit) == [(rise, True), (set_, False)]  # the evening before ends at 0 h


@pytest.mark.parametrize(
    ("date", "rise", "set_"),
    [
        ("01-01", "0743", "1724"), ("03-20", "0634", "1842"), ("06-21", "0511", "1953"),
        ("09-23", "0619", "1826"), ("12-21", "0739", "1717"),
    ],
)  # fmt: skip
def test_usno_fredonia_sun_of_2023(date, rise, set_):
    begin = utc(f"2023-{date}") + 7 * 3600
    assert sun_at(FREDONIA, begin, -5 / 6, zone_h=-7) == [(rise, True), (set_, False)]


@pytest.mark.parametrize(
    ("date", "rise", "set_"),
    [
        ("01-01", "1342", "0257"), ("01-07", "1809", "0837"), ("03-07", "1852", "0715"),
        ("06-04", "2101", "0518"),
        ("06-18", "0515", "2054"), ("09-29", "1839", "0635"), ("12-27", "1755", "0838"),
        ("01-13", None, "…"), ("01-27", "…", None), ("06-08", None, "…"), ("06-24", "…", None),  # none that day
    ],
)  # fmt: skip
def test_usno_fredonia_moon_of_2023(date, rise, set_):
    found = moon_at(FREDONIA, utc(f"2023-{date}") + 7 * 3600, zone_h=-7)
    for wanted, up in ((rise, True), (set_, False)):
        times = [at for at, rising in found if rising == up]
        if wanted == "…":
            assert len(times) == 1
        else:
            assert times == ([] if wanted is None else [wanted])


def test_usno_moon_that_stays_up_for_half_an_hour():
    begin = utc("2023-02-19")
    assert moon_at(Almanac(70.0, 0.0), begin) == [("1128", True), ("1205", False)]


def test_usno_lit_share_of_2018():
    shares = [float(lit_share(moon_phase_deg(utc(f"2018-09-{d:02d}T05:00")))) for d in range(9, 19)]
    published = [0, 0, 0.03, 0.08, 0.15, 0.24, 0.33, 0.43, 0.52, 0.62]
    assert shares == pytest.approx(published, abs=0.0051)


def test_lit_share_of_astroplan():
    # astroplan, tests of moon_illumination, from PyEphem
    published = {
        "1990-01-01": 0.15476, "1990-03-01T06:00": 0.19484, "1990-06-01T12:00": 0.61708, "1990-11-01T18:00": 0.97802,
    }  # fmt: skip
    for when, share in published.items():
        assert float(lit_share(moon_phase_deg(utc(when)))) == pytest.approx(share, abs=0.005)


def test_no_dark_at_the_solstice_beyond_48_56_degrees():
    # 90 - 18 - 23.44, geometry
    for latitude, events in ((48.3, 2), (48.8, 0)):
        night = Evening(dt.date(2024, 6, 20), "UTC")
        almanac = Almanac(latitude, 0.0)
        assert len(crossings(lambda t, a=almanac: a.sun(t).altitude_deg + 18, night.moments_s)) == events


def random_nights(count=300):
    rng = np.random.default_rng(20_45)
    for _ in range(count):
        latitude = float(np.degrees(np.arcsin(rng.uniform(-1, 1))))
        date = dt.date(1990, 1, 1) + dt.timedelta(days=int(rng.integers(0, 55 * 365)))
        yield Almanac(latitude, float(rng.uniform(-180, 180)), float(rng.uniform(0, 3000))), Evening(date, "UTC")


def pyephem_events(almanac, night, body, horizon_deg, *, use_center):
    """First rise and set of PyEphem in the night, None where there is none."""
    place = ephem.Observer()
    place.lat, place.lon = math.radians(almanac.latitude_deg), math.radians(almanac.longitude_deg)
    place.elevation, place.pressure, place.horizon = almanac.elevation_m, 0, math.radians(horizon_deg)
    found = []
    for search in (place.next_rising, place.next_setting):
        place.date = dt.datetime.fromtimestamp(night.begin_s, dt.UTC)
        try:
            when = search(body, use_center=use_center).datetime().replace(tzinfo=dt.UTC).timestamp()
        except (ephem.AlwaysUpError, ephem.NeverUpError):
            when = math.inf
        found.append(when if when < night.end_s else None)
    return found


def grazes(height, night, limit):
    """Whether a height stays so near its limit that half a minute of arc decides whether it is reached."""
    t = np.linspace(night.begin_s, night.end_s, 400)
    value = height(t) - limit
    turning = (np.diff(np.sign(np.diff(value))) != 0) & (np.abs(value[1:-1]) < 0.05)
    return bool(turning.any())


def agree(ours, theirs, night):
    for a, b in zip(ours, theirs, strict=True):
        if a is None or b is None:
            edge = a if b is None else b
            assert edge is None or min(abs(edge - night.begin_s), abs(edge - night.end_s)) < 60
        else:
            assert abs(a - b) < 60


def test_pyephem_on_300_random_nights():
    polar = 0
    for almanac, night in random_nights():
        sun, moon = sun_passage(almanac, night), moon_passage(almanac, night)
        if not grazes(lambda t, a=almanac: a.sun(t).altitude_deg, night, -5 / 6):
            theirs = pyephem_events(almanac, night, ephem.Sun(), -5 / 6, use_center=True)
            agree((sun.rise_s, sun.set_s), theirs, night)
            polar += theirs == [None, None]
        if not grazes(lambda t, a=almanac: a.sun(t).altitude_deg, night, -18):
            dark = crossings(lambda t, a=almanac: a.sun(t).altitude_deg + 18, night.moments_s)
            ours = [next((t for t, up in dark if up == rising), None) for rising in (True, False)]
            agree(ours, pyephem_events(almanac, night, ephem.Sun(), -18, use_center=True), night)
        if not grazes(lambda t, a=almanac: moon_height(a.moon(t)), night, 0):
            theirs = pyephem_events(almanac, night, ephem.Moon(), -34 / 60, use_center=False)
            agree((moon.rise_s, moon.set_s), theirs, night)
    assert polar > 5  # days and nights without end are among them


@pytest.mark.filterwarnings("ignore")
def test_skyfield_altitudes_on_300_random_nights():
    api = pytest.importorskip("skyfield.api")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        data = pytest.importorskip("skyfield_data")
        load = api.Loader(data.get_skyfield_data_path())
    planets, scale = load("de421.bsp"), load.timescale(builtin=True)
    rng = np.random.default_rng(5)
    worst = {"sun": 0.0, "moon": 0.0, "star": 0.0}
    for almanac, night in random_nights():
        t = night.begin_s + rng.uniform(0, 86400, 1)
        when = scale.from_datetimes([dt.datetime.fromtimestamp(x, dt.UTC) for x in t])
        place = planets["earth"] + api.wgs84.latlon(almanac.latitude_deg, almanac.longitude_deg, almanac.elevation_m)
        seen = place.at(when)
        east, north = float(rng.uniform(0, 360)), float(np.degrees(np.arcsin(rng.uniform(-1, 1))))
        star = api.Star(ra_hours=east / 15, dec_degrees=north)
        for name, body, ours in (
            ("sun", planets["sun"], almanac.sun(t)),
            ("moon", planets["moon"], almanac.moon(t)),
            ("star", star, almanac.fixed(east, north, t)),
        ):
            altitude = seen.observe(body).apparent().altaz()[0].degrees
            worst[name] = max(worst[name], float(np.abs(altitude - ours.altitude_deg).max()))
    planets.close()
    assert all(off < 0.01 for off in worst.values()), worst


def test_horizons_and_seasons_in_the_south():
    # south of the equator the Sun passes the meridian in the north, and June is winter
    almanac = Almanac(-33.9, 18.5)
    for month, high in ((6, 32.7), (12, 79.5)):
        night = Evening(dt.date(2024, month, 21), "Africa/Johannesburg")
        noon = transit(almanac.sun, night.moments_s)
        at = almanac.sun(noon)
        assert float(at.altitude_deg) == pytest.approx(high, abs=0.2)
        assert min(float(at.azimuth_deg), 360 - float(at.azimuth_deg)) < 1
