"""Files are written whole or not at all, by one writer at a time, and dead savers leave nothing for long."""

import os
import signal
import stat
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from expocalc.base.lock import LOCK, locked
from expocalc.base.wholefile import write_file, write_new

POSIX = pytest.mark.skipif(os.name == "nt", reason="needs a system with signals, modes and links")
SAVER = """
import sys
from expocalc.base.wholefile import write_file
print("ready", flush=True)
while True:
    for sign in b"ab":
        write_file(sys.argv[1], bytes([sign]) * 3_000_000)
"""
COUNTER = """
import sys
from pathlib import Path
from expocalc.base.lock import locked
from expocalc.base.wholefile import write_file
path = Path(sys.argv[1])
for _ in range(50):
    with locked(path.parent):
        write_file(path, str(int(path.read_text()) + 1).encode())
"""


def names(folder):
    return {path.name for path in folder.iterdir()}


def test_a_file_is_written_and_nothing_else_stays(tmp_path):
    write_file(tmp_path / "a", b"one")
    write_file(tmp_path / "a", b"two")
    assert (tmp_path / "a").read_bytes() == b"two"
    assert names(tmp_path) == {"a"}


@POSIX
def test_mode_and_link_stay(tmp_path):
    (tmp_path / "a").write_bytes(b"")
    (tmp_path / "a").chmod(0o640)
    (tmp_path / "link").symlink_to("a")
    write_file(tmp_path / "link", b"new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "a").read_bytes() == b"new"
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o640


@POSIX
def test_a_new_file_is_as_private_as_the_user_wants(tmp_path):
    before = os.umask(0o077)
    try:
        write_file(tmp_path / "a", b"")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o600


@POSIX
def test_a_pipe_a_folder_and_a_circle_of_links_are_refused(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    (tmp_path / "circle").symlink_to("circle")
    before = names(tmp_path)
    for name in before:
        with pytest.raises(OSError):  # noqa: PT011 - any reason of the system's will do
            write_file(tmp_path / name, b"new")
    assert names(tmp_path) == before


def test_a_full_disk_leaves_what_was_there(tmp_path, monkeypatch):
    def full(_):
        raise OSError(28, "No space left on device")

    write_file(tmp_path / "a", b"old")
    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_file(tmp_path / "a", b"new")
    with pytest.raises(OSError, match="No space"):
        write_new(tmp_path / "b", b"new")
    assert (tmp_path / "a").read_bytes() == b"old"
    assert names(tmp_path) == {"a"}


def test_the_longest_name_can_be_written(tmp_path):
    write_file(tmp_path / ("n" * 255), b"")


def test_a_new_file_replaces_nothing(tmp_path):
    write_new(tmp_path / "a", b"one")
    with pytest.raises(FileExistsError):
        write_new(tmp_path / "a", b"two")
    assert (tmp_path / "a").read_bytes() == b"one"
    assert names(tmp_path) == {"a"}


@POSIX
def test_without_hard_links_a_new_file_replaces_nothing_either(tmp_path, monkeypatch):
    def none(*_):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", none)
    test_a_new_file_replaces_nothing(tmp_path)


def test_of_two_that_want_one_name_one_gets_it(tmp_path):
    start = threading.Barrier(8)

    def write(number):
        start.wait()
        try:
            write_new(tmp_path / "a", bytes([number]))
        except FileExistsError:
            return 0
        return 1

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(write, range(8))) == 1
    assert names(tmp_path) == {"a"}


@POSIX
def test_a_killed_saver_leaves_a_whole_file_and_its_draft_goes(tmp_path):
    path = tmp_path / "a"
    write_file(path, b"a" * 3_000_000)
    saver = None
    drafts = 0
    for number in range(20):
        saver = subprocess.Popen([sys.executable, "-c", SAVER, path], stdout=subprocess.PIPE)
        assert saver.stdout.readline() == b"ready\n"
        time.sleep(0.002 * number)
        saver.send_signal(signal.SIGKILL)
        saver.wait()
        saver.stdout.close()
        drafts += len(names(tmp_path)) > 1
        assert set(path.read_bytes()) in ({97}, {98})
        assert path.stat().st_size == 3_000_000
    write_file(path, b"end")
    assert names(tmp_path) == {"a"}
    assert drafts, "no kill hit a saver in the middle, so the check of drafts says nothing"


def test_a_living_savers_draft_stays_and_strange_files_too(tmp_path):
    others = {f".a.{os.getpid()}.12345678.draft", ".a.x.1.draft", ".ab.999999999.1.draft", ".a.draft"}
    for name in others:
        (tmp_path / name).write_bytes(b"")
    write_file(tmp_path / "a", b"")
    assert names(tmp_path) == others | {"a"}


def test_an_old_draft_goes_whoever_has_the_number_now(tmp_path):
    draft = tmp_path / f".a.{os.getpid()}.12345678.draft"
    draft.write_bytes(b"")
    os.utime(draft, (0, 0))
    write_file(tmp_path / "a", b"")
    assert names(tmp_path) == {"a"}


def test_writers_with_a_lock_lose_nothing(tmp_path):
    path = tmp_path / "count"
    path.write_text("0")
    for writer in [subprocess.Popen([sys.executable, "-c", COUNTER, path]) for _ in range(3)]:
        assert writer.wait(60) == 0
    assert path.read_text() == "150"


def test_a_lock_that_is_never_given_back_ends_in_an_error(tmp_path, monkeypatch):
    monkeypatch.setattr("expocalc.base.lock._WAIT_S", 0.05)
    with locked(tmp_path), pytest.raises(TimeoutError), locked(tmp_path):
        pass
    with locked(tmp_path):
        assert names(tmp_path) == {LOCK}


def test_a_file_system_without_locks_still_takes_files(tmp_path, monkeypatch):
    if os.name == "nt":
        pytest.skip("needs flock")
    import fcntl

    def none(*_):
        raise OSError(37, "No locks available")

    monkeypatch.setattr(fcntl, "flock", none)
    with locked(tmp_path):
        write_file(Path(tmp_path) / "a", b"")


class Msvcrt:
    """The locks of Windows on a system without them: of the bytes of open files, refused at once where taken."""

    LK_NBLCK, LK_UNLCK = 2, 0

    def __init__(self):
        self.taken, self.refused = set(), 0

    def locking(self, handle, what, count):
        assert os.lseek(handle, 0, os.SEEK_CUR) == 0, "another byte is locked than the others ask for"
        assert count == 1
        key = os.fstat(handle).st_ino
        if what == self.LK_UNLCK:
            self.taken.remove(key)
            return
        if key in self.taken:
            self.refused += 1
            raise PermissionError(13, "Permission denied")
        self.taken.add(key)


def test_the_locks_of_windows_are_asked_for_as_they_want_it(tmp_path, monkeypatch):
    system = Msvcrt()
    monkeypatch.setitem(sys.modules, "msvcrt", system)
    monkeypatch.setattr("expocalc.base.lock._windows", lambda: True)
    path = tmp_path / "count"
    path.write_text("0")
    start = threading.Barrier(4)

    def count(_):
        start.wait()
        for _ in range(10):
            with locked(tmp_path):
                number = int(path.read_text())
                time.sleep(0.001)
                write_file(path, str(number + 1).encode())

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(count, range(4)))
    assert path.read_text() == "40"
    assert system.refused, "nobody had to wait, so the check says nothing"
    assert not system.taken
    monkeypatch.setattr("expocalc.base.lock._WAIT_S", 0.02)
    with locked(tmp_path), pytest.raises(TimeoutError), locked(tmp_path):
        pass
    assert not system.taken
