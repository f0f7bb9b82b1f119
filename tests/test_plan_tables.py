"""Tables beside a plan: found again when the plan is saved elsewhere, and read again when they change."""

import os
import shutil
from pathlib import Path

import pytest

from expocalc.base.table import read_table
from expocalc.plan import Plan, PlanError, as_json
from workbook.parts.export_row import ExportRow
from workbook.parts.plan_row import PlanRow
from workbook.parts.plan_store import PlanStore
from workbook.plan.form_store import FormStore
from workbook.sheets.formats import FORMATS

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


@pytest.fixture
def store(demo_folder):
    """A store whose plan names a table beside it."""
    write(demo_folder / "plans" / "bands" / "ha.csv", 0.9)
    changed = Plan.read(MONO).with_values({(*BAND,): [{"centre": "656 nm", "width": "5 nm"}]})
    changed.save(demo_folder / "plans" / "mine.toml")
    (demo_folder / "plans" / "deep").mkdir()
    Plan.read(demo_folder / "plans/mine.toml").with_values({(*BAND,): [{"table": "bands/ha.csv"}]}).save(
        demo_folder / "plans" / "mine.toml"
    )
    return PlanStore(demo_folder, "plans/mine.toml")


def answers(plan):
    return as_json(plan.solve())


GOAL = "goal", "snr"


@pytest.mark.parametrize("act", ["save", "rename"])
def test_tables_go_along_when_a_page_saves_or_renames_into_another_folder(store, act):
    store.note(store.plan.with_values({GOAL: 20}))
    store.keep_draft()
    wanted = answers(store.plan)
    getattr(store, act)("plans/deep/tonight")
    assert store.name == "plans/deep/tonight.toml"
    assert answers(store.plan) == wanted
    filed = Plan.read(store.files.root / store.name)
    assert filed.tables == ("../bands/ha.csv",)
    again = PlanStore(store.files.root, store.name)
    assert (again.plan.case.goal.snr, again.news == "") == (20, act == "save")
    assert answers(again.plan) == wanted
    store.undo()
    assert store.plan.case.goal.snr != 20
    store.save()
    assert answers(Plan.read(store.files.root / store.name)) == answers(store.plan)


def test_tables_go_along_with_a_copy_of_a_plan_from_another_folder(store):
    store.save("plans/deep/tonight")
    wanted = answers(store.plan)
    store.copy()
    assert store.name == "plans/tonight-copy.toml"
    assert store.plan.tables == ("bands/ha.csv",)
    assert answers(store.plan) == wanted


def test_tables_go_along_to_the_right_side_of_a_comparison(store):
    store.save("plans/deep/tonight")
    beside = PlanStore.beside(store, store.plan.with_values({GOAL: 20}))
    assert answers(beside.plan)
    beside.note(beside.plan.with_values({GOAL: 21}))
    beside.keep_draft()
    assert PlanStore.beside(store, store.plan.with_values({GOAL: 20})).plan.case.goal.snr == 21
    beside.save()
    assert answers(Plan.read(store.files.root / beside.name)) == answers(beside.plan)


def test_tables_are_named_from_the_folder_that_an_export_goes_to(store):
    row = ExportRow(store.files.root, lambda: store.plan)
    form = next(one for one in FORMATS if one.suffix == ".ecsv")
    row.buttons[form.name].click()
    (path,) = store.files.root.glob("*.ecsv")
    assert "plans/bands/ha.csv" in path.read_text()


def test_who_takes_a_plan_home_is_told_of_its_tables(store):
    row = PlanRow(store, lambda _: None)
    row.more.value = True
    assert "it needs bands/ha.csv too" in row.home.value


def test_a_plan_that_is_brought_without_its_table_is_refused_whole(store):
    data = (store.files.root / "plans/mine.toml").read_bytes()
    (store.files.root / "plans/bands/ha.csv").unlink()
    before = store.names()
    with pytest.raises(PlanError, match=r"ha.csv can't be read"):
        store.take_in("brought.toml", data)
    assert store.names() == before


def test_a_sketch_keeps_its_tables_under_another_name(store):
    form = FormStore(store.files.root)
    form.new()
    form.change({("filters",): [{"name": "H", "passbands": [{"table": "bands/ha.csv"}]}]})
    form.rename("plans/deep/later")
    assert form.values["filters"][0]["passbands"][0]["table"] == "../bands/ha.csv"


def test_load_reads_a_changed_table_again(store):
    first = answers(store.plan)["rows"][0]["target_electron_s"]
    write(store.files.root / "plans" / "bands" / "ha.csv", 0.4)
    second = answers(store.open(store.name))["rows"][0]["target_electron_s"]
    assert second / first == pytest.approx(0.4 / 0.9)
