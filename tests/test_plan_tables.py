"""Tables beside a plan: found again when the plan is saved elsewhere, and read again when they change."""

import os
import shutil
from pathlib import Path

import pytest

from expocalc.base.table import read_table
from expocalc.plan import Plan, PlanError, as_json

MONO = Path(__file__).resolve().parent.parent / "notebooks" / "plans" / "mono-single-lines.toml"
CURVE = "wavelength,share\n650,0\n655,{peak}\n658,{peak}\n663,0\n"
BAND = "filters", 0, "passbands"


def write(path, peak):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(CURVE.format(peak=peak))
    return path


@pytest.fixture
def plan(tmp_path):
    """A plan in a folder of its own with a table below it."""
    write(tmp_path / "mine" / "bands" / "ha.csv", 0.9)
    changed = Plan.read(MONO).with_values({(*BAND,): [{"centre": "656 nm", "width": "5 nm"}]})
    (tmp_path / "mine" / "plan.toml").write_text(changed.to_toml())
    read = Plan.read(tmp_path / "mine" / "plan.toml")
    return read.with_values({(*BAND,): [{"table": "bands/ha.csv"}]})


@pytest.mark.parametrize("where", [".", "bands", "deeper/down", "..", "../other", "../other/deep"])
def test_a_plan_saved_elsewhere_gives_the_same_answer(tmp_path, plan, where):
    folder = tmp_path / "mine" / where
    folder.mkdir(parents=True, exist_ok=True)
    before = sorted(path for path in tmp_path.rglob("*") if path.is_file())
    plan.save(folder / "copy.toml")
    assert as_json(Plan.read(folder / "copy.toml").solve()) == as_json(plan.solve())
    written = {path for path in tmp_path.rglob("*") if path.is_file()} - set(before)
    assert written == {(folder / "copy.toml").resolve()}
    again = Plan.read(folder / "copy.toml")
    again.save(tmp_path / "mine" / "back.toml")
    assert Plan.read(tmp_path / "mine" / "back.toml").values["filters"][0]["passbands"][0]["table"] == "bands/ha.csv"


def test_both_folders_may_move_together(tmp_path, plan):
    (tmp_path / "other").mkdir()
    plan.save(tmp_path / "other" / "plan.toml")
    assert str(tmp_path) not in (tmp_path / "other" / "plan.toml").read_text()
    shutil.copytree(tmp_path, tmp_path.with_name(tmp_path.name + "-moved"))
    shutil.rmtree(tmp_path / "mine")
    moved = tmp_path.with_name(tmp_path.name + "-moved")
    assert as_json(Plan.read(moved / "other" / "plan.toml").solve()) == as_json(plan.solve())


@pytest.mark.skipif(os.name == "nt", reason="links need a right of their own")
def test_a_folder_behind_a_link_is_no_trap(tmp_path, plan):
    (tmp_path / "far" / "away").mkdir(parents=True)
    os.symlink(tmp_path / "far" / "away", tmp_path / "mine" / "link")
    plan.save(tmp_path / "mine" / "link" / "plan.toml")
    assert as_json(Plan.read(tmp_path / "mine" / "link" / "plan.toml").solve()) == as_json(plan.solve())


def test_a_whole_path_stays_as_it_is_and_so_do_comments(tmp_path, plan):
    table = (tmp_path / "mine" / "bands" / "ha.csv").as_posix()
    absolute = plan.with_values({(*BAND,): [{"table": table}]})
    (tmp_path / "other").mkdir()
    absolute.save(tmp_path / "other" / "plan.toml")
    saved = Plan.read(tmp_path / "other" / "plan.toml")
    assert saved.values["filters"][0]["passbands"][0]["table"] == table
    assert saved.text.startswith(MONO.read_text(encoding="utf-8").splitlines()[0])
    assert absolute.values["filters"][0]["passbands"][0]["table"] == table


def test_saving_elsewhere_leaves_the_plan_at_hand_as_it_is(tmp_path, plan):
    plan.save(tmp_path / "plan.toml")
    assert plan.values["filters"][0]["passbands"][0]["table"] == "bands/ha.csv"
    assert plan.folder == tmp_path / "mine"


def test_a_table_that_changed_is_read_again(tmp_path, plan):
    plan.save(tmp_path / "mine" / "plan.toml")
    first = as_json(Plan.read(tmp_path / "mine" / "plan.toml").solve())["rows"][0]
    write(tmp_path / "mine" / "bands" / "ha.csv", 0.4)
    second = as_json(Plan.read(tmp_path / "mine" / "plan.toml").solve())["rows"][0]
    assert second["target_electron_s"] / first["target_electron_s"] == pytest.approx(0.4 / 0.9)
    (tmp_path / "mine" / "bands" / "ha.csv").unlink()
    with pytest.raises(PlanError, match=r"the table .*ha.csv can't be read: No such file .*\(line \d+\)"):
        Plan.read(tmp_path / "mine" / "plan.toml")


def test_a_table_of_the_same_size_and_time_in_a_new_file_is_read_again(tmp_path):
    path = write(tmp_path / "a.csv", 0.9)
    assert read_table(path)["share"][1] == 0.9
    state = path.stat()
    write(tmp_path / "b.csv", 0.8)
    os.replace(tmp_path / "b.csv", path)
    os.utime(path, ns=(state.st_atime_ns, state.st_mtime_ns))
    assert read_table(path)["share"][1] == 0.8
    assert read_table(path) is read_table(path)
