"""The reader's copies: laid, renewed where nobody changed them, spared where somebody did."""

import json
import os

import pytest

from workbook.copies import RECORD, fingerprint, lay, shipped, shipped_files, write_whole


def notebook(*sources, **more):
    plain = {"cell_type": "code", "metadata": {}, "outputs": []}
    cells = [plain | {"source": source} | more for source in sources]
    return json.dumps({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5})


@pytest.fixture
def source(tmp_path):
    """A shipped folder with a notebook, a plan and what must not be laid."""
    folder = tmp_path / "shipped"
    for name, text in {
        "start.ipynb": notebook("1 + 1"),
        "plans/demo.toml": 'title = "first"\n',
        ".ipynb_checkpoints/start.ipynb": notebook("old"),
        "plans/.demo.toml-draft": "",
        "pictures/a.png": "",
    }.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)
    return folder


@pytest.fixture
def folder(source, tmp_path):
    """The reader's folder after the first start."""
    assert lay(source, tmp_path / "mine") == []
    return tmp_path / "mine"


def files(folder):
    found = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_text() for path in found}


def test_first_start_lays_notebooks_and_plans_only(folder):
    assert set(files(folder)) == {"start.ipynb", "plans/demo.toml", RECORD}


def test_second_start_changes_nothing(source, folder):
    before = files(folder)
    assert lay(source, folder) == []
    assert files(folder) == before


def test_upgrade_renews_an_unchanged_copy(source, folder):
    (source / "start.ipynb").write_text(notebook("2 + 2"))
    (source / "plans/demo.toml").write_text('title = "second"\n')
    assert lay(source, folder) == []
    assert "2 + 2" in files(folder)["start.ipynb"]
    assert files(folder)["plans/demo.toml"] == 'title = "second"\n'


def test_a_run_and_saved_notebook_counts_as_unchanged(source, folder):
    saved = json.loads(notebook(["1 + 1"], outputs=[{"output_type": "stream"}]))
    saved["metadata"] = {"language_info": {"version": "3.11"}}
    (folder / "start.ipynb").write_text(json.dumps(saved))
    assert lay(source, folder) == []
    assert "stream" in files(folder)["start.ipynb"]  # the same version: the reader's outputs stay
    (source / "start.ipynb").write_text(notebook("2 + 2"))
    assert lay(source, folder) == []
    assert "2 + 2" in files(folder)["start.ipynb"]


@pytest.mark.parametrize(
    ("name", "mine", "theirs", "beside"),
    [
        ("start.ipynb", notebook("1 + 1", "mine"), notebook("2 + 2"), "start.new.ipynb"),
        ("start.ipynb", "not a notebook any more", notebook("2 + 2"), "start.new.ipynb"),
        ("start.ipynb", "[1, 2]", notebook("2 + 2"), "start.new.ipynb"),
        ("plans/demo.toml", 'title = "mine"\n', 'title = "second"\n', "plans/demo.new.toml"),
    ],
)
def test_upgrade_keeps_a_changed_copy_and_lays_the_new_one_beside(source, folder, name, mine, theirs, beside):
    (folder / name).write_text(mine)
    assert lay(source, folder) == []  # no new version yet: nothing to say
    (source / name).write_text(theirs)
    (sentence,) = lay(source, folder)
    assert name in sentence
    assert beside in sentence
    assert files(folder)[name] == mine
    assert files(folder)[beside] == theirs
    (folder / beside).unlink()
    assert lay(source, folder) == []  # offered once
    assert beside not in files(folder)


def test_two_upgrades_of_a_changed_copy(source, folder):
    (folder / "plans/demo.toml").write_text("mine")
    for version in ("second", "third"):  # the second is untouched, so the third takes its place
        (source / "plans/demo.toml").write_text(version)
        assert len(lay(source, folder)) == 1
        assert files(folder)["plans/demo.new.toml"] == version
    (folder / "plans/demo.new.toml").write_text("mine too")
    (source / "plans/demo.toml").write_text("fourth")
    assert len(lay(source, folder)) == 1
    found = files(folder)
    assert found["plans/demo.toml"] == "mine"
    assert found["plans/demo.new.toml"] == "mine too"
    assert found["plans/demo.new-2.toml"] == "fourth"


def test_a_copy_put_back_to_an_older_version_is_renewed(source, folder):
    (folder / "plans/demo.toml").write_text("mine")
    (source / "plans/demo.toml").write_text("second")
    lay(source, folder)
    (folder / "plans/demo.toml").write_text('title = "first"\n')
    assert lay(source, folder) == []
    assert files(folder)["plans/demo.toml"] == "second"


@pytest.mark.parametrize("record", [None, "", "{", "[]", '{"start.ipynb": 3}', "\udcff"])
def test_without_a_readable_record_nothing_is_overwritten(source, folder, record):
    (folder / RECORD).unlink()
    if record is not None:
        (folder / RECORD).write_bytes(record.encode(errors="surrogateescape"))
    (source / "plans/demo.toml").write_text("second")
    assert len(lay(source, folder)) == 1
    assert files(folder)["plans/demo.toml"] == 'title = "first"\n'
    assert files(folder)["plans/demo.new.toml"] == "second"


def test_a_strangers_file_of_the_same_name_is_kept(source, tmp_path):
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "start.ipynb").write_text("theirs")
    assert len(lay(source, mine)) == 1
    assert files(mine)["start.ipynb"] == "theirs"


def test_writing_leaves_the_old_file_whole_when_it_fails(tmp_path, monkeypatch):
    path = tmp_path / "a.toml"
    path.write_text("old")

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", fail)
    with pytest.raises(OSError, match="No space left"):
        write_whole(path, b"new")
    assert files(tmp_path) == {"a.toml": "old"}


@pytest.mark.parametrize(
    "changed",
    [
        notebook("1 + 2"),
        notebook("1 + 1", ""),
        notebook("1 + 1", cell_type="raw"),
        notebook("1 + 1", metadata={"tags": ["live"]}),
    ],
)
def test_fingerprint_sees_every_change_of_a_cell(changed):
    assert fingerprint("a.ipynb", changed.encode()) != fingerprint("a.ipynb", notebook("1 + 1").encode())


def test_what_is_shipped_here():
    names = [path.as_posix() for path in shipped_files(shipped())]
    assert "start.ipynb" in names
    assert any(name.startswith("plans/") for name in names)


@pytest.mark.skipif(os.name == "nt", reason="needs pipes and links")
def test_pipes_links_and_huge_records_do_not_stop_the_start(source, folder):
    (folder / "start.ipynb").unlink()
    os.mkfifo(folder / "start.ipynb")
    (folder / "plans/demo.toml").unlink()
    (folder / "plans/demo.toml").symlink_to("demo.toml")
    (folder / RECORD).unlink()
    os.mkfifo(folder / RECORD)
    with pytest.raises(OSError):  # noqa: PT011 - the record can't be written there, and that is said
        lay(source, folder)
    (folder / RECORD).unlink()
    with (folder / RECORD).open("wb") as file:
        file.truncate(10_000_000_000)
    news = lay(source, folder)
    assert (folder / RECORD).stat().st_size < 10_000
    assert not (folder / "start.ipynb").is_file()
    assert (folder / "plans/demo.toml").is_symlink()
    assert {"start.new.ipynb", "demo.new.toml"} <= {path.name for path in folder.rglob("*")}
    assert len(news) == 2


def test_a_deeply_nested_record_counts_as_none(source, folder):
    (folder / RECORD).write_text("[" * 100_000)
    lay(source, folder)
    assert json.loads((folder / RECORD).read_text())
