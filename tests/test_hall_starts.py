"""The files that are double-clicked: the shell's ones are run, that of Windows is read by the rules it keeps to."""

import os
import re
import stat
import subprocess
from pathlib import PureWindowsPath

import pytest

from workbook.hall.stick import _starts

LESSONS, HALL = ("start", "lessons"), ("hall", "hall evening")


@pytest.fixture
def stick(tmp_path):
    """A stick without wheels, in a folder whose name has a space."""
    folder = tmp_path / "my stick"
    (folder / "lessons").mkdir(parents=True)
    (folder / "lessons" / "1.ipynb").write_text("fresh")
    _starts(folder)
    return folder


# Linux and mac


FAKE = """#!/bin/sh
echo "$@" >> "{log}"
case "$*" in
*version_info*) exit {old} ;;
*"import workbook"*) exit 0 ;;
*venv*) mkdir -p "$3/bin" && cp "$0" "$3/bin/python" ;;
*"pip install"*) exit {pip} ;;
esac
"""


@pytest.fixture
def start(stick, tmp_path):
    """Function that runs a start file with a Python that writes down what it was asked: lines and exit code out."""

    def run(name="start-linux.sh", old=0, pip=0):
        log = tmp_path / "asked"
        log.write_text("")
        python = tmp_path / "fake python"
        python.write_text(FAKE.format(log=log, old=old, pip=pip))
        python.chmod(python.stat().st_mode | stat.S_IXUSR)
        home = tmp_path / "home of (mine)"
        told = os.environ | {"PYTHON": str(python), "EXPOCALC_HOME": str(home)}
        done = subprocess.run(["sh", str(stick / name)], env=told, cwd="/", capture_output=True, text=True, check=False)
        return done.returncode, log.read_text().splitlines(), done.stdout, home

    return run


posix = pytest.mark.skipif(os.name != "posix", reason="a shell's file")


@posix
@pytest.mark.parametrize("name", ["start-linux.sh", "start-mac.command"])
def test_the_first_start_installs_and_the_next_one_does_not(start, name):
    code, asked, said, home = start(name)
    assert code == 0
    assert "Installing into" in said
    assert [line.split()[1] for line in asked if line.startswith("-m")] == ["venv", "pip", "workbook"]
    assert "--no-index --find-links wheels expocalc" in next(line for line in asked if "pip" in line)
    assert asked[-1] == "-m workbook lessons"
    (home / "lessons" / "1.ipynb").write_text("typed yesterday")
    code, asked, said, _ = start(name)
    assert (code, said) == (0, "")
    assert not any("pip" in line or "venv" in line for line in asked)
    assert (home / "lessons" / "1.ipynb").read_text() == "typed yesterday"


@posix
def test_an_old_python_is_told_in_a_sentence_and_nothing_is_installed(start):
    code, asked, said, home = start(old=1)
    assert code == 2
    assert said == "This needs Python 3.11 or later. Without it, open the folder pages in a browser.\n"
    assert len(asked) == 1
    assert not home.exists()


@posix
def test_lessons_that_were_copied_in_half_are_copied_again(start):
    _, _, _, home = start()
    for path in (home / "lessons").iterdir():
        path.unlink()
    (home / "lessons").rename(home / "lessons.part")  # as an end in the midst of copying leaves them
    code, _, _, _ = start()
    assert code == 0
    assert (home / "lessons" / "1.ipynb").read_text() == "fresh"
    assert not (home / "lessons.part").exists()


@posix
def test_a_failed_installation_starts_nothing(start):
    code, asked, _, _ = start(pip=1)
    assert code == 2
    assert "pip" in asked[-1]


# Windows


class Batch:
    """As much of Windows' command language as our files may use; anything else is refused."""

    def __init__(self, text, answers, folders=()):
        self.lines, self.answers, self.folders = text.split("\r\n"), answers, set(folders)
        self.names = {"USERPROFILE": r"C:\Users\Ann (club)"}
        self.said, self.asked, self.error = [], [], 0

    def run(self):
        """Exit code."""
        labels = {line[1:]: at for at, line in enumerate(self.lines) if line.startswith(":")}
        at = 0
        while at < len(self.lines):
            line, at = self.lines[at], at + 1
            if line and not line.startswith(":"):
                done = self.step(re.sub(r"%(\w+)%", lambda name: self.names[name[1]], line))
                if isinstance(done, int):
                    return done
                at = labels[done] if done else at
        return self.error

    def step(self, line):
        """One line: a label to go to, an exit code, or None to go on."""
        if found := re.fullmatch(r"(.+) (&&|\|\|) goto (\w+)", line):
            self.step(found[1])
            return found[3] if (self.error == 0) == (found[2] == "&&") else None
        if found := re.fullmatch(r"if not defined (\w+) (.+)", line):
            return self.step(found[2]) if found[1] not in self.names else None
        if found := re.fullmatch(r'if exist "([^"]+)" (.+)', line):
            return self.step(found[2]) if found[1] in self.folders else None
        if found := re.fullmatch(r'set "(\w+)=([^"]*)"', line):
            self.names[found[1]] = found[2]
        elif found := re.fullmatch(r"goto (\w+)", line):
            return found[1]
        elif found := re.fullmatch(r"exit /b (\d)", line):
            return int(found[1])
        elif found := re.fullmatch(r'echo ([^()&|<>^%]*("[^"]*"[^()&|<>^%]*)?)', line):
            self.said.append(found[1])
        elif line != "@echo off" and line != "pause" and not re.match(r'rem |cd /d "', line):
            # a program: outside its quotes nothing that the command language would take for its own
            assert re.fullmatch(r'(py -3|python|xcopy|ren|"[^"]+\.exe")( "[^"]*"| [\w/.*%-]+)*( 2>nul)?', line), line
            self.asked.append(line)
            self.error = next((code for words, code in self.answers.items() if words in line), 0)
        return None


def windows(stick, name, answers, **more):
    batch = Batch((stick / f"{name}-windows.bat").read_bytes().decode("ascii"), answers, **more)
    return batch.run(), batch


@pytest.mark.parametrize(("name", "words"), [LESSONS, HALL])
def test_windows_first_start_installs_and_then_opens(stick, name, words):
    code, batch = windows(stick, name, {"import workbook": 1})
    assert code == 0
    home = r"C:\Users\Ann (club)\expocalc-evening"
    assert batch.said == [f'Installing into "{home}", once; this takes a minute.']
    kinds = [re.search(r"-m (\w+)|(xcopy|ren)|-c", line) for line in batch.asked]
    copies = ["xcopy", "ren"] if name == "start" else []
    assert [one[1] or one[2] for one in kinds if one[1] or one[2]] == ["venv", "pip", *copies, "workbook"]
    assert batch.asked[-1] == rf'"{home}\python\Scripts\python.exe" -m workbook {words} %*'


def test_windows_next_start_only_opens_and_spares_what_was_typed(stick):
    lessons = r"C:\Users\Ann (club)\expocalc-evening\lessons"
    code, batch = windows(stick, "start", {}, folders=[lessons])
    assert code == 0
    assert not any("pip" in line or "venv" in line or "xcopy" in line for line in batch.asked)


@pytest.mark.parametrize(
    ("answers", "sentence"),
    [
        ({"version_info": 9009}, "This needs Python 3.11 or later"),
        ({"import workbook": 1, "-m venv": 1}, "It could not be installed"),
        ({"import workbook": 1, "pip install": 1}, "It could not be installed"),
        ({"import workbook": 1, "-m venv": -1073741819}, "It could not be installed"),  # it crashed
        ({"xcopy": 4}, "It could not be installed"),  # no room
        ({"ren ": 1}, "It could not be installed"),
    ],
)
def test_windows_says_in_a_sentence_what_does_not_work(stick, answers, sentence):
    code, batch = windows(stick, "start", answers)
    assert code == 2
    assert batch.said[-1].startswith(sentence)
    assert not any("-m workbook" in line for line in batch.asked)


def test_windows_takes_python_where_there_is_no_launcher(stick):
    code, batch = windows(stick, "start", {"py -3": 9009, "import workbook": 1})
    assert code == 0
    assert any(line.startswith("python -m venv") for line in batch.asked)


def test_every_line_ends_as_its_system_wants_it_and_every_name_suits_fat(stick):
    for path in stick.glob("*-*"):
        text = path.read_bytes()
        assert text.isascii()
        assert (b"\r" in text) == (path.suffix == ".bat")
        if path.suffix == ".bat":
            assert text.count(b"\n") == text.count(b"\r\n")
        assert not PureWindowsPath(path.name).is_reserved()
        assert not set('<>:"|?*\\') & set(path.name)
