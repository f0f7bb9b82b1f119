"""The library of targets and the H-alpha survey: what they accept, refuse and say."""

import csv
import re
from dataclasses import replace
from pathlib import Path

import astropy.units as u
import numpy as np
import pytest
from astropy.table import Table

from expocalc.base.table import DATA
from expocalc.light.emission_measure import emission_measure
from expocalc.light.halpha_map import ACKNOWLEDGEMENT, Survey, halpha_brightness, read_survey
from expocalc.light.library import CONFIDENCE, TARGETS, region
from expocalc.light.lights import ContinuumLight, LineLight, read_light
from expocalc.light.position import read_declination, read_right_ascension
from expocalc.light.target import Target

NOTEBOOKS = Path(__file__).parents[1] / "notebooks"
REGIONS = [pytest.param(one, id=one.name) for one in TARGETS.values()]


def test_library_covers_both_hemispheres_and_all_seasons():
    ra = np.array([one.right_ascension_deg for one in TARGETS.values()])
    dec = np.array([one.declination_deg for one in TARGETS.values()])
    assert len(TARGETS) >= 25
    for here in (dec > 0, dec < 0):
        assert np.histogram(ra[here], bins=[0, 90, 180, 270, 360])[0].min() >= 2
    assert len({one.best_month for one in TARGETS.values()}) >= 10
    assert {one.kind for one in TARGETS.values()} == {"line", "continuum"}


@pytest.mark.parametrize("one", REGIONS)
def test_region_is_whole(one):
    assert 0 <= one.right_ascension_deg < 360
    assert -90 <= one.declination_deg <= 90
    assert one.value > 0
    assert one.grade in CONFIDENCE
    assert re.search(r"\b(19|20)\d\d\b|WHAM", one.source), "a source has a year"
    assert one.part
    assert (one.low is None) == (one.high is None)
    if one.low is not None:
        faint_to_bright = [one.low, one.value, one.high]
        assert faint_to_bright == sorted(faint_to_bright, reverse=one.kind == "continuum")


@pytest.mark.parametrize("one", REGIONS)
def test_remembered_value_says_so_wherever_it_is_shown(one):
    for words in (one.shown, one.caution):
        assert ("from memory" in words.replace("middle from memory", "")) == (one.grade != "A")
    assert one.source in one.caution
    assert one.conflict in one.caution


@pytest.mark.parametrize("one", REGIONS)
def test_light_goes_into_a_plan(one):
    ends = ["value"] if one.low is None else ["low", "value", "high"]
    photons = []
    for end in ends:
        light = read_light(one.light(end))
        assert isinstance(light, LineLight if one.kind == "line" else ContinuumLight)
        assert light.name == one.emits
        spectrum = light.spectrum
        photons.append(spectrum.line.sum() if one.kind == "line" else spectrum.continuum.value.max())
    assert photons == sorted(photons), "low is the faint end"
    assert photons[0] > 0
    Target(
        name=one.name, right_ascension=one.right_ascension_deg * u.deg, declination=one.declination_deg * u.deg,
        light=[one.light()],
    )  # fmt: skip


@pytest.mark.parametrize("end", ["low", "value", "high"])
def test_a_value_that_holds_n_ii_is_split_and_counts_once(end):
    """The photons of both lines together are those of the value, all at H-alpha's energy (N II's is 0.3 % less)."""
    one = region("Sh2-240, Simeis 147")
    assert one.holds == ("N II",)
    split = read_light(one.light(end))
    whole = LineLight(line="H-alpha", brightness=f"{getattr(one, end)} erg/(s cm2 arcsec2)")
    assert split.spectrum.line.sum() == pytest.approx(whole.spectrum.line.sum(), rel=1e-3)
    assert split.brightness < whole.brightness
    assert "with N II" in one.shown
    assert "split off" in one.caution


def test_lines_beside_the_value_come_on_top_of_it():
    """CTA 1 by Mavromatakis et al. 2000: 1.3, 1.4 and 1.8e-16 erg of H-alpha, N II and S II."""
    one = region("CTA 1, filament")
    light = read_light(one.light())
    assert float(light.brightness.value) == pytest.approx(1.3e-16 / 5.661e-18, rel=1e-3)
    energy = dict(zip(light.spectrum.line_nm, light.spectrum.line / light.spectrum.line_nm, strict=True))
    h_alpha = energy[656.28]
    assert (energy[658.35] + energy[654.80]) / h_alpha == pytest.approx(1.4 / 1.3, rel=0.02)
    assert (energy[671.64] + energy[673.08]) / h_alpha == pytest.approx(1.8 / 1.3, rel=0.02)


def test_where_n_ii_is_not_known_the_caution_says_so():
    assert "N II beside it is not known here" in region("CTB 1").caution
    assert "N II" not in region("CTB 1 in O III").caution


def test_no_notebook_has_a_spoilt_beam_as_its_example():
    """The Orion Nebula's is one; a place in a notebook is written `6h32m` and `+4d56m`."""
    assert halpha_brightness("5h35m", "-5d23m").error_r is None
    texts = [path.read_text(encoding="utf-8") for path in NOTEBOOKS.rglob("*.ipynb")]
    places = [place for text in texts for place in re.findall(r"`(\d+h\d+m)` and `([+-]\d+d\d+m)`", text)]
    assert places
    for place in places:
        assert halpha_brightness(*place).error_r is not None, place


def test_users_own_value_wins():
    mine = {**region("IC 1396").light(), "brightness": "12 R"}
    assert read_light(mine).brightness == 12 * u.R


def test_the_two_values_of_the_arc_name_each_other():
    peak, knot = region("M31 O III arc"), region("M31 O III arc, bright knot")
    assert knot.source.split(",")[0] in peak.caution
    assert peak.source.split(",")[0] in knot.caution
    assert "ten times" in peak.caution


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ("Rosete Nebula", 'did you mean "NGC 2237, Rosette Nebula"?'),
        ("m57", 'did you mean "M57, Ring Nebula"?'),
        ("cygnus loop", 'did you mean "G74.0-8.5, Cygnus Loop, faint outer filaments"?'),
        ("xyz", "it has"),
        ("", "it has"),
        (None, "it has"),
    ],
)
def test_unknown_name_offers_a_near_one(given, words):
    with pytest.raises(ValueError, match=re.escape(f"the library has no region {given!r}")) as caught:
        region(given)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_end_must_exist():
    with pytest.raises(ValueError, match=r'end must be one of value, low, high, got .*did you mean "high"'):
        region("IC 1396").light("hihg")
    with pytest.raises(ValueError, match=r"end must be \"value\" for M33, .* whose source gives no range"):
        region("M33, mean within 25 mag/arcsec2").light("low")


def test_table_is_read_by_astropy():
    """The project's own reader and astropy's find the same."""
    table = Table.read(DATA / "targets.ecsv", format="ascii.ecsv")
    assert list(table["name"]) == list(TARGETS)
    for row, one in zip(table, TARGETS.values(), strict=True):
        assert row["value"] == one.value
        assert row["part"] == one.part
    for key in ("title", "author", "year", "licence", "note", "date"):
        assert table.meta[key]
    assert table.meta["acknowledgement"] == ACKNOWLEDGEMENT


def test_table_is_ordered_and_has_no_name_twice():
    lines = (DATA / "targets.ecsv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.reader(line for line in lines if not line.startswith("#")))[1:]
    assert len(rows) == len(TARGETS)
    ra = [float(row[1]) for row in rows]
    assert ra == sorted(ra)


# Positions


@pytest.mark.parametrize(
    ("text", "deg"),
    [
        ("83.8 deg", 83.8),
        ("5h35m", 83.75),
        ("5h 35m 17s", 83.8208333),
        ("5:35:17", 83.8208333),
        ("5h35.3m", 83.825),
        ("5h 35,3m", 83.825),
        ("83d 48m", 83.8),
        ("83° 48′", 83.8),
        ("0h 0m", 0.0),
        ("5h", 75.0),
        ("5,588 h", 83.82),
        ("83.8°", 83.8),
        (83.8 * u.deg, 83.8),
        (5.5 * u.hourangle, 82.5),
    ],
)
def test_right_ascension(text, deg):
    assert read_right_ascension("right_ascension", text).value == pytest.approx(deg, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "deg"),
    [
        ("-5d23m", -5.383333),
        ("-0d 23m", -0.383333),
        ("−5° 23′ 24″", -5.39),
        ("+30.7 deg", 30.7),
        ("-90 deg", -90.0),
        ("-5.4d", -5.4),
    ],
)
def test_declination(text, deg):
    assert read_declination("declination", text).value == pytest.approx(deg, abs=1e-6)


@pytest.mark.parametrize(
    ("ra", "dec", "kind", "words"),
    [
        (83.8, "-5 deg", TypeError, "right_ascension needs a unit convertible to deg, got the bare number 83.8"),
        ("83.8", "-5 deg", TypeError, "right_ascension needs a unit convertible to deg, got the bare number 83.8"),
        ("83.8 deg", -5.4, TypeError, "declination needs a unit convertible to deg, got the bare number -5.4"),
        ("83.8 deg", "5h23m", ValueError, "declination must lie from -90 to 90 deg, in degrees not hours"),
        ("25h00m", "-5 deg", ValueError, "right_ascension must lie from 0 to 360 deg"),
        ("25h", "-5 deg", ValueError, "right_ascension must lie from 0 to 360 deg"),
        ("83.8 deg", "95d", ValueError, "declination must lie from -90 to 90 deg"),
        ("5h75m", "-5 deg", ValueError, "minutes and seconds below 60"),
        ("400 deg", "-5 deg", ValueError, "right_ascension must be at most 360 deg"),
        ("83.8 deg", "-91 deg", ValueError, "declination must be at least -90 deg"),
        ("nan deg", "-5 deg", ValueError, "right_ascension must be a finite number"),
        ("83.8 mm", "-5 deg", u.UnitsError, "right_ascension must be convertible to deg"),
        ("here", "-5 deg", ValueError, "right_ascension must be a number with its unit"),
        (None, "-5 deg", TypeError, "right_ascension must be a number with its unit"),
    ],
)
def test_bad_position_gets_one_sentence(ra, dec, kind, words):
    with pytest.raises(kind, match=re.escape(words)) as caught:
        halpha_brightness(ra, dec)
    assert "\n" not in str(caught.value)
    assert "write it like" in str(caught.value)


# The survey


def three_beams():
    """Beams on the equator, 0.9 deg apart, the last one spoilt by a star; invented."""
    at = np.radians([10.0, 10.9, 11.8])
    direction = np.column_stack([np.cos(at), np.sin(at), np.zeros(3)])
    return Survey(direction, np.array([1.0, 20.0, 5.0]), np.array([0.1, 0.2, 0.0]))


def test_nearest_beam_and_the_range_around_it():
    value = three_beams().at(10.4, 0.0)
    assert value.rayleigh == 1.0
    assert value.error_r == 0.1
    assert value.distance_deg == pytest.approx(0.4, abs=1e-9)
    assert (value.lowest_r, value.highest_r, value.beams) == (1.0, 20.0, 2)
    assert "small structure can be much brighter" in value.caution
    assert "beside it" not in value.caution


def test_spoilt_beam_and_place_between_beams_are_told():
    value = three_beams().at(11.8, 0.6)
    assert value.error_r is None
    assert "bright star" in value.caution
    assert "beside it" in value.caution
    assert "bright star" not in three_beams().at(10.0, 0.0).caution


def test_far_from_every_beam_is_refused():
    with pytest.raises(ValueError, match=r"within 1 deg of a beam of the survey, got 50 deg, 0 deg, 38\.2 deg from"):
        three_beams().at(50.0, 0.0)
    assert three_beams().at(9.01, 0.0).beams == 1


def test_negative_beam_gives_no_negative_light():
    value = replace(three_beams().at(10.0, 0.0), rayleigh=-0.3)
    assert read_light(value.light()).brightness == 0 * u.R


def test_survey_reaches_every_place():
    """Survey of the whole sky: no position is refused, the poles and the seam at 0 h included."""
    rng = np.random.default_rng(1)
    ra, dec = rng.uniform(0, 360, 300), np.degrees(np.arcsin(rng.uniform(-1, 1, 300)))
    for here in [*zip(ra, dec, strict=True), (0.0, 90.0), (0.0, -90.0), (0.0, 0.0), (360.0, 0.0)]:
        value = read_survey().at(*here)
        assert value.distance_deg <= 1
        assert value.lowest_r <= value.rayleigh <= value.highest_r
    assert read_survey().at(0.0, 0.0).rayleigh == read_survey().at(360.0, 0.0).rayleigh


def test_value_is_shown_with_licence_and_acknowledgement():
    value = halpha_brightness("83.8 deg", "-5.4 deg")
    assert ACKNOWLEDGEMENT in value.licence
    assert "BSD-3-Clause" in value.licence
    with np.load(DATA / "halpha_survey.npz", allow_pickle=False) as data:
        header = str(data["header"])
    for words in ("title:", "author:", "licence:", "package: whampy 1.0.4", f'acknowledgement: "{ACKNOWLEDGEMENT}"'):
        assert words in header


def test_survey_file_stays_small():
    assert (DATA / "halpha_survey.npz").stat().st_size <= 700_000


def test_light_of_the_survey_goes_into_a_plan():
    value = halpha_brightness("4h16m", "-5d00m")
    assert read_light(value.light()).brightness.value == pytest.approx(value.rayleigh, rel=0.005)


@pytest.mark.parametrize("temperature_k", [0.0, -5.0, float("nan")])
def test_cold_gas_is_refused(temperature_k):
    with pytest.raises(ValueError, match="temperature_k must be above 0 K"):
        emission_measure(1.0, temperature_k)
