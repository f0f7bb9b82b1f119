"""What a test sub's sentences say holds for the numbers beside them, over many skies, lengths and colours."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from astropy.io import fits

from expocalc.budget.answer import answer_filter, filter_named
from expocalc.budget.rates import rates
from expocalc.frames.measure.sub import measure_sub
from expocalc.frames.read.fits import read_frame
from expocalc.frames.tell.as_json import sky_json
from expocalc.frames.tell.plan_side import as_camera, behind_of, measured_value, with_measured
from expocalc.frames.tell.sky import tell_sky
from expocalc.plan import Plan

PLANS = Path(__file__).parents[1] / "notebooks" / "plans"


@pytest.fixture(scope="module")
def mono():
    return Plan.read(PLANS / "mono-single-lines.toml").case


@pytest.fixture(scope="module")
def colour():
    return Plan.read(PLANS / "colour-dual-band.toml").case


def told_of(case, path, times, seconds, gain=0.25, seed=1):
    """A test sub whose sky is so many times the plan's, in its first filter, by colour."""
    filter_ = case.filters[0]
    rate = rates(case, filter_)
    light = rate.sky_e_s * np.asarray(times) + rate.dark_e_s
    colours = np.array([[0, 1], [1, 2]]) if len(rate.colours) == 3 else np.zeros((2, 2), dtype=int)
    expected = np.tile(light[colours], (64, 64)) * seconds
    rng = np.random.default_rng(seed)
    read = float(case.camera.setting.read_noise.value)
    data = 500 + (rng.poisson(expected) + rng.normal(0, read, expected.shape)) / 0.25
    header = fits.Header({"EXPTIME": seconds, "EGAIN": gain, "FILTER": filter_.name})
    fits.PrimaryHDU(data.round().astype(np.uint16), header).writeto(path, overwrite=True)
    frame = as_camera(read_frame(path), case)
    return tell_sky(measure_sub([frame], behind_of(case)), case)


@pytest.mark.parametrize("times", [0.3, 0.7, 1.0, 1.25, 1.8, 5.0])
@pytest.mark.parametrize("seconds", [10.0, 120.0, 300.0, 900.0])
def test_sentences_of_one_filter(mono, tmp_path, times, seconds):
    told = told_of(mono, tmp_path / "a.fits", times, seconds)
    name = mono.filters[0].name
    found, (low, high) = told.ratio["mono"], told.doubt
    assert found == pytest.approx(times, rel=0.1)
    inside = low <= found <= high
    assert ("within its doubt" in told.verdict) is inside
    assert ("beyond its doubt" in told.verdict) is not inside
    assert bool(told.reasons) is not inside
    assert ("A darker sky than planned" in told.verdict) is (found < low)
    assert ("the first suspect" in told.verdict) is (found > high)  # the plan has no Moon
    # the hours said are those of the plan with this sky
    again = answer_filter(with_measured(mono, name, measured_value(told.found)), filter_named(mono, name))[0]
    assert told.now.kept_h == again.kept_h
    assert (told.now.kept_h > told.planned.kept_h) is (found > 1.02) or abs(found - 1) < 0.05
    row = again.neediest
    if told.advice == "longer":
        assert seconds < row.sub_low_s
    elif told.advice == "shorter":
        assert seconds > min(row.sub_high_s, row.sub_longest_s)
    elif told.advice == "keep going":
        assert row.sub_low_s / 1.03 <= seconds <= 1.03 * max(row.sub_high_s, row.sub_s)


@pytest.mark.parametrize("times", [0.5, 1.0, 3.0])
def test_reading_that_means_this_sky(mono, tmp_path, times):
    # a plan with that reading gives this sky (round trip), to 1 %
    told = told_of(mono, tmp_path / "a.fits", times, 300.0)
    sky = dataclasses.replace(mono.sky, zenith_brightness=f"{told.zenith_reading} mag/arcsec2")
    again = rates(dataclasses.replace(mono, sky=sky), mono.filters[0]).sky_e_s[0]
    assert again == pytest.approx(told.found.colours["mono"].sky_e_s, rel=0.01)
    assert (told.zenith_reading < 19.1) is (told.ratio["mono"] > 1)


@pytest.mark.parametrize(
    ("times", "said"),
    [
        ((3, 3, 6), "bluer than the model's sky"),
        ((6, 3, 3), "redder than the model's sky"),
        ((3, 3, 3), "first suspect"),
    ],
)
def test_colour_of_an_excess(colour, tmp_path, times, said):
    told = told_of(colour, tmp_path / "a.fits", times, 180.0)
    others = {"bluer than the model's sky", "redder than the model's sky", "first suspect"} - {said}
    assert said in told.verdict
    assert not any(other in told.verdict for other in others)


def test_a_wrong_gain_is_blamed_first(mono, tmp_path):
    told = told_of(mono, tmp_path / "a.fits", 3.0, 300.0, gain=0.5)
    assert told.found.gain.fits is False
    assert "mend the electrons per ADU first" in told.verdict
    right = told_of(mono, tmp_path / "a.fits", 3.0, 300.0)
    assert "the light is real" in right.verdict


@pytest.mark.parametrize("bright", [False, True])
@pytest.mark.parametrize("times", [1.0, 2.5, 6.0])
def test_another_filter_is_named_only_where_it_suffers_less(mono, tmp_path, times, bright):
    even = {("routine", "background_flatness"): "perfect"}  # else the brightest sky puts the goal out of reach
    if bright:  # a line that outshines the sky: its own noise rules, and a brighter sky costs little
        lights = [{"line": "H-alpha", "brightness": "12 R"}, {"line": "O III", "brightness": "5000 R"}]
        even |= {("target", "light"): lights}
    mono = Plan.read(PLANS / "mono-single-lines.toml").with_values(even).case
    told = told_of(mono, tmp_path / "a.fits", times, 300.0)
    growth = told.now.kept_h / told.planned.kept_h
    sky = dataclasses.replace(mono.sky, zenith_brightness=f"{told.zenith_reading} mag/arcsec2")
    brighter = dataclasses.replace(mono, sky=sky)
    before, after = (answer_filter(case, mono.filters[1])[0].kept_h for case in (mono, brighter))
    spared = growth >= 2 and after / before < growth / 2
    assert spared is (bright and times > 2)
    assert (told.advice == "other filter") is spared
    assert (f"suffers less tonight: {mono.filters[1].name}" in told.verdict) is spared


@pytest.mark.parametrize("seconds", [1.0, 300.0])
@pytest.mark.parametrize("level", ["the bias level", "a dark"])
def test_a_sub_that_shows_no_sky_says_so(mono, tmp_path, seconds, level):
    """No ratio to the plan's sky, no hours and no advice rest on less than nothing."""
    rng = np.random.default_rng(5)

    def frame(name, middle, kind):
        data = middle + rng.normal(0, 5.6, (256, 256))
        header = fits.Header({"EXPTIME": seconds, "EGAIN": 0.25, "FILTER": mono.filters[0].name, "IMAGETYP": kind})
        fits.PrimaryHDU(data.round().astype(np.uint16), header).writeto(tmp_path / name)
        return as_camera(read_frame(tmp_path / name), mono)

    def told(middle, case=mono):
        below = {"dark": frame(f"dark{middle}.fits", 500.0, "dark")} if level == "a dark" else {}
        return tell_sky(measure_sub([frame(f"{middle}.fits", middle, "light")], behind_of(mono, **below)), case)

    nothing = 500.0 + (0 if level == "a dark" else 4 * seconds * float(mono.camera.dark_e_s))
    for one in (told(nothing), told(nothing - 0.01, None)):
        assert one.sentences[0].startswith(f"No sky was seen above {level}: it is at most 0.0")
        assert "times what the plan expects" not in one.verdict
        assert (one.advice, one.now, one.ratio) == ("", None, {})
        json.dumps(sky_json(one), allow_nan=False)
    far = told(400.0)
    assert far.sentences[0].startswith("No sky was seen: the sub lies ")
    assert far.sentences[0].endswith(f" electron/s a pixel below {level}.")
    said = float(far.sentences[0].split()[7])
    assert said == pytest.approx(25 / seconds + (float(mono.camera.dark_e_s) if level != "a dark" else 0), rel=0.05)
    assert "That level is not this sub's" in far.verdict
    assert told(560.0).advice in ("longer", "keep going", "other filter", "shorter")
