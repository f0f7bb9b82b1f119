"""``python -m expocalc.frames``: keys of its JSON, sentences, exit codes; and a bench that gets the wrong frames."""

import json
import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from astropy.io import fits

from expocalc.budget.rates import rates
from expocalc.frames.__main__ import main
from expocalc.frames.read.header import FrameError
from expocalc.frames.simulate.files import Order, write_frames
from expocalc.frames.tell.as_json import bench_json
from expocalc.frames.tell.camera import bench
from expocalc.frames.tell.camera_section import camera_toml
from expocalc.plan import Plan

PLANS = Path(__file__).parents[1] / "notebooks" / "plans"
MONO, COLOUR = PLANS / "mono-single-lines.toml", PLANS / "colour-dual-band.toml"
SHAPE = (240, 320)


@pytest.fixture(scope="module")
def frames(tmp_path_factory):
    """One camera's frames, by the plan for a mono camera."""
    folder = tmp_path_factory.mktemp("frames")
    order = Order(subs=2, biases=2, flats=7, darks=2, warmer_k=(0.0, 10.0, 20.0), shape=SHAPE)
    write_frames(Plan.read(MONO).case, folder, order, 5)
    return folder


def pairs(frames):
    return [[frames / f"flat_{level}_{twin}.fits" for twin in (1, 2)] for level in range(1, 8)]


def biases(frames):
    return sorted(frames.glob("bias*"))


def run(capsys, *words):
    code = main([str(word) for word in words])
    seen = capsys.readouterr()
    return code, seen.out, seen.err


def answer(capsys, *words):
    code, out, err = run(capsys, *words, "--json")
    assert (code, err) == (0, "")
    return json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))


# What is put in comes out


def test_sub(capsys, frames):
    found = answer(capsys, "sub", frames / "sub_0001.fits", "--plan", MONO, "--filter", "H-alpha 5 nm")
    assert {
        "file", "exposure_s", "electrons_per_adu", "electrons_per_adu_from", "sky_electron_s",
        "sky_electron_s_interval", "noise_electron", "noise_predicted_electron", "sky_mag_arcsec2_ab",
        "zenith_reading", "ratio_to_plan", "stars", "star_fwhm_px", "warnings", "verdict",
    } <= set(found)  # fmt: skip
    plan = Plan.read(MONO)
    rate = rates(plan.case, plan.case.filters[0])
    assert found["electrons_per_adu_from"] == "EGAIN"
    assert found["sky_electron_s"]["mono"] == pytest.approx(float(rate.sky_e_s[0]), rel=0.02)
    assert found["ratio_to_plan"] == pytest.approx(1, abs=0.02)
    assert found["zenith_reading"] == pytest.approx(19.1, abs=0.02)
    assert found["star_fwhm_px"] == pytest.approx(rate.fwhm_px, rel=0.1)
    assert found["warnings"] == []
    assert found["verdict"].startswith("Keep going with 5 min subs")


def test_sub_of_a_mosaic(capsys, tmp_path):
    write_frames(Plan.read(COLOUR).case, tmp_path, Order(subs=1, darks=1, shape=SHAPE), 5)
    dark = next(tmp_path.glob("dark*"))
    found = answer(capsys, "sub", tmp_path / "sub_0001.fits", "--plan", COLOUR, "--dark", dark)
    plan = Plan.read(COLOUR)
    expected = rates(plan.case, plan.case.filters[0]).sky_e_s
    assert list(found["sky_electron_s"]) == ["R", "G", "B"]
    assert list(found["sky_electron_s"].values()) == pytest.approx(expected.tolist(), rel=0.04)
    assert found["below_from"] == "a dark"
    assert found["ratio_to_plan"] == found["by_colour"]["G"]["ratio_to_plan"]


@pytest.mark.parametrize(("times", "advice"), [(1.0, "keep going"), (4.0, "other filter"), (0.5, "keep going")])
def test_verdict_follows_the_sky(capsys, tmp_path, times, advice):
    case = Plan.read(MONO).case
    light = float(rates(case, case.filters[0]).sky_e_s[0]) * times + case.camera.dark_e_s
    rng = np.random.default_rng(1)
    data = 500 + (rng.poisson(light * 300, (256, 256)) + rng.normal(0, 1.4, (256, 256))) / 0.25
    cards = {"EXPTIME": 300.0, "EGAIN": 0.25, "FILTER": "H-alpha 5 nm"}
    fits.PrimaryHDU(data.round().astype(np.uint16), fits.Header(cards)).writeto(tmp_path / "a.fits")
    found = answer(capsys, "sub", tmp_path / "a.fits", "--plan", MONO)
    assert found["ratio_to_plan"] == pytest.approx(times, rel=0.02)
    low, high = found["doubt_of_plan"]
    within = low <= times <= high
    assert ("within its doubt" in found["verdict"]) == within
    assert ("the light is real" in found["verdict"]) == (not within)
    if advice != "other filter":
        assert found["advice"] == advice
    hours = Plan.read(MONO).solve().filters[0].kept_h
    assert (found["kept_h"] > 1.5 * hours) == (times > 2)


def test_short_subs_are_told_to_grow(capsys, tmp_path):
    data = np.random.default_rng(1).normal(505, 6, (128, 128)).round().astype(np.uint16)
    cards = {"EXPTIME": 10.0, "EGAIN": 0.25, "FILTER": "H-alpha 5 nm"}
    fits.PrimaryHDU(data, fits.Header(cards)).writeto(tmp_path / "a.fits")
    assert answer(capsys, "sub", tmp_path / "a.fits", "--plan", MONO)["advice"] == "longer"


def test_bench(capsys, frames):
    words = [word for pair in pairs(frames) for word in ("--flat", *pair)]
    darks = sorted(frames.glob("dark*"))
    found = answer(capsys, "bench", "--bias", *biases(frames), *words, "--dark", *darks)
    keys = [
        "electrons_per_adu", "read_noise_electron", "full_well_electron", "dark_electron_s", "activation_ev",
        "native_step_adu", "prnu", "dsnu_electron", "hot_pixel_share", "linearity_error",
    ]  # fmt: skip
    assert {*keys, *(f"{key}_interval" for key in keys), "warnings", "camera"} <= set(found)
    case = Plan.read(MONO).case
    true = {
        "electrons_per_adu": 0.25, "read_noise_electron": 1.4, "dsnu_electron": 1.0, "prnu": 0.01,
        "activation_ev": case.camera.dark_current.activation_ev, "full_well_electron": 15000, "native_step_adu": 1,
    }  # fmt: skip
    for key, value in true.items():
        assert found[key] == pytest.approx(value, rel=0.03), key
    # hot pixels are part of the mean: 0.05 % of them with half an electron
    assert found["dark_electron_s"] == pytest.approx(case.camera.dark_e_s + 0.00025, rel=0.05)
    assert found["hot_pixel_share"] == pytest.approx(5e-4, rel=0.4)
    assert found["linearity_error"] < 0.001


def test_camera_section_goes_into_a_plan(frames):
    found = bench(biases(frames), pairs(frames), sorted(frames.glob("dark*")), today=date(2027, 1, 9))
    assert 'gains."measured 2027-01-09"' in camera_toml(found)
    assert not re.search(r"\de[+-]\d", camera_toml(found))  # 15000 electrons, not 1.5e+04
    plan = Plan.read(MONO)
    section = bench_json(found)["camera"]
    name = section["gain"]
    changes = {
        ("camera", "gain"): name,
        ("camera", "gains", name): section["gains"][name],
        ("camera", "dark_current"): section["dark_current"],
    }
    measured = plan.with_values(changes)
    assert float(measured.case.camera.setting.read_noise.value) == pytest.approx(1.4, rel=0.02)
    assert measured.solve().filters[0].kept_h == pytest.approx(plan.solve().filters[0].kept_h, rel=0.05)


def test_folder(capsys, frames, tmp_path):
    ledger = tmp_path / "ledger.ecsv"
    found = answer(capsys, "folder", frames, "--plan", MONO, "--ledger", ledger)
    assert {"subs", "filters", "counts", "warnings", "verdict"} <= set(found)
    beside = {"model_from", "beside_model", "own_factor"}
    assert set(found) - beside == {"subs", "filters", "counts", "warnings", "verdict"}
    assert found["own_factor"] is None  # one night tells no range
    assert [one["file"] for one in found["subs"]] == ["sub_0001.fits", "sub_0002.fits"]
    assert found["filters"]["H-alpha 5 nm"]["kept_h"] == pytest.approx(2 * 300 / 3600)
    assert ledger.exists()
    dropped = answer(capsys, "folder", frames, "--plan", MONO, "--ledger", ledger, "--drop", "sub_0002.fits")
    assert dropped["counts"][0]["spoiled"] == 1


def test_simulate(capsys, tmp_path):
    out = [tmp_path / name for name in ("one", "two")]
    for folder in out:
        words = ("--seed", 3, "--subs", 1, "--biases", 1, "--flats", 1, "--darks", 1, "--stack", 40, "--size", 96, 64)
        assert len(answer(capsys, "simulate", COLOUR, folder, *words)["files"]) == 6
    for path in out[0].iterdir():
        with fits.open(path, checksum=True) as hdus, fits.open(out[1] / path.name) as same:
            hdus.verify("exception")
            assert (hdus[0].data == same[0].data).all()
            assert hdus[0].shape == (64, 96)
            assert hdus[0].header["BAYERPAT"] == "RGGB"
    code, _, err = run(capsys, "simulate", COLOUR, out[0], "--seed", 3, "--biases", 1, "--size", 96, 64)
    assert (code, "is there already" in err) == (2, True)


def test_sentences_for_people(capsys, frames):
    code, out, _ = run(capsys, "sub", frames / "sub_0001.fits", "--plan", MONO)
    assert code == 0
    assert "0.25 electrons per ADU (from EGAIN)" in out


def test_it_starts_as_a_program(frames):
    words = [sys.executable, "-m", "expocalc.frames", "sub", str(frames / "missing.fits")]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "expocalc.frames: missing.fits is not there (any more)\n"


# A bench that gets the wrong frames


def remade(tmp_path, source, change=None, **cards):
    data, header = fits.getdata(source, header=True)
    for keyword, value in cards.items():
        header[keyword] = value
    path = tmp_path / f"new_{source.name}"
    fits.PrimaryHDU(data if change is None else change(data), header).writeto(path)
    return path


def test_flats_that_are_all_full(frames):
    with pytest.raises(FrameError, match="all flats are full"):
        bench(biases(frames), pairs(frames)[-1:])


def test_flats_of_one_level(frames):
    found = bench(biases(frames), pairs(frames)[2:3])
    assert found.values["electrons_per_adu"].value == pytest.approx(0.25, rel=0.03)
    assert any(f"one level ({pairs(frames)[2][0].name} and others)" in warning for warning in found.warnings)
    assert found.values["linearity_error"].value is None


def test_biases_as_flats(frames, tmp_path):
    twins = [[remade(tmp_path, path, IMAGETYP="FLAT") for path in biases(frames)]]
    with pytest.raises(FrameError, match=r"no flat is brighter than the biases|does not grow"):
        bench(biases(frames), twins)


def test_kinds_that_are_swapped(frames):
    with pytest.raises(FrameError, match=r"flat_1_1.fits is a flat by its header and was given as a bias"):
        bench(pairs(frames)[0], pairs(frames))
    with pytest.raises(FrameError, match=r"bias_001.fits is a bias by its header and was given as a dark"):
        bench(biases(frames), pairs(frames), biases(frames))
    darks = sorted(frames.glob("dark*"))[:2]
    with pytest.raises(FrameError, match="were biases and darks swapped"):
        bench(darks, pairs(frames), [frames / "short.fits"] if make_short(frames) else [])


def make_short(frames):
    path = frames / "short.fits"
    if not path.exists():
        data, header = fits.getdata(biases(frames)[0], header=True)
        header["IMAGETYP"], header["EXPTIME"] = "DARK", 1.0
        fits.PrimaryHDU(data, header).writeto(path)
    return True


@pytest.mark.parametrize(
    ("cards", "change", "said"),
    [
        ({"GAIN": 120}, None, None),
        ({"EGAIN": 0.8}, None, "0.8 electrons per ADU and .* 0.25; a bench takes frames of one gain"),
        ({}, lambda data: data[:100], "320 x 100 pixels and .* 320 x 240; a bench takes frames of one size"),
    ],
)
def test_frames_that_do_not_belong_together(frames, tmp_path, cards, change, said):
    flats = pairs(frames)[:3]
    flats[1] = [remade(tmp_path, flats[1][0], change, **cards), flats[1][1]]
    if said is None:
        bench(biases(frames), flats)
        return
    with pytest.raises(FrameError, match=said):
        bench(biases(frames), flats)


def test_flats_of_different_light(frames):
    flats = pairs(frames)
    with pytest.raises(FrameError, match="times as bright as"):
        bench(biases(frames), [[flats[0][0], flats[2][1]]])


def test_a_warmer_bias_is_noticed(frames, tmp_path):
    other = remade(tmp_path, biases(frames)[1], **{"CCD-TEMP": 5.0})
    found = bench([biases(frames)[0], other], pairs(frames))
    assert any("5 °C" in warning and "-10 °C" in warning for warning in found.warnings)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("sub", "{f}/sub_0001.fits", "--plan", "nowhere.toml"), "nowhere.toml can't be read"),
        (("sub", "{f}/sub_0001.fits", "--plan", MONO, "--filter", "Red"), "filter must be one of H-alpha 5 nm"),
        (("sub", "{f}/sub_0001.fits"), "nothing tells the bias of sub_0001.fits"),
        (("sub", "{f}/sub_0001.fits", "--bias-level", "500", "--trim", "[0:9,1:9]"), "trim must be columns and rows"),
        (("folder", "{f}", "--plan", MONO, "--drop", "x.fits"), "x.fits is none of the 2 subs"),
        (("bench", "--bias", "{f}/bias_001.fits", "{f}/bias_002.fits", "--flat", "a.fits", "b.fits"), "a.fits"),
    ],
)
def test_mistakes_get_one_sentence(capsys, frames, words, said):
    code, out, err = run(capsys, *(str(word).format(f=frames) for word in words))
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1
