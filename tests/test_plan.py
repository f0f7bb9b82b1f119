"""The plan file: read, checked, changed, saved with its comments, whole or not at all."""

import errno
import io
import os
import stat
import tempfile
import tomllib
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from expocalc.base import textfile
from expocalc.plan import Plan, PlanError, as_json, write_whole

DEMOS = sorted((Path(__file__).resolve().parent.parent / "notebooks" / "plans").glob("*.toml"))

TEXT = """\
# my garden
title = "Shell"   # one line

sky.bortle = 6    # by the map

[telescope]
aperture = "80 mm"       # clear
focal_length = "480 mm"

[camera]
pixel = "2.9 um"
columns = 3000
rows = 2000
quantum_efficiency = 0.8
dark_current = { rate = "0.002 electron/s", at = "-10 deg_C", doubles_every = "6 K" }

[camera.gains.only]
read_noise = "1.4 electron"    # measured
electrons_per_adu = 0.25
full_well = "15000 electron"

# first filter
[[filters]]
name = "H-alpha"
passbands = [{ centre = "656.3 nm", width = "5 nm" }]   # a box

# second filter
[[filters]]
name = "O III"
passbands = [{ centre = "500.7 nm", width = "5 nm" }]

# third filter
[[filters]]
name = "V"
passbands = [{ standard = "bessell-V" }]

[target]
light = [
    { line = "H-alpha", brightness = "12 R" },   # red
    { line = "O III", brightness = "15 R" },     # green
]
"""


@pytest.fixture
def plan():
    return Plan.parse(TEXT)


def aperture_mm(plan):
    return float(plan.case.telescope.aperture.value)


# --- reading ---


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demo_plans_read_and_save_unchanged(path):
    plan = Plan.read(path)
    assert plan.to_toml() == path.read_text(encoding="utf-8")
    assert plan.solve().title == plan.case.title


def test_read_tells_the_same_as_parse(tmp_path, plan):
    (tmp_path / "plan.toml").write_text(TEXT)
    read = Plan.read(tmp_path / "plan.toml")
    assert as_json(read.solve()) == as_json(plan.solve())
    assert read.folder == tmp_path


@pytest.mark.parametrize("start", [b"\xef\xbb\xbf", b""], ids=["with mark", "without"])
def test_lines_may_end_as_in_windows(tmp_path, start):
    (tmp_path / "plan.toml").write_bytes(start + TEXT.replace("\n", "\r\n").encode())
    read = Plan.read(str(tmp_path / "plan.toml"))
    assert aperture_mm(read) == 80
    saved = read.with_values({("telescope", "aperture"): "90 mm"}).to_toml()
    assert saved.replace('"90 mm"', '"80 mm"') == TEXT.replace("\n", "\r\n")


def test_optional_sections_may_be_left_out(plan):
    assert plan.case.title == "Shell"
    assert plan.case.goal.snr == 10
    assert plan.case.routine.longest_sub is None


def test_units_of_a_field_are_free(plan):
    other = Plan.parse(TEXT.replace('"80 mm"', '"8 cm"').replace('"480 mm"', '"0,48 m"'))
    assert as_json(other.solve()) == as_json(plan.solve())


def test_table_of_a_filter_is_found_beside_the_plan(tmp_path, monkeypatch):
    (tmp_path / "curves").mkdir()
    (tmp_path / "curves" / "v.csv").write_text("nm,share\n500,0\n510,0.9\n590,0.9\n600,0\n")
    text = TEXT.replace('{ standard = "bessell-V" }', '{ table = "curves/v.csv" }')
    (tmp_path / "plan.toml").write_text(text)
    monkeypatch.chdir(Path(__file__).parent)
    read = Plan.read(tmp_path / "plan.toml")
    assert float(read.case.filters[2].passbands[0].curve(550)) == 0.9
    assert read.to_toml() == text, "the path stays as it was written"
    with pytest.raises(PlanError, match=r"table .*v.csv can't be read"):
        Plan.parse(text, tmp_path.parent)


def test_path_that_no_path_can_be_is_refused():
    with pytest.raises(PlanError, match="can't be read: embedded null"):
        Plan.read("a\0b")


# --- changing ---


def test_changed_value_is_read_and_the_plan_at_hand_stays(plan):
    wider = plan.with_values({("telescope", "aperture"): "100 mm"})
    assert aperture_mm(wider) == 100
    assert aperture_mm(plan) == 80
    assert wider.values["telescope"]["aperture"] == "100 mm"
    assert plan.values["telescope"]["aperture"] == "80 mm"


def test_refused_change_leaves_the_plan_as_it_was(plan):
    before = as_json(plan.solve())
    with pytest.raises(PlanError, match=r"\[telescope\] aperture needs a unit"):
        plan.with_values({("telescope", "aperture"): 100})
    assert as_json(plan.solve()) == before
    assert plan.to_toml() == TEXT


def test_sections_that_did_not_change_are_not_read_again(plan):
    wider = plan.with_values({("telescope", "aperture"): "100 mm"})
    assert wider.case.telescope is not plan.case.telescope
    for section in ("sky", "camera", "filters", "target", "routine", "goal", "site"):
        assert getattr(wider.case, section) is getattr(plan.case, section), section


def test_tables_that_did_not_change_keep_their_nouns(plan):
    colder = plan.with_values({("camera", "temperature"): "-20 deg_C"}).case.camera
    assert colder.temperature.value == -20
    assert colder.setting is plan.case.camera.setting
    assert colder.dark_current is plan.case.camera.dark_current
    other = plan.with_values({("camera", "gains", "only", "read_noise"): "2 electron"}).case.camera
    assert other.setting.read_noise.value == 2
    assert other.dark_current is plan.case.camera.dark_current


def test_a_table_that_its_owner_changes_later_is_read_anew(plan):
    lamps = {"mercury": 0.25, "sodium-high-pressure": 0.75}
    first = plan.with_values({("sky", "lamps"): lamps})
    lamps["mercury"], lamps["sodium-high-pressure"] = 0.75, 0.25
    assert first.values["sky"]["lamps"]["mercury"] == 0.25
    second = first.with_values({("sky", "lamps"): lamps})
    assert dict(second.case.sky.lamps) == lamps
    assert dict(first.case.sky.lamps)["mercury"] == 0.25


def test_value_may_be_put_where_none_was(plan):
    found = plan.with_values(
        {
            ("routine", "dead_time"): "3 s",
            ("sky", "lamps", "mercury"): 1.0,
            ("filters", 1, "passbands", 0, "peak"): 0.5,
        }
    )
    assert found.case.routine.dead_s == 3
    assert dict(found.case.sky.lamps) == {"mercury": 1.0}
    assert found.case.filters[1].passbands[0].peak == 0.5
    assert Plan.parse(found.to_toml()).values == found.values


def test_none_takes_a_value_out(plan):
    found = plan.with_values({("sky", "bortle"): None, ("sky", "luminance"): "2 mcd/m2", ("title",): None})
    assert found.case.title == "untitled"
    assert found.case.sky.reading_name == "luminance"
    assert "bortle" not in found.to_toml()
    assert plan.with_values({("goal", "unsaturated_star"): None}).case.goal.unsaturated_star is None


def test_measured_sky_must_name_a_filter_of_the_plan_after_each_change(plan):
    measured = plan.with_values({("sky", "measured"): {"V": "1 electron/s"}})
    with pytest.raises(PlanError, match=r'\[sky.measured\] has no filter "V"'):
        measured.with_values({("filters", 2, "name"): "visual"})


def test_two_changes_one_after_the_other_are_the_same_as_both_at_once(plan):
    one, two = {("telescope", "aperture"): "100 mm"}, {("camera", "temperature"): "-5 deg_C"}
    after, at_once = plan.with_values(one).with_values(two), plan.with_values(one | two)
    assert as_json(after.solve()) == as_json(at_once.solve())
    assert after.to_toml() == at_once.to_toml()
    assert after.changes == one | two


# --- saving ---


def test_saved_plan_differs_in_the_changed_value_only(plan):
    changes = {
        ("telescope", "aperture"): "100 mm",
        ("camera", "gains", "only", "read_noise"): "2 electron",
        ("filters", 1, "name"): "green",
        ("filters", 0, "passbands", 0, "width"): "7 nm",
        ("target", "light", 1, "brightness"): "9 R",
        ("camera", "dark_current", "at"): "0 deg_C",
        ("sky", "bortle"): 5,
    }
    expected = TEXT
    for old, new in {
        '"80 mm"': '"100 mm"',
        '"1.4 electron"': '"2 electron"',
        '"O III"\npass': '"green"\npass',
        'centre = "656.3 nm", width = "5 nm"': 'centre = "656.3 nm", width = "7 nm"',
        '"15 R"': '"9 R"',
        '"-10 deg_C"': '"0 deg_C"',
        "bortle = 6": "bortle = 5",
    }.items():
        assert expected.count(old) == 1
        expected = expected.replace(old, new)
    assert plan.with_values(changes).to_toml() == expected


def test_filter_that_is_taken_out_leaves_the_others_with_their_comments(plan):
    found = plan.with_values({("filters", 0): None})
    assert [f.name for f in found.case.filters] == ["O III", "V"]
    again = found.with_values({("filters", 0): None})
    assert [f.name for f in again.case.filters] == ["V"]
    saved = again.to_toml()
    assert [f["name"] for f in tomllib.loads(saved)["filters"]] == ["V"], "the same place was taken out twice"
    assert "# red" in saved
    assert "# my garden" in saved


def test_filter_may_be_added(plan):
    blue = {"name": "B", "passbands": [{"standard": "bessell-B"}]}
    found = plan.with_values({("filters",): [*plan.values["filters"], blue]})
    saved = Plan.parse(found.to_toml())
    assert [f.name for f in saved.case.filters] == ["H-alpha", "O III", "V", "B"]
    for comment in ("# first filter", "# second filter", "# third filter", "# a box"):
        assert comment in saved.text


PLACES = {
    ("telescope", "aperture"): ["70 mm", "1,1 m"],
    ("telescope", "blur"): ["2 arcsec", None],
    ("sky", "bortle"): [4, 9],
    ("sky", "lamps"): [{"mercury": 1}, {"led-4000K": 0.5, "mercury": 0.5}, None],
    ("camera", "gains", "only", "bias_level"): [500, None],
    ("camera", "glow"): ["0.1 electron/s", None],
    ("camera", "dark_current"): [{"rate": "0 electron/s", "at": "0 deg_C", "activation": "0.6 eV"}],
    ("filters", 0, "passbands", 0, "peak"): [0.5, None],
    ("filters", 1, "name"): ["green", 'a "b" \\ c', "ü"],
    ("filters", 0, "passbands"): [[{"standard": "sdss-r"}], [{"centre": "656 nm", "width": "3 nm", "peak": 0.5}] * 1],
    ("filters",): [[{"name": "one", "passbands": [{"standard": "sdss-r"}]}] * 1],
    ("target", "light"): [[{"star": "9 mag"}], [{"line": "S II", "brightness": "1 R"}, {"star": "3 mag"}]],
    ("target", "light", 0): [{"continuum": "22 mag/arcsec2"}],
    ("title",): ["other", None],
    ("routine", "longest_sub"): ["2 min", None],
    ("goal", "snr"): [7, "12,5", None],
    ("site", "seeing"): ["4 arcsec"],
}
CHANGES = st.lists(
    st.sampled_from([(place, value) for place, values in PLACES.items() for value in values]), min_size=1, max_size=8
)


@given(CHANGES)
def test_any_changes_are_saved_as_they_were_made(changes):
    plan = Plan.parse(TEXT)
    for place, value in changes:
        try:
            plan = plan.with_values({place: value})
        except (PlanError, LookupError):  # one that an earlier change made impossible
            continue
    saved = plan.to_toml()
    assert tomllib.loads(saved) == plan.values
    assert "# measured" in saved
    assert as_json(Plan.parse(saved).solve()) == as_json(plan.solve())


def test_saved_file_is_read_again(tmp_path, plan):
    path = tmp_path / "new.toml"
    plan.with_values({("title",): "ü"}).save(path)
    assert Plan.read(path).case.title == "ü"
    assert os.listdir(tmp_path) == ["new.toml"]


@pytest.mark.skipif(os.name == "nt", reason="modes of files")
def test_saving_keeps_the_mode_of_the_file_and_what_the_user_wants_of_new_ones(tmp_path, plan):
    path = tmp_path / "plan.toml"
    path.touch()
    path.chmod(0o640)
    plan.save(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    mask = os.umask(0o027)
    try:
        plan.save(tmp_path / "new.toml")
        assert os.umask(0o027) == 0o027
    finally:
        os.umask(mask)
    assert stat.S_IMODE((tmp_path / "new.toml").stat().st_mode) == 0o640


@pytest.mark.skipif(os.name == "nt", reason="links need rights")
def test_link_to_a_plan_stays_a_link(tmp_path, plan):
    (tmp_path / "real.toml").write_text("old")
    (tmp_path / "link.toml").symlink_to("real.toml")
    plan.save(tmp_path / "link.toml")
    assert (tmp_path / "link.toml").is_symlink()
    assert (tmp_path / "real.toml").read_text() == TEXT


def fail(error):
    def raising(*_, **__):
        raise error

    return raising


DISK_FULL = OSError(errno.ENOSPC, "No space left on device")


@pytest.mark.parametrize("step", ["replace", "fsync", "chmod"])
@pytest.mark.parametrize("there", [True, False], ids=["over an old file", "as a new file"])
def test_failed_saving_changes_nothing(tmp_path, monkeypatch, plan, step, there):
    path = tmp_path / "plan.toml"
    if there:
        path.write_text("old")
    elif step == "chmod":
        pytest.skip("a new file takes the mode that new files have")
    monkeypatch.setattr(os, step, fail(DISK_FULL))
    with pytest.raises(PlanError, match=r"plan.toml can't be written: No space left on device; nothing was changed"):
        plan.save(path)
    assert [p.name for p in tmp_path.iterdir()] == (["plan.toml"] if there else [])
    assert not there or path.read_text() == "old"


def test_disk_that_fills_while_writing_changes_nothing(tmp_path, monkeypatch, plan):
    path = tmp_path / "plan.toml"
    path.write_text("old")

    class Full(io.FileIO):
        write = fail(DISK_FULL)

    monkeypatch.setattr(os, "fdopen", Full)
    with pytest.raises(PlanError, match="No space left"):
        plan.save(path)
    assert path.read_text() == "old"
    assert len(os.listdir(tmp_path)) == 1


def test_saving_that_is_interrupted_leaves_no_draft(tmp_path, monkeypatch, plan):
    monkeypatch.setattr(os, "fsync", fail(KeyboardInterrupt()))
    with pytest.raises(KeyboardInterrupt):
        plan.save(tmp_path / "plan.toml")
    assert os.listdir(tmp_path) == []


def test_text_that_no_file_can_hold_is_refused(tmp_path):
    (tmp_path / "plan.toml").write_text("old")
    with pytest.raises(PlanError, match="can't be written"):
        write_whole(tmp_path / "plan.toml", "half a sign: \ud800")
    assert (tmp_path / "plan.toml").read_text() == "old"
    assert len(os.listdir(tmp_path)) == 1


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="no such permissions here")
@pytest.mark.parametrize(("file_mode", "folder_mode"), [(0o444, 0o755), (0o644, 0o555)], ids=["file", "folder"])
def test_what_is_read_only_stays_as_it_is(plan, file_mode, folder_mode):
    with tempfile.TemporaryDirectory() as name:
        folder, path = Path(name), Path(name) / "plan.toml"
        path.write_text("old")
        path.chmod(file_mode)
        root = os.geteuid() == 0  # may write everywhere, so nobody tries
        if root:
            os.chown(path, 65534, -1)
            os.chown(folder, 65534, -1)
        folder.chmod(folder_mode)
        try:
            if root:
                os.setresuid(65534, 65534, 0)
            with pytest.raises(PlanError, match=r"plan.toml can't be written: (it is read-only|Permission denied)"):
                plan.save(path)
        finally:
            if root:
                os.setresuid(0, 0, 0)
            folder.chmod(0o755)
        assert path.read_text() == "old"
        assert len(os.listdir(folder)) == 1


def test_missing_folder_is_named(tmp_path, plan):
    with pytest.raises(PlanError, match=r"plan.toml can't be written: No such file or directory; nothing was changed"):
        plan.save(tmp_path / "none" / "plan.toml")


def test_longest_name_of_a_file_can_be_saved(tmp_path, plan):
    path = tmp_path / ("x" * 250 + ".toml")
    plan.save(path)
    assert path.read_text() == TEXT


def test_reading_while_saving_gives_the_old_plan_or_the_new(tmp_path, monkeypatch, plan):
    """A reader that has the file open when it is replaced reads the old one whole."""
    path = tmp_path / "plan.toml"
    plan.save(path)
    honest, done = os.fstat, []

    def fstat(handle):
        if not done:
            done.append(True)
            plan.with_values({("title",): "new"}).save(path)
        return honest(handle)

    monkeypatch.setattr(textfile.os, "fstat", fstat)
    assert Plan.read(path).case.title == "Shell"
    assert Plan.read(path).case.title == "new"


# --- the plain answer ---


def test_json_has_null_where_a_number_is_infinite_or_missing(plan):
    found = as_json(plan.solve())
    row = found["rows"][0]
    assert row["sub_longest_s"] is not None, "the sky fills the well at last"
    assert row["hours_p50"] is None
    assert row["expected_median_adu"] is None, "no bias level is given"
    none = "0 electron/s"
    dark = plan.with_values({("sky", "measured"): {"V": none}, ("camera", "dark_current", "rate"): none})
    assert as_json(dark.solve())["rows"][2]["sub_longest_s"] is None


def test_text_and_values_of_a_plan_agree(plan):
    assert tomlkit.parse(plan.text).unwrap() == plan.values
