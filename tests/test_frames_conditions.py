"""Where a test sub looked, by its header: the Moon is not taken for lamps, and a known star tells haze from light."""

import dataclasses
import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import astropy.units as u
import numpy as np
import pytest
from astropy.coordinates import AltAz, EarthLocation, SkyCoord
from astropy.io import fits
from astropy.time import Time
from astropy.utils import iers

from expocalc.budget.answer import filter_named
from expocalc.budget.rates import rates
from expocalc.frames.measure.sub import measure_sub
from expocalc.frames.read.fits import read_frame
from expocalc.frames.read.header import FrameError, read_header
from expocalc.frames.simulate.scene import even_scene
from expocalc.frames.simulate.when import USUAL, moment_like
from expocalc.frames.tell.as_json import sky_json
from expocalc.frames.tell.conditions import moment_of_header, seen_by
from expocalc.frames.tell.known_star import KnownStar, expected_e_s
from expocalc.frames.tell.plan_side import as_camera, behind_of, measured_changes, unmeasured
from expocalc.frames.tell.sky import tell_sky
from expocalc.night.almanac import lit_share
from expocalc.plan import Plan

PLANS = Path(__file__).parents[1] / "notebooks" / "plans"
SHAPE = (192, 256)
MOONLIT = "2026-08-29T21:30:00"
"""Near full Moon, up at the demo's place, and the target high."""
ROW, COLUMN, MAG = 60.3, 90.6, 10.0


@pytest.fixture(scope="module")
def plan():
    return Plan.read(PLANS / "mono-single-lines.toml")


@pytest.fixture(scope="module")
def case(plan):
    return plan.case


def known(**cards):
    return read_header(fits.Header({"EXPTIME": 300.0, **cards}), SHAPE)


def told_of(case, path, *, sky=1.0, light=1.0, date=MOONLIT, name=None, star=True, seed=1):
    """A sub under the sky that the model says for its date, times `sky`; its stars show `light` of theirs."""
    filter_ = filter_named(case, name or case.filters[0].name)
    header = fits.Header({"EXPTIME": 300.0, "EGAIN": 0.25, "FILTER": filter_.name})
    if date:
        header["DATE-OBS"] = date
    there = seen_by(case, read_header(header, SHAPE)).there(unmeasured(case))
    rate = rates(there, filter_)
    rng = np.random.default_rng(seed)
    places = np.array([[ROW, COLUMN], *rng.uniform(20, 170, (14, 2))])
    lights = np.array([expected_e_s(there, filter_, MAG), *rng.uniform(3, 20, 14)]) * light
    scene = even_scene(float(rate.sky_e_s[0]) * sky, SHAPE).with_stars(places, lights, 2.8)
    expected = (scene.light_e_s + rate.dark_e_s) * 300
    read = float(case.camera.setting.read_noise.value)
    data = 500 + (rng.poisson(expected) + rng.normal(0, read, SHAPE)) / 0.25
    fits.PrimaryHDU(data.round().clip(0, 65535).astype(np.uint16), header).writeto(path, overwrite=True)
    frame = as_camera(read_frame(path), case)
    wanted = KnownStar(row=round(ROW), column=round(COLUMN), mag_v=MAG) if star else None
    return tell_sky(measure_sub([frame], behind_of(case)), case, filter_.name, wanted)


# Where it looked


def test_altitude_and_moon_of_a_date_against_astropy(case):
    seen = seen_by(case, known(**{"DATE-OBS": MOONLIT}))
    with iers.conf.set_temp("auto_download", False):
        at = Time(MOONLIT, scale="utc") + 150 * u.s
        site = case.site
        place = EarthLocation(lat=site.latitude, lon=site.longitude, height=site.elevation)
        target = SkyCoord(case.target.right_ascension, case.target.declination)
        expected = target.transform_to(AltAz(obstime=at, location=place)).alt.deg
    assert seen.known
    assert seen.altitude_deg == pytest.approx(expected, abs=0.1)
    assert seen.date == "2026-08-29"
    # full Moon was on 2026-08-28 at 04:18 UTC (a partial eclipse of the Moon, common almanacs; from memory)
    assert 0.9 < float(lit_share(seen.moon.phase_deg)) < 0.99
    assert "the Moon 9" in seen.words


def test_hours_after_midnight_belong_to_the_evening_before(case):
    assert seen_by(case, known(**{"DATE-OBS": "2026-08-30T02:00:00"})).date == "2026-08-29"


@pytest.mark.parametrize(
    ("cards", "altitude"),
    [({"OBJCTALT": 41.5}, 41.5), ({"CENTALT": "41,5"}, 41.5), ({"AIRMASS": 2.0}, 30.0), ({"AIRMASS": 0.3}, None)],
)
def test_altitude_of_the_header_where_there_is_no_place(case, cards, altitude):
    nowhere = dataclasses.replace(case, site=dataclasses.replace(case.site, latitude=None, longitude=None))
    seen = seen_by(nowhere, known(**cards))
    assert not seen.known
    assert seen.altitude_deg == (altitude if altitude is None else pytest.approx(altitude, abs=0.01))
    assert next(iter(cards)) in seen.words if altitude else "as in the plan" in seen.words


@pytest.mark.parametrize(
    ("date", "said"),
    [
        ("2026-01-10T02:00:00", "below the horizon, at -7°: clock, place or coordinates are off"),
        ("2026-06-10T06:00:00", "the Sun was up: clock, place or coordinates are off"),
        ("1890-02-10T20:00:00", "does not reach to 1890"),
    ],
)
def test_dates_that_can_not_be(case, date, said):
    seen = seen_by(case, known(**{"DATE-OBS": date}))
    assert said in seen.warning
    assert seen.altitude_deg is None


@pytest.mark.parametrize("date", ["yesterday", "", "2026-13-01T00:00:00"])
def test_dates_that_are_none(case, date):
    header = known(**({"DATE-OBS": date} if date else {}))
    assert moment_of_header(header) is None
    assert seen_by(case, header).plan_value() == {}


def test_simulated_frames_are_dated_as_the_plan_s_sky_wants(case):
    begin = moment_like(case)
    seen = seen_by(case, known(**{"DATE-OBS": begin.isoformat()}))
    assert seen.altitude_deg == pytest.approx(float(case.target.altitude.value), abs=1.0)
    assert seen.moon is None
    assert (begin.replace(tzinfo=UTC) - USUAL.replace(tzinfo=UTC)) < timedelta(days=366)
    nowhere = dataclasses.replace(case, site=dataclasses.replace(case.site, latitude=None, longitude=None))
    assert moment_like(nowhere) == USUAL == datetime(2026, 10, 10, 19)


# The sky of a moonlit night


def test_moonlight_is_not_taken_for_lamps(case, tmp_path):
    moonlit = told_of(case, tmp_path / "a.fits")
    assert moonlit.ratio["mono"] == pytest.approx(1, abs=0.03)
    assert moonlit.reasons[0].endswith("as on a clear night: no haze")
    # the same sub without its date: the plan has no Moon, and the sky seems too bright
    blind = told_of(case, tmp_path / "a.fits", star=False)
    frame = dataclasses.replace(blind.found.frame, known=dataclasses.replace(blind.found.frame.known, date=None))
    undated = tell_sky(dataclasses.replace(blind.found, frame=frame), case)
    assert undated.ratio["mono"] > 1.2 * blind.ratio["mono"]


def test_the_plan_takes_the_sky_with_its_conditions(plan, tmp_path):
    told = told_of(plan.case, tmp_path / "a.fits")
    after = plan.with_values(measured_changes(told.found, plan.case, told.filter_name, told.seen)).case
    assert after.measured_under.date.isoformat() == "2026-08-29"
    filter_ = plan.case.filters[0]
    own, now = rates(plan.case, filter_), rates(after, filter_)
    # brought back from Moon and altitude the plan's own dark sky comes out
    assert now.sky_e_s[0] == pytest.approx(own.sky_e_s[0], rel=0.03)
    assert float(told.found.colours["mono"].sky_e_s) > 1.2 * own.sky_e_s[0]
    assert told.now.kept_h == pytest.approx(told.planned.kept_h, rel=0.05)
    assert sky_json(told)["measured_under"]["moon"]["illuminated"] > 0.9


def test_a_second_filter_is_brought_to_where_the_first_was_measured(plan, tmp_path):
    first = told_of(plan.case, tmp_path / "a.fits")
    one = plan.with_values(measured_changes(first.found, plan.case, first.filter_name, first.seen))
    dark = told_of(one.case, tmp_path / "b.fits", date="2026-09-12T20:00:00", name=one.case.filters[1].name)
    assert dark.seen.moon is None
    changes = measured_changes(dark.found, one.case, dark.filter_name, dark.seen)
    assert ("measured_under",) not in changes
    both = one.with_values(changes).case
    for filter_ in both.filters:
        assert rates(both, filter_).sky_e_s[0] == pytest.approx(rates(plan.case, filter_).sky_e_s[0], rel=0.05)


# A star of known light


def test_electrons_of_a_star_by_hand(case):
    # V = 10: 3640 Jy x 1e-4 (Bessell 1979, PASP 91, 589, table IV), flat in F_nu: F_nu / h x width / wavelength photons
    filter_ = case.filters[0]
    high = seen_by(case, known(**{"DATE-OBS": MOONLIT})).there(case)
    area_cm2, wave_nm, width_nm = math.pi / 4 * 10.2**2, 656.3, 5.0
    photons = 3640e-23 * 1e-4 / 6.626e-27 * width_nm / wave_nm * area_cm2
    efficiency = 0.92 * 0.88 * float(case.camera.quantum_efficiency(wave_nm))
    air = 10 ** (-0.4 * 0.15 * 1.15)  # a town's air at 656 nm, from memory
    assert expected_e_s(high, filter_, 10.0) == pytest.approx(photons * efficiency * air, rel=0.1)


@pytest.mark.parametrize(
    ("sky", "light", "said"),
    [
        (1.0, 1.0, "as on a clear night: no haze"),
        (2.5, 1.0, "the air is no reason, light was added"),
        (2.5, 0.4, "haze or thin cloud, which the lamps"),
        (1.0, 0.4, "haze, thin cloud, or dew on the glass"),
        (0.35, 0.4, "less light comes through the gear"),
        (0.35, 1.0, "it is the sky that is darker"),
        (1.0, 2.2, "is it the right star"),
    ],
)
def test_what_a_known_star_tells(case, tmp_path, sky, light, said):
    told = told_of(case, tmp_path / "a.fits", sky=sky, light=light)
    assert told.star.share == pytest.approx(light, rel=0.05)
    assert said in told.verdict
    assert told.star.dimmed is (light < 0.5)
    others = {
        "no haze",
        "light was added",
        "haze or thin cloud",
        "dew on the glass",
        "through the gear",
        "the right star",
    }
    assert sum(one in told.verdict for one in others) <= 1
    # the excess is looked for elsewhere only where the star says that the air is clear
    assert ("are left" in told.verdict) is (sky > 2 and light == 1)
    assert "haze, more lamps" not in told.verdict


def test_without_a_star_haze_is_not_excluded(case, tmp_path):
    told = told_of(case, tmp_path / "a.fits", sky=2.5, star=False)
    assert "haze, more lamps than the reading says, or a light leak are left" in told.verdict
    assert "a star of known magnitude tells haze" in told.verdict
    assert told.star is None


def test_stars_that_can_not_be_used(case, tmp_path):
    told = told_of(case, tmp_path / "a.fits")
    with pytest.raises(FrameError, match=r"no star was found at row 100, column 5 of a.fits; the nearest is at row"):
        tell_sky(told.found, case, None, KnownStar(row=100, column=5, mag_v=9.0))
    full = dataclasses.replace(told.found.stars, full=np.ones_like(told.found.stars.full))
    with pytest.raises(FrameError, match=r"the star at row .* of a.fits is full"):
        tell_sky(dataclasses.replace(told.found, stars=full), case, None, KnownStar(row=60, column=91, mag_v=9.0))
    with pytest.raises(FrameError, match="a known star needs a plan"):
        tell_sky(told.found, None, None, KnownStar(row=60, column=91, mag_v=9.0))


@pytest.mark.parametrize(("light", "said"), [(0.6, "% of their light in the second"), (1.0, ""), (1.6, "in the first")])
def test_air_that_changes_between_two_subs(case, tmp_path, light, said):
    frames = []
    for at, share in enumerate((1.0, light)):
        told_of(case, tmp_path / f"{at}.fits", light=share, star=False, seed=5)
        frames.append(as_camera(read_frame(tmp_path / f"{at}.fits"), case))
    found = measure_sub(frames, behind_of(case))
    assert found.second_light == pytest.approx(light, rel=0.05)
    told = tell_sky(found, case)
    assert ("The same stars show" in told.verdict) is bool(said)
    assert said in told.verdict
    assert math.isnan(measure_sub(frames[:1], behind_of(case)).second_light)
