"""The panel on frames without a browser: demo frames, words and numbers of all views, wrong files, plan and ledger."""

import dataclasses
import re
import runpy
import shutil
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from astropy.io import fits

from expocalc.frames.__main__ import main
from expocalc.frames.read.header import FrameError
from expocalc.frames.simulate.files import Order, write_frames
from expocalc.frames.tell.ledger import append
from expocalc.plan import Plan
from tests.waiting import PATIENCE_S
from workbook.frames import FramesPanel, stack_model
from workbook.frames.demo import NIGHT, demo_folder, make_demo
from workbook.frames.stack_model import look_at_stack
from workbook.frames.steps import in_thread
from workbook.frames.sub_model import Asked, look_at_sub, optional_number

PLAIN = runpy.run_path(str(Path(__file__).with_name("on_screen.py")))["plain"]

PLANS = Path(__file__).parents[1] / "notebooks" / "plans"


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    """A reader's folder whose demo frames are made once."""
    folder = tmp_path_factory.mktemp("mine")
    shutil.copytree(PLANS, folder / "plans", ignore=shutil.ignore_patterns(".*"))
    return folder


@pytest.fixture(scope="module")
def panel(root):
    return FramesPanel("plans/mono-single-lines.toml", root)


def said_on(panel):
    """What the verdict says; numbers and their units are tied together by spaces that do not break."""
    return PLAIN(panel.verdict.widget.value)


def look(panel, view):
    panel.pick.value = view
    assert panel.view.shown is not None, panel.view.work.said.value
    return panel.view.shown


def test_test_sub(panel):
    shown = look(panel, "Test sub")
    assert shown.headline == "Keep going with 5 min subs."
    assert shown.image.shape == (320, 480)
    assert shown.low < shown.high
    assert "black at" in panel.view.figure._title.text
    assert shown.headline in said_on(panel)
    table = {row[0]: row[1] for row in panel.view.numbers().rows}
    assert table["sky over the plan's, mono"].startswith(("0.99", "1.0"))
    assert len(panel.view.figure.cells.data["level"]) == 16 * 24


def test_camera(panel):
    shown = look(panel, "Camera")
    assert "the camera is what the plan says" in shown.headline
    assert len(shown.level) == 7
    assert sum(shown.fitted) == 5  # within 70 % of the full one, EMVA 1288
    assert len(shown.temperature) == 4
    table = [cell for row in panel.view.numbers().rows for cell in row]
    assert any(re.fullmatch(r"1[45]\d\d0 .*", cell) for cell in table), table  # the full well
    assert not [cell for cell in table if re.search(r"\de[+-]\d", cell)]


def test_another_camera_is_told(panel, root):
    plan = panel.plan.with_values({("camera", "gains", "high", "electrons_per_adu"): 0.5})
    other = FramesPanel("plans/mono-single-lines.toml", root)
    other.plan = plan
    other.pick.value = "Camera"
    other.view.folder.box.value = "frames/mono-single-lines demo/camera"
    other.view.work.poke()
    assert "the plan's electrons per ADU is not this camera's" in other.view.shown.headline


def test_morning_after(panel):
    shown = look(panel, "Morning after")
    kept = sum(shown.kept)
    assert shown.headline.startswith(f"{kept} of 24 subs kept")
    assert len(shown.odd) >= 24 - kept > 0
    assert [len(strip.value) for strip in shown.strips] == [24, 24, 24]
    assert len(panel.view.figure.kept[0].data["time"]) == kept
    assert len(panel.view.figure.dropped[0].data["time"]) == 24 - kept


def test_a_tick_keeps_a_sub(panel):
    shown = look(panel, "Morning after")
    kept = sum(shown.kept)
    tick = next(one for one in panel.view.odd.children if getattr(one, "value", None) is False)
    tick.value = True
    assert sum(panel.view.shown.kept) == kept + 1
    assert f"{kept + 1} of 24 subs kept" in said_on(panel)


def test_the_course_of_the_night_stands_beside_its_model(panel):
    shown = look(panel, "Morning after")
    sky, light, _ = shown.strips
    assert "dashed: the night's model" in sky.title
    # the demo's sky is the plan's at 60 degrees times what the weather makes of it; the model follows the target down
    assert len(sky.planned) == 24
    assert all(0.5 < planned / shown.found.planned_sky_e_s["H-alpha 5 nm"] < 2 for planned in sky.planned)
    assert max(light.planned) == 1
    assert min(light.planned) > 0.5


def test_the_night_counts_go_into_the_plan(root):
    panel = FramesPanel("plans/mono-single-lines.toml", root)
    shown = look(panel, "Morning after")
    panel.view.count.click()
    (count,) = panel.plan.case.routine.counts
    assert (count.taken, count.spoiled) == (24, sum(not one for one in shown.kept))
    panel.view.count.click()  # once is enough
    assert len(panel.plan.case.routine.counts) == 1
    panel.plan_row.undo.click()


def test_ledger(panel, root):
    look(panel, "Morning after")
    panel.view.add.click()
    assert "The ledger holds 24 subs of 1 night now" in panel.done.value
    assert (root / "frames" / "ledger.ecsv").exists()
    (root / "frames" / "ledger.ecsv").write_text("mine\n")
    panel.view.add.click()
    assert "ledger.ecsv is no ledger" in panel.done.value
    (root / "frames" / "ledger.ecsv").unlink()
    panel.view.ledger.show("")


def test_stack(panel):
    look(panel, "Morning after")
    shown = look(panel, "Stack")
    told = shown.told
    assert told.falling.subs.tolist()[:3] == [1, 4, 16]
    assert (np.diff(told.falling.noise) < 0).all()
    # 1.4 times the sky at the end, and cloud that lamps light up: at most a fifth more noise than planned
    assert 1 < told.half_noise_e / told.predicted_e[-1] < 1.2
    assert ("falls as it should" in shown.headline) == (told.blame == "none")


def test_patch_of_a_quiet_night(tmp_path):
    # neither cloud nor Moon: SNR of a patch in the nebula's middle as planned
    plan = Plan.read(PLANS / "mono-single-lines.toml")
    write_frames(plan.case, tmp_path, Order(subs=16, shape=(480, 720)), 4)
    asked = stack_model.Asked(folder=".", filter_name="H-alpha 5 nm", patch="216, 396, 24", sky="400, 120, 60")
    shown = look_at_stack(plan, tmp_path, asked, frozenset(), lambda _: None)
    assert shown.told.blame == "none"
    assert "both agree" in shown.others[-1]
    assert shown.told.measured.snr_patch == pytest.approx(shown.told.predicted_snr, rel=0.25)


def test_patch_of_the_stack(panel):
    look(panel, "Stack")
    panel.view.patch.box.value, panel.view.sky.box.value = "288, 528, 60", "560, 120, 60"  # the demo nebula's middle
    panel.view.measure.click()
    told = panel.view.shown.told
    assert 0.5 < told.measured.snr_patch / told.predicted_snr < 1  # under cloud and a rising Moon
    gap = told.predicted_snr - told.measured.snr_patch
    alike = gap <= max(2.0, 0.2 * told.predicted_snr)
    assert ("both agree" in said_on(panel)) is alike
    assert ("fainter here" in said_on(panel)) is not alike
    for text, said in (("middle", "row, column and side"), ("288, 528, 9000", "leaves the picture")):
        panel.view.patch.box.value = text
        panel.view.measure.click()
        assert said in panel.view.work.said.value
    panel.view.patch.box.value = panel.view.sky.box.value = ""


def test_pattern_that_all_subs_share_is_told(tmp_path):
    # undithered subs with a pattern of four electrons: the halves' difference is free of it, the picture is not
    plan = Plan.read(PLANS / "mono-single-lines.toml")
    rng = np.random.default_rng(1)
    pattern = rng.normal(0, 4 / 0.25, (256, 256))
    stars = rng.integers(20, 236, (30, 2))
    for at in range(16):
        data = 500 + pattern + (rng.poisson(31.0, (256, 256)) + rng.normal(0, 1.4, (256, 256))) / 0.25
        for row, column in stars:
            data[row - 1 : row + 2, column - 1 : column + 2] += 3000
        header = fits.Header({"EXPTIME": 300.0, "IMAGETYP": "LIGHT"})
        fits.PrimaryHDU(data.round().astype(np.uint16), header).writeto(tmp_path / f"{at:02d}.fits")
    asked = stack_model.Asked(folder=".", filter_name="H-alpha 5 nm")
    shown = look_at_stack(plan, tmp_path, asked, frozenset(), lambda _: None)
    assert shown.told.blame == "pattern"
    assert "what all subs share makes the difference" in shown.headline
    assert "pattern" in shown.others[0]


@pytest.mark.parametrize(
    ("sky_e", "read_e", "gain", "blame", "said"),
    [
        (33.0, 1.4, 0.25, "none", "falls as it should"),
        (80.0, 1.4, 0.25, "sky", "a brighter sky"),
        (33.0, 6.0, 0.25, "read noise", "read noise, or other electrons per ADU"),
        (10.0, 1.4, 0.25, "quieter", "quieter than planned"),
        (33.0, 1.4, 0.5, "none", "falls as it should"),  # the header's electrons per ADU stand above the plan's
    ],
)
def test_the_term_to_blame(tmp_path, sky_e, read_e, gain, blame, said):
    plan = Plan.read(PLANS / "mono-single-lines.toml")
    rng = np.random.default_rng(1)
    stars = rng.integers(20, 236, (30, 2))
    for at in range(9):
        data = 500 + (rng.poisson(sky_e, (256, 256)) + rng.normal(0, read_e, (256, 256))) / gain
        for row, column in stars:
            data[row - 1 : row + 2, column - 1 : column + 2] += 3000
        header = fits.Header({"EXPTIME": 300.0, "IMAGETYP": "LIGHT", "EGAIN": gain})
        fits.PrimaryHDU(data.round().astype(np.uint16), header).writeto(tmp_path / f"{at:02d}.fits")
    shown = look_at_stack(
        plan, tmp_path, stack_model.Asked(folder=".", filter_name="H-alpha 5 nm"), frozenset(), lambda _: None
    )
    assert shown.told.blame == blame
    assert said in shown.headline


def test_a_known_star_and_where_values_come_from(root):
    panel = FramesPanel("plans/mono-single-lines.toml", root)
    view = panel.view
    stars = view.shown.told.found.stars
    at = int(np.flatnonzero(~stars.full)[0])
    view.star.box.value = f"{stars.row[at]:.0f}, {stars.column[at]:.0f}, 12"
    view.measure.click()
    assert "The known star shows" in said_on(panel)
    rows = {row[0]: row for row in view.numbers().rows}
    assert "on a clear night" in rows["light of the known star over what it should be"][2]
    assert rows["begin, UTC"][2] == "from DATE-OBS"
    assert rows["temperature, °C"][1:] == ("-10", "from CCD-TEMP")
    assert rows["held against the model for"][1].endswith("and the Moon down")
    view.star.box.value = "the bright one"
    view.measure.click()
    assert "row, column and V magnitude" in view.work.said.value


def test_my_own_factor_goes_into_the_plan(root):
    panel = FramesPanel("plans/mono-single-lines.toml", root)
    shown = look(panel, "Morning after")
    night = panel.view
    assert night.own.disabled  # one night tells no range
    ledger = root / "three nights.ecsv"
    for at, share in enumerate((1.0, 0.6)):
        append(ledger, [
            dataclasses.replace(one, night=f"2027-09-2{at}", equivalent_dark_h=one.equivalent_dark_h * share)
            for one in shown.found.entries
        ])  # fmt: skip
    night.ledger.show(ledger.name)
    night._again()
    own = night.shown.found.own
    assert own.nights == 3
    assert f"Your 3 nights needed {own.factor:.2g} times the hours at best" in said_on(panel)
    assert not night.own.disabled
    night.own.click()
    assert panel.plan.case.doubt.practice.factor == pytest.approx(own.factor, abs=0.006)
    assert "your own 3 nights now" in panel.done.value
    head = night.numbers().head
    assert {"UTC", "Filter", "Length", "°C", "Sky, e-/s", "Noise, e-", "Star, px", "Stars", "Light"} <= set(head)


def test_the_sky_goes_into_the_plan(root):
    panel = FramesPanel("plans/mono-single-lines.toml", root)
    panel.view.write.click()
    assert "is this now" in panel.done.value
    measured = panel.plan.case.sky.measured["H-alpha 5 nm"].electron_s
    assert measured == pytest.approx(panel.view.shown.told.found.colours["mono"].sky_e_s, rel=1e-3)
    panel.pick.value = "Camera"
    panel.view.write.click()
    assert panel.plan.case.camera.gain.startswith("measured 2")
    panel.plan_row.undo.click()
    panel.plan_row.undo.click()


def test_a_colour_camera(root):
    panel = FramesPanel("plans/colour-dual-band.toml", root)
    shown = look(panel, "Test sub")
    assert list(shown.told.found.colours) == ["R", "G", "B"]
    panel.view.write.click()
    assert set(panel.plan.case.sky.measured["Dual 6 nm"].colours) == {"R", "G", "B"}
    panel.plan_row.undo.click()
    assert "electrons per ADU" in look(panel, "Camera").headline


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"frame": ""}, "name a frame"),
        ({"frame": "nowhere.fits"}, "nowhere.fits is not there"),
        ({"frame": "plans/mono-single-lines.toml"}, "is no FITS file"),
        ({"electrons_per_adu": "many"}, "Electrons per ADU must be a number above 0, got 'many'"),
        ({"below": "no.fits"}, "no.fits is not there"),
        ({"second": "no.fits"}, "no.fits is not there"),
        ({"filter_name": "Red"}, "filter must be one of"),
    ],
)
def test_wrong_input(panel, root, changes, said):
    look(panel, "Test sub")
    asked = {"frame": "frames/mono-single-lines demo/test sub/sub_0001.fits", "filter_name": "H-alpha 5 nm"}
    with pytest.raises(ValueError, match=re.escape(said)):
        look_at_sub(panel.plan, root, Asked(**{**asked, **changes}), lambda _: None)


def test_a_wrong_file_leaves_what_was_shown(panel):
    shown = look(panel, "Test sub")
    panel.view.frame.box.value = "plans/<b>no.fits"
    panel.view.measure.click()
    assert "&lt;b&gt;no.fits is not there" in panel.view.work.said.value
    assert panel.view.shown is shown


def test_numbers_that_people_type():
    assert optional_number("x", "0,25") == 0.25
    assert optional_number("x", " ") is None


def test_long_work_is_stopped():
    seen = []

    ended = threading.Event()

    def work(report):
        try:
            for at in range(1000):
                time.sleep(0.002)
                seen.append(at)
                report(at / 1000)
        finally:
            ended.set()

    steps = in_thread(work)
    for _ in range(3):
        next(steps)
    steps.close()
    assert ended.wait(PATIENCE_S)
    assert len(seen) < 1000


def test_errors_of_long_work_come_through():
    def work(_):
        msg = "a.fits is no FITS file"
        raise FrameError(msg)

    with pytest.raises(FrameError, match=r"a\.fits"):
        for _ in in_thread(work):
            pass


def test_demo_frames_are_made_once(root):
    folder = demo_folder(root, "plans/mono-single-lines.toml", NIGHT)
    before = {path: path.stat().st_mtime_ns for path in folder.iterdir()}
    make_demo(Plan.read(PLANS / "mono-single-lines.toml"), folder, NIGHT, lambda _: None)
    assert {path: path.stat().st_mtime_ns for path in folder.iterdir()} == before


@pytest.mark.parametrize("plan", ["mono-single-lines", "colour-dual-band"])
def test_frames_of_ones_own_from_elsewhere(root, tmp_path, plan):
    # files that the command wrote, in a folder that is not the notebook's, through all four views
    file = f"plans/{plan}.toml"
    words = "--seed 5 --subs 12 --biases 2 --flats 5 --darks 1 --warmer 0 10 --size 480 320 --sub 300".split()
    assert main(["simulate", str(root / file), str(tmp_path / "own"), *words]) == 0
    panel = FramesPanel(file, root)
    own = tmp_path / "own"
    for view, what in (("Test sub", own / "sub_0001.fits"), ("Camera", own), ("Morning after", own), ("Stack", own)):
        panel.pick.value = view
        panel.view.first_box().box.value = str(what)
        panel.view.measure.click()
        assert not panel.view.work.said.value
    views = panel.views
    assert max(views["Test sub"].figure.cells.data["right"]) == 480
    colours = 3 if plan.startswith("colour") else 1
    assert len(views["Camera"].shown.found.line.level_adu) == 5 * colours
    assert views["Morning after"].words[0].startswith("12 of 12 subs kept")
    assert views["Stack"].words[0].startswith("12 subs")
