"""What goes wrong with people's frames: nothing crashes, nothing is lost, one sentence names the file."""

import importlib
import os
from pathlib import Path

import numpy as np
import pytest
from astropy.io import fits

from expocalc.frames.__main__ import main
from expocalc.frames.measure.behind import Behind
from expocalc.frames.measure.folder import find_frames, measure_folder
from expocalc.frames.read.header import FrameError
from expocalc.frames.tell.as_json import bench_json
from expocalc.frames.tell.camera import bench
from expocalc.frames.tell.night import read_folder, tell_night
from expocalc.frames.tell.plan_side import behind_of
from expocalc.plan import Plan

PLANS = Path(__file__).parents[1] / "notebooks" / "plans"
MONO = PLANS / "mono-single-lines.toml"
SHAPE = (128, 160)
BEHIND = Behind(bias_adu=500.0, read_noise_e=1.4, dark_e_s=0.0)


@pytest.fixture(scope="module")
def case():
    return Plan.read(MONO).case


def write(path, electrons=60.0, *, seed=1, kind="LIGHT", shape=SHAPE, dtype=np.uint16, change=None, **cards):
    """One frame with noise of its own, 500 ADU of bias and 0.25 electron per ADU."""
    rng = np.random.default_rng(seed)
    data = 500 + (rng.poisson(electrons, shape) + rng.normal(0, 1.4, shape)) / 0.25
    data = data.round().clip(0, 65535).astype(dtype)
    if change is not None:
        change(data)
    header = fits.Header({"IMAGETYP": kind, "EXPTIME": 300.0, "EGAIN": 0.25, "FILTER": "H-alpha 5 nm", **cards})
    for name in [name for name, value in header.items() if value == ""]:
        del header[name]
    fits.PrimaryHDU(data, header).writeto(path, overwrite=True)
    return path


def bench_frames(place, **options):
    """Two biases, three pairs of flats and a dark."""
    made = {
        "bias": [write(place / f"bias_{n}.fits", 0.0, seed=n, kind="BIAS", EXPTIME=0.0, **options) for n in (1, 2)],
        "flat": [
            [
                write(place / f"flat_{e}_{n}.fits", e, seed=e + n, kind="FLAT", EXPTIME=e / 1000, **options)
                for n in (1, 2)
            ]
            for e in (500, 2000, 6000)
        ],
        "dark": [write(place / f"dark_{s}.fits", 0.02 * s, seed=s, kind="DARK", EXPTIME=float(s), **options)
                 for s in (100, 300)],
    }  # fmt: skip
    return made


def spoilt(*words):
    """Exit code, output and the one sentence of the command."""
    return main([str(word) for word in words])


# Pixels


def holes(data):
    data[10:13, 20:24] = np.nan
    data[90, 100] = np.inf


def test_pixels_without_a_number_in_a_bench(tmp_path):
    whole = bench_frames(tmp_path / "whole" if (tmp_path / "whole").mkdir() is None else tmp_path, dtype=np.float32)
    (tmp_path / "holes").mkdir()
    torn = bench_frames(tmp_path / "holes", dtype=np.float32, change=holes)
    found, expected = (bench(one["bias"], one["flat"], one["dark"]) for one in (torn, whole))
    for key, value in expected.values.items():
        got = found.values[key]
        assert (got.value is None) == (value.value is None), key
        if value.value is not None and value.low is not None:
            error = max(value.high - value.low, 1e-4 * abs(value.value))
            assert got.value == pytest.approx(value.value, abs=3 * error + 1e-6), key
    for name in ("bias_1.fits", "flat_500_1.fits", "dark_300.fits"):
        assert any(f"{name} has 13 pixels without a number" in warning for warning in found.warnings), name
    assert bench_json(found)["read_noise_electron"] == pytest.approx(1.4, rel=0.05)


def test_a_bias_that_is_all_holes(tmp_path):
    made = bench_frames(tmp_path)
    write(made["bias"][1], kind="BIAS", dtype=np.float32, change=lambda data: data.fill(np.nan))
    with pytest.raises(FrameError, match=r"bias_2.fits has no pixel with a number"):
        bench(made["bias"], made["flat"])


# Headers


@pytest.mark.parametrize(
    ("cards", "said"),
    [
        ({"EXPTIME": "five minutes"}, "does not say how long it was exposed"),
        ({"EXPTIME": ""}, "does not say how long it was exposed"),
        ({"EXPTIME": 0.0}, "does not say how long it was exposed"),
        ({"EXPTIME": -300.0}, "does not say how long it was exposed"),
        ({"EXPTIME": "nan"}, "does not say how long it was exposed"),
        ({"EGAIN": "high"}, None),
        ({"GAIN": "high", "OFFSET": "low"}, None),
        ({"CCD-TEMP": "cold", "SET-TEMP": True, "XPIXSZ": "small", "FOCALLEN": "long"}, None),
        ({"DATE-OBS": "yesterday", "AIRMASS": "thin", "NCOMBINE": "some"}, None),
        ({"BAYERPAT": 7, "TRIMSEC": "all", "BIASSEC": "[0:1,0:1]"}, None),
        ({"FILTER": 656.3}, "filter must be one of"),
    ],
)
def test_strings_in_number_fields(capsys, tmp_path, cards, said):
    path = write(tmp_path / "odd.fits", **cards)
    code = spoilt("sub", path, "--plan", MONO)
    out, err = capsys.readouterr()
    if said is None:
        assert code == 0
        for key, value in cards.items():
            if isinstance(value, str) and key in ("EGAIN", "GAIN", "CCD-TEMP", "XPIXSZ", "FOCALLEN", "NCOMBINE"):
                assert f"odd.fits: {key} is {value!r}, no number" in out
    else:
        assert code == 2
        assert said in err
        assert "odd.fits" in err
        assert err.count("\n") == 1
        # a person's own value stands above what can't be read
        own = ("--exposure", "300") if "EXPTIME" in cards else ("--filter", "H-alpha 5 nm")
        assert spoilt("sub", path, "--plan", MONO, *own) == 0
        capsys.readouterr()


def test_a_dark_without_its_length(capsys, tmp_path):
    made = bench_frames(tmp_path)
    write(made["dark"][0], 2.0, kind="DARK", EXPTIME="")
    flats = [word for pair in made["flat"] for word in ("--flat", *pair)]
    assert spoilt("bench", "--bias", *made["bias"], *flats, "--dark", *made["dark"]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert "dark_100.fits does not say how long it was exposed" in err


def test_biases_swapped_with_darks(capsys, tmp_path):
    made = bench_frames(tmp_path, **{})
    for path in (*made["bias"], *made["dark"]):  # a header that does not call them anything
        with fits.open(path, mode="update") as hdus:
            del hdus[0].header["IMAGETYP"]
    flats = [word for pair in made["flat"] for word in ("--flat", *pair)]
    assert spoilt("bench", "--bias", *made["dark"], *flats, "--dark", *made["bias"]) == 2
    err = capsys.readouterr().err
    assert "dark_100.fits" in err or "bias_1.fits" in err
    assert err.count("\n") == 1


# Files that go away


def test_a_file_that_disappears_while_a_folder_is_read(case, tmp_path):
    for at in range(4):
        write(tmp_path / f"sub_{at}.fits", seed=at)

    def tell(done, _all):
        if done == 2:
            (tmp_path / "sub_2.fits").unlink()

    lines, problems = read_folder(tmp_path, case, behind=behind_of(case), workers=1, progress=tell)
    assert [line.path.name for line in lines] == ["sub_0.fits", "sub_1.fits", "sub_3.fits"]
    assert problems == ["sub_2.fits is not there (any more)"]
    assert any("sub_2.fits" in warning for warning in tell_night(lines, case, problems).warnings)


def test_a_file_that_is_cut_while_a_folder_is_read(case, tmp_path):
    for at in range(3):
        write(tmp_path / f"sub_{at}.fits", seed=at)

    def tell(done, _all):
        if done == 1:
            os.truncate(tmp_path / "sub_1.fits", 9000)

    _, problems = read_folder(tmp_path, case, workers=1, progress=tell)
    assert len(problems) == 1
    assert problems[0].startswith("sub_1.fits is cut off")


KILLER = """
import multiprocessing, os
from expocalc.frames.measure.folder import measure_one


def die(task):
    # the first goes to another process: this one has the rest to do meanwhile
    if task[0].name == "sub_0.fits" and multiprocessing.parent_process() is not None:
        os.kill(os.getpid(), 9)
    return measure_one(task)
"""


def test_a_process_that_is_killed_takes_one_file_alone(tmp_path, monkeypatch):
    # a worker that the system ends on one file, as it does where a mapped file shrinks or memory runs out
    (tmp_path / "killer_of_workers.py").write_text(KILLER)
    monkeypatch.syspath_prepend(str(tmp_path))
    die = importlib.import_module("killer_of_workers").die
    paths = [write(tmp_path / f"sub_{at}.fits", seed=at) for at in range(5)]
    lines, problems = measure_folder(paths, BEHIND, workers=2, measure=die)
    assert [line.path.name for line in lines] == [f"sub_{at}.fits" for at in range(1, 5)]
    (problem,) = problems
    assert problem.startswith("sub_0.fits could not be measured: the process that read it was ended")


# Ten thousand files


def test_a_folder_of_ten_thousand_files(case, tmp_path):
    for at in range(9_000):
        (tmp_path / f"empty_{at:05d}.fits").touch()
    for at in range(997):
        (tmp_path / f"note_{at:05d}.txt").touch()
    for at in range(3):
        write(tmp_path / f"sub_{at}.fits", seed=at)
    assert len(find_frames(tmp_path)) == 9_003
    lines, problems = read_folder(tmp_path, case, workers=1)
    assert (len(lines), len(problems)) == (3, 9_000)
    night = tell_night(lines, case, problems)
    assert len(night.warnings) < 30
    assert "empty_00000.fits is no FITS file" in night.warnings[0]
    assert any("8990 more files can't be used" in warning for warning in night.warnings)


def test_nothing_but_broken_files(capsys, tmp_path):
    for at in range(30):
        (tmp_path / f"empty_{at:02d}.fits").touch()
    assert spoilt("folder", tmp_path, "--plan", MONO) == 2
    err = capsys.readouterr().err
    assert "holds no sub that can be used: empty_00.fits" in err
    assert err.count("\n") == 1
