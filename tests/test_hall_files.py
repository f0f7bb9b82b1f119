"""What the hall writes goes through the one safe writer: a full disk or a killed hall leaves the old file or none."""

import ast
import errno
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import workbook.hall
from expocalc.base.wholefile import write_file
from workbook.hall import stick
from workbook.hall.evening import RUNNING, START, Evening
from workbook.hall.static import lay_pages

RAW = {"write_text", "write_bytes", "copyfile", "copy2", "copy", "copytree", "move", "dump", "save", "savetxt"}
SAVER = """
import sys
from pathlib import Path
from workbook.hall.evening import Evening
home = Path(sys.argv[1])
evening = Evening.at(home)
print("ready", flush=True)
while True:
    evening.claim()
    evening._furnish(home / "guests" / "one")
"""


@pytest.fixture
def disk_full(monkeypatch):
    """Function after which the disk takes no more."""

    def full(_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    return lambda: monkeypatch.setattr("os.fsync", full)


def files(folder):
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_nothing_in_the_hall_writes_past_the_safe_writer():
    folder = Path(workbook.hall.__path__[0])
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                called, owner = node.func.attr, ast.unparse(node.func.value)
                raw = called in RAW and owner not in ("copy", "json")
                assert not raw, f"{path.name}:{node.lineno} writes by {owner}.{called}"
                if called == "ZipFile" and len(node.args) > 1:
                    assert ast.unparse(node.args[0]) in ("file", "packed"), f"{path.name}:{node.lineno} zips to a file"
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "open":
                assert len(node.args) < 2, f"{path.name}:{node.lineno} opens for more than reading"


def test_on_a_full_disk_no_guest_comes_in_and_no_half_plan_lies_there(tmp_path, disk_full):
    evening = Evening.at(tmp_path)
    evening.claim()
    (tmp_path / RUNNING).write_text("1")
    before = files(tmp_path)
    disk_full()
    with pytest.raises(OSError, match="space"):
        evening.join()
    with pytest.raises(OSError, match="space"):
        evening.claim()
    assert files(tmp_path) == before
    assert not evening.guests


def test_on_a_full_disk_pages_stay_as_they_were(tmp_path, disk_full):
    (tmp_path / "start.html").write_text("yesterday's")
    disk_full()
    with pytest.raises(OSError, match="space"):
        lay_pages(tmp_path, [START])
    assert files(tmp_path) == {"start.html": b"yesterday's"}


def test_a_stick_that_is_full_keeps_each_file_whole(tmp_path, monkeypatch):
    """The third file that is copied finds no room."""
    target = tmp_path / "stick"
    (target / "papers").mkdir(parents=True)
    (target / "papers" / "one.html").write_text("old")

    def papers(draft):
        (draft / "papers" / "one.html").write_text("new")

    monkeypatch.setattr(stick, "own_wheel", lambda folder: folder)
    monkeypatch.setattr(stick, "fetch", lambda *_: "")
    monkeypatch.setattr(stick, "build", lambda _: None)
    monkeypatch.setattr(stick, "_papers", papers)
    fsync = os.fsync

    def full(handle):
        if str(target) in os.readlink(f"/proc/self/fd/{handle}"):
            copied.append(handle)
            if len(copied) > 2 and os.path.isfile(f"/proc/self/fd/{handle}"):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        fsync(handle)

    copied = []
    if not Path("/proc/self/fd").is_dir():
        pytest.skip("asks the system which file is brought to the disk")
    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="space"):
        stick.fill(target, ["linux"], ["3.12"])
    monkeypatch.undo()
    left = files(target)
    assert left["papers/one.html"] == b"old"
    assert 1 <= len(left) < 8
    assert all(content for content in left.values())
    assert not [name for name in left if name.endswith(".draft")]


@pytest.mark.skipif(os.name == "nt", reason="needs signals")
def test_a_killed_hall_leaves_whole_files(tmp_path):
    evening = Evening.at(tmp_path)
    evening._furnish(tmp_path / "shipped")
    whole = {path.name: path.read_bytes() for path in (tmp_path / "shipped" / "plans").iterdir()}
    for delay in range(4):
        saver = subprocess.Popen([sys.executable, "-c", SAVER, str(tmp_path)], stdout=subprocess.PIPE)
        assert saver.stdout.readline() == b"ready\n"
        while not (tmp_path / "guests" / "one" / "plans").is_dir():
            assert saver.poll() is None
        for _ in range(3 * delay):  # a few saves more each time
            write_file(tmp_path / "elsewhere", b"x" * 100_000)
        saver.send_signal(signal.SIGKILL)
        saver.communicate()
        for path in (tmp_path / "guests" / "one" / "plans").glob("[!.]*"):
            assert path.read_bytes() == whole[path.name]
        if (tmp_path / RUNNING).exists():
            assert (tmp_path / RUNNING).read_text() == str(saver.pid)
        shutil.rmtree(tmp_path / "guests")
