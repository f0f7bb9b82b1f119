"""A simulated night: what went wrong is found again, hours add up, and the ledger loses nothing."""

import dataclasses
import errno
import math
import multiprocessing
import os
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from astropy.io import fits
from astropy.table import Table

from expocalc.base import wholefile
from expocalc.budget.answer import answer_filter
from expocalc.frames.measure.folder import find_frames, measure_folder, transparencies
from expocalc.frames.read.header import FrameError
from expocalc.frames.simulate.files import Order, write_frames
from expocalc.frames.simulate.night import Weather, night
from expocalc.frames.tell.as_json import night_json
from expocalc.frames.tell.ledger import Entry, append, read_ledger
from expocalc.frames.tell.night import read_folder, tell_night
from expocalc.frames.tell.plan_side import behind_of
from expocalc.plan import Plan

PLANS = Path(__file__).parents[1] / "notebooks" / "plans"
SUBS, SEED = 24, 11
WEATHER = Weather(cloud=0.6, moon=1.3, trailed=0.12)


@pytest.fixture(scope="module")
def case():
    return Plan.read(PLANS / "mono-single-lines.toml").case


@pytest.fixture(scope="module")
def folder(case, tmp_path_factory):
    place = tmp_path_factory.mktemp("night")
    write_frames(case, place, Order(subs=SUBS, biases=2, shape=(480, 640), weather=WEATHER), SEED)
    (place / "notes.txt").write_text("not a frame")
    return place


@pytest.fixture(scope="module")
def lines(case, folder):
    return read_folder(folder, case, workers=1)[0]


@pytest.fixture(scope="module")
def truth(case):
    return list(night(case, WEATHER, SUBS, SEED))


def test_transparency(lines, truth):
    # the same stars' light, through cloud of up to 60 %: each within 5 % of what was put in, over the clear moments
    true = np.array([one.transparency for one in truth])
    found = transparencies(lines)
    clear = true > 0.9 * np.quantile(true, 0.9)
    round_ = np.array([one.trail_px == 0 for one in truth])
    assert found[round_] == pytest.approx(true[round_] / true[clear].mean(), rel=0.05)


def test_sky(lines, truth, case):
    planned = answer_filter(case, case.filters[0])[0].rates.sky_e_s[0]
    for line, one in zip(lines, truth, strict=True):
        assert line.sky_e_s["mono"] == pytest.approx(planned * one.sky, rel=0.02)


def test_losses(lines, truth, case):
    # trailed subs and those under thick cloud are left out, with the reason, and counted for the plan
    found = tell_night(lines, case)
    spoilt = [one.trail_px > 0 or one.transparency < 0.6 for one in truth]
    assert [not one.kept for one in found.entries] == spoilt
    for entry, one in zip(found.entries, truth, strict=True):
        assert ("long as wide" in entry.reason) == (one.trail_px > 0)
    assert found.counts == ({"sub_length": "300 s", "dither_every": 2, "taken": SUBS, "spoiled": sum(spoilt)},)
    for entry in found.entries:
        if not entry.kept:
            assert entry.file in found.verdict or f"and {sum(spoilt) - 1} more" in found.verdict


def test_a_person_decides(lines, case):
    usual = tell_night(lines, case)
    first = next(one for one in usual.entries if not one.kept)
    good = next(one for one in usual.entries if one.kept)
    mine = tell_night(lines, case, choices={first.file: True, good.file: False})
    kept = {one.file: one.kept for one in mine.entries}
    assert kept[first.file]
    assert not kept[good.file]


@pytest.fixture(scope="module")
def by_night(case, tmp_path_factory):
    """Function from weather to a night of 2.7 h whose sky and light follow the plan's own night model, told."""

    def told(weather, name="mono-single-lines"):
        place = tmp_path_factory.mktemp("by night")
        mine = case if name == "mono-single-lines" else Plan.read(PLANS / f"{name}.toml").with_values(PLACE).case
        order = Order(subs=16, sub_s=600.0, shape=(320, 480), weather=weather, by_night=True)
        write_frames(mine, place, order, SEED)
        return tell_night(read_folder(place, mine, workers=1)[0], mine)

    return told


PLACE = {("target", "right_ascension"): "20h 45m 38s", ("target", "declination"): "+30d 43m"}


@pytest.mark.parametrize("name", ["mono-single-lines", "colour-dual-band"])
def test_a_clear_night_reads_as_its_model_has_it(by_night, name):
    # the sky brightens and the stars fade as the target sinks: both courses come out again, each moment's
    found = by_night(Weather(), name)
    course = found.course
    assert course.source == "the night's model"
    assert np.ptp(course.sky_e_s) > 0.2 * course.sky_e_s.mean()
    assert np.ptp(course.light) > 0.05
    sky = np.array([one.sky_electron_s for one in found.entries])
    assert sky == pytest.approx(course.sky_e_s, rel=0.02)
    ((filter_, beside),) = found.beside.items()
    assert beside.sky[0] == pytest.approx(1.0, abs=0.01)
    assert beside.light[1] <= 1 <= beside.light[2]
    assert not beside.hazy
    assert f"in {filter_}" in found.verdict
    assert "the air was clear" in found.verdict
    assert night_json(found)["beside_model"][filter_]["sky_ratio"] == beside.sky[0]


def test_a_hazy_night_reads_as_hazy(by_night):
    weather = Weather(cloud=0.4, cloud_from=0.3, cloud_to=0.9)
    found = by_night(weather)
    (beside,) = found.beside.values()
    true = np.mean(
        [one.transparency for one in night(Plan.read(PLANS / "mono-single-lines.toml").case, weather, 16, 1)]
    )
    assert beside.light[0] == pytest.approx(true, abs=0.05)
    assert beside.light[2] < 0.95
    assert beside.sky[1] > 1.02  # a town lights haze up
    assert "the air was hazy or clouded" in found.verdict


def test_without_a_course_nothing_is_said_of_it(case, tmp_path):
    write_frames(case, tmp_path, Order(subs=3, shape=(320, 480), first=datetime(2026, 6, 20, 2, 0)), 3)
    lines = read_folder(tmp_path, case, workers=1)[0]
    nowhere = dataclasses.replace(case, site=dataclasses.replace(case.site, latitude=None))
    assert tell_night(lines, nowhere).beside == {}
    assert tell_night(lines[:2], case).beside == {}


def test_no_subs_are_drawn_of_a_target_that_is_down(case, tmp_path):
    with pytest.raises(FrameError, match="target is down at 2026-10-11"):
        write_frames(
            case, tmp_path, Order(subs=200, shape=(64, 64), by_night=True, first=datetime(2026, 10, 10, 20)), 3
        )
    assert not list(tmp_path.iterdir())


def test_worth_of_a_perfect_night(case, tmp_path):
    # without cloud or Moon an hour is an hour: kept and equivalent dark hours agree within 2 %
    write_frames(case, tmp_path, Order(subs=6, shape=(480, 640)), 3)
    found = tell_night(read_folder(tmp_path, case, workers=1)[0], case)
    one = found.filters["H-alpha 5 nm"]
    assert one.kept_h == pytest.approx(0.5)
    assert one.equivalent_dark_h == pytest.approx(0.5, rel=0.02)
    assert one.share_of_goal == pytest.approx(one.equivalent_dark_h / one.goal_h)
    assert one.hours_left == pytest.approx(one.goal_h - one.equivalent_dark_h)
    assert one.nights_left == pytest.approx(one.hours_left / one.equivalent_dark_h)


def test_worth_under_a_brighter_sky(case, tmp_path):
    # twice the sky: SNR^2 of an hour falls by the ratio of variances (closed form)
    write_frames(case, tmp_path, Order(subs=4, shape=(480, 640), weather=Weather(moon=2.0)), 3)
    found = tell_night(read_folder(tmp_path, case, workers=1)[0], case)
    now = answer_filter(case, case.filters[0])[0]
    rate, t = now.rates, now.sub_s
    read = case.camera.setting.read_variance_e2
    target = sum(float(light[0]) for light in rate.extended.values())

    def variance(times):
        return (times * float(rate.sky_e_s[0]) + target + rate.dark_e_s) * t + read

    expected = variance(1) / variance(2)
    assert found.entries[-1].equivalent_dark_h / (t / 3600) == pytest.approx(expected, rel=0.05)


def test_processes_find_the_same(folder, case):
    paths = find_frames(folder)[:8]
    seen = []
    one, _ = measure_folder(paths, behind_of(case), workers=1)
    two, _ = measure_folder(paths, behind_of(case), workers=2, progress=lambda done, of: seen.append((done, of)))
    assert [a.path for a in one] == [b.path for b in two]
    assert [a.sky_e_s for a in one] == [b.sky_e_s for b in two]
    assert seen[0] == (0, 8)
    assert seen[-1] == (8, 8)


def test_work_can_be_stopped(folder, case):
    class StoppedError(Exception):
        pass

    def stop(done, _):
        if done == 2:
            raise StoppedError

    with pytest.raises(StoppedError):
        measure_folder(find_frames(folder), behind_of(case), workers=2, progress=stop)


def test_bad_files_are_named_and_the_rest_is_told(case, tmp_path):
    write_frames(case, tmp_path, Order(subs=5, shape=(300, 400)), 3)
    os.truncate(tmp_path / "sub_0002.fits", 100_000)
    (tmp_path / "words.fits").write_text("words")
    paths = find_frames(tmp_path)
    (tmp_path / "sub_0003.fits").unlink()  # gone after the folder was listed
    lines, problems = measure_folder(paths, behind_of(case), workers=1)
    assert len(lines) == 3
    assert [problem.split(" ")[0] for problem in problems] == ["sub_0002.fits", "sub_0003.fits", "words.fits"]
    found = tell_night(lines, case, problems)
    assert set(problems) <= set(found.warnings)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda _: None, "can't be read"),
        (lambda p: p.mkdir(), "holds no FITS file"),
        (lambda p: (p.mkdir(), (p / "a.fits").write_text("x")), "holds no sub that can be used: a.fits"),
    ],
)
def test_folders_that_can_not_be_used(case, tmp_path, make, said):
    make(tmp_path / "night")
    with pytest.raises(FrameError, match=said):
        read_folder(tmp_path / "night", case)


def test_a_filter_that_the_plan_has_not(case, folder, tmp_path):
    data, header = fits.getdata(folder / "sub_0001.fits", header=True)
    header["FILTER"] = "Luminance"
    fits.PrimaryHDU(data, header).writeto(tmp_path / "a.fits")
    with pytest.raises(FrameError, match="the plan has no filter 'Luminance'; it has H-alpha 5 nm, O III 5 nm"):
        tell_night(read_folder(tmp_path, case)[0], case)


def test_numbers_are_plain(lines, case):
    import json

    data = night_json(tell_night(lines, case))
    json.dumps(data, allow_nan=False)
    assert {"subs", "filters", "counts", "warnings", "verdict"} <= set(data)
    keys = {"kept_h", "equivalent_dark_h", "share_of_goal", "hours_left", "nights_left"}
    assert keys <= set(data["filters"]["H-alpha 5 nm"])


# The ledger


def entry(**changes):
    fields = {
        "night": "2027-01-09", "file": "a.fits", "filter": "H-alpha 5 nm", "date": "2027-01-09T20:00:00",
        "exposure_s": 300.0, "temperature_deg_c": math.nan, "sky_electron_s": 0.1, "noise_electron": 5.9,
        "star_fwhm_px": 2.4, "star_elongation": 1.1, "stars": 61, "transparency": 0.97, "kept": True, "reason": "",
        "equivalent_dark_h": 0.08,
    }  # fmt: skip
    return Entry(**{**fields, **changes})


def test_ledger_and_astropy(tmp_path):
    path = tmp_path / "ledger.ecsv"
    append(path, [entry(), entry(file="b.fits", kept=False, reason='cloud, "thick"; Moon')])
    append(path, [entry(file="c.fits", night="2027-01-10")])
    table = Table.read(path, format="ascii.ecsv")
    assert list(table["file"]) == ["a.fits", "b.fits", "c.fits"]
    assert table["exposure_s"].unit == "s"
    assert table["reason"][1] == 'cloud, "thick"; Moon'
    assert not table["kept"][1]
    assert [one.file for one in read_ledger(path).entries] == ["a.fits", "b.fits", "c.fits"]


def test_later_rows_count_and_nothing_is_written_twice(tmp_path):
    path = tmp_path / "ledger.ecsv"
    append(path, [entry()])
    size = path.stat().st_size
    append(path, [entry()])
    assert path.stat().st_size == size
    assert not append(path, [entry(kept=False)]).entries[0].kept
    assert len(read_ledger(path).entries) == 1


def test_progress_over_nights(lines, case, tmp_path):
    path = tmp_path / "ledger.ecsv"
    first = tell_night(lines, case)
    append(path, first.entries)
    again = tell_night(lines, case, ledger=read_ledger(path))
    name = "H-alpha 5 nm"
    assert again.filters[name].equivalent_dark_h == pytest.approx(first.filters[name].equivalent_dark_h, rel=1e-4)
    append(path, [entry(night="2027-01-02", file="old.fits", equivalent_dark_h=1.0)])
    more = tell_night(lines, case, ledger=read_ledger(path)).filters[name]
    assert more.equivalent_dark_h == pytest.approx(first.filters[name].equivalent_dark_h + 1.0, rel=1e-4)


def test_a_broken_line_stays_and_is_named(tmp_path):
    path = tmp_path / "ledger.ecsv"
    append(path, [entry()])
    with path.open("a") as file:
        file.write("2027-01-10,half a li")
    found = append(path, [entry(file="b.fits")])
    assert [one.file for one in found.entries] == ["a.fits", "b.fits"]
    assert "of ledger.ecsv can't be read" in found.warnings[0]
    assert "half a li\n" in path.read_text()


@pytest.mark.parametrize("text", ["my own notes\n", "# %ECSV 1.0\n# ---\na,b\n1,2\n"])
def test_other_files_are_left_alone(tmp_path, text):
    path = tmp_path / "ledger.ecsv"
    path.write_text(text)
    with pytest.raises(FrameError, match=r"ledger.ecsv is no ledger"):
        append(path, [entry()])
    assert path.read_text() == text


def test_a_full_disk_leaves_the_old_ledger(tmp_path, monkeypatch):
    path = tmp_path / "ledger.ecsv"
    append(path, [entry()])
    before = path.read_bytes()

    def full(_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(wholefile.os, "fsync", full)
    with pytest.raises(FrameError, match=r"ledger.ecsv can't be written: No space left"):
        append(path, [entry(file="b.fits")])
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir() if one.suffix == ".draft"] == []


def write_many(path, start):
    for at in range(12):
        append(path, [entry(file=f"{start}_{at}.fits")])


def test_two_writers_lose_nothing(tmp_path):
    path = tmp_path / "ledger.ecsv"
    context = multiprocessing.get_context("fork")
    writers = [context.Process(target=write_many, args=(path, start)) for start in ("a", "b", "c")]
    for one in writers:
        one.start()
    for one in writers:
        one.join()
    assert {one.file for one in read_ledger(path).entries} == {f"{s}_{n}.fits" for s in "abc" for n in range(12)}
