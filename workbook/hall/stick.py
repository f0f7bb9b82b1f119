"""``python -m workbook stick FOLDER``: all that an evening without any network needs, on one USB stick.

Sticks carry FAT or exFAT, which know no links and no rights, so everything is made in a folder of this machine first
and its bytes are copied. Python's own environment lies on the laptop, never on the stick.
"""

from __future__ import annotations

import argparse
import platform
import sys
import tempfile
from pathlib import Path

from expocalc.base.wholefile import write_file
from workbook.copies import write_whole
from workbook.hall.evening import LESSONS, PANELS, START
from workbook.hall.wheels import PLATFORMS, PYTHONS, fetch, own_wheel
from workbook.workshop.handout import PAPERS, handout
from workbook.workshop.students import build

__all__ = ["fill", "main"]

_POSIX = """#!/bin/sh
# {what}
cd "$(dirname "$0")" || exit 1
home="${{EXPOCALC_HOME:-$HOME/expocalc-evening}}"
python="${{PYTHON:-python3}}"
if ! "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
  echo "This needs Python 3.11 or later. Without it, open the folder pages in a browser."; exit 2
fi
if [ ! -x "$home/python/bin/python" ] || ! "$home/python/bin/python" -c 'import workbook' 2>/dev/null; then
  echo "Installing into $home, once; this takes a minute."
  "$python" -m venv "$home/python" || exit 2
  "$home/python/bin/python" -m pip install --quiet --disable-pip-version-check --no-index --find-links wheels \
    expocalc || exit 2
fi
{copies}cd "$home" && exec "$home/python/bin/python" -m workbook {words} "$@"
"""
# "||" and "&&" see every exit code; "if errorlevel 1" would take a crash, whose code is below 0, for success.
_WINDOWS = """@echo off
rem {what}
cd /d "%~dp0"
if not defined EXPOCALC_HOME set "EXPOCALC_HOME=%USERPROFILE%\\expocalc-evening"
set "OURS=%EXPOCALC_HOME%\\python\\Scripts\\python.exe"
set "PYTHON=py -3"
%PYTHON% -c "import sys; sys.exit(sys.version_info < (3, 11))" 2>nul && goto found
set "PYTHON=python"
%PYTHON% -c "import sys; sys.exit(sys.version_info < (3, 11))" 2>nul && goto found
echo This needs Python 3.11 or later. Without it, open the folder pages in a browser.
pause
exit /b 2
:found
"%OURS%" -c "import workbook" 2>nul && goto ready
echo Installing into "%EXPOCALC_HOME%", once; this takes a minute.
%PYTHON% -m venv "%EXPOCALC_HOME%\\python" || goto failed
"%OURS%" -m pip install --quiet --disable-pip-version-check --no-index --find-links wheels expocalc || goto failed
:ready
{copies}cd /d "%EXPOCALC_HOME%"
"%OURS%" -m workbook {words} %*
pause
exit /b 0
:failed
echo It could not be installed. The lines above say why.
pause
exit /b 2
"""
# What a visitor typed yesterday is not written over, and what was copied in half is not taken for the whole.
_POSIX_COPIES = """if [ ! -d "$home/lessons" ]; then
  mkdir -p "$home/lessons.part" && cp -R lessons/. "$home/lessons.part" &&
    mv "$home/lessons.part" "$home/lessons" || exit 2
fi
"""
_WINDOWS_COPIES = """if exist "%EXPOCALC_HOME%\\lessons" goto there
xcopy /e /i /q /y lessons "%EXPOCALC_HOME%\\lessons.part" || goto failed
ren "%EXPOCALC_HOME%\\lessons.part" lessons || goto failed
:there
"""
_STARTS = {
    "visitor": ("Opens the lessons on this laptop.", "lessons", True),
    "hall": ("Opens the hall: one laptop serves everybody.", "hall evening", False),
}
_README = """EXPOCALC: THE STICK FOR AN EVENING WITHOUT A NETWORK

The leader's laptop: double-click hall-windows.bat, hall-mac.command or hall-linux.sh. The window says where guests
come in. They need a browser and nothing from this stick.

A visitor's own laptop: double-click start-windows.bat, start-mac.command or start-linux.sh. Python {oldest} or later
has to be there (python.org has it). The first start installs into the folder expocalc-evening at home, and asks no
network.
If a double-click opens an editor, type in a terminal, in this folder: sh start-linux.sh

No Python at all: open pages/start.html in any browser.

wheels    the program, for: {machines}
lessons   the visitors' copies, answers taken out
pages     the lessons to read without Python
papers    the handout, to print, and the guide for whoever leads
{news}"""


def fill(folder: Path, platforms: list[str], pythons: list[str]) -> list[str]:
    """Fill a stick.

    Parameters
    ----------
    folder : pathlib.Path
        The stick, or any folder; files of the same names are written anew.
    platforms : list of str
        Of `PLATFORMS`.
    pythons : list of str
        Of `PYTHONS`.

    Returns
    -------
    list of str
        One sentence for each machine whose wheels could not be had.

    Raises
    ------
    OSError
        If something can't be fetched or written.
    """
    folder = folder.resolve()
    with tempfile.TemporaryDirectory(prefix="stick-") as place:
        draft = Path(place)
        for name in ("wheels", "pages", "papers"):
            (draft / name).mkdir()
        ours = own_wheel(draft / "wheels")
        missing = {(one, python): fetch(draft / "wheels", ours, one, python) for one in platforms for python in pythons}
        if all(missing.values()):
            raise OSError(None, "no wheels could be fetched: " + next(iter(missing.values())))
        machines = ", ".join(f"{one} with Python {python}" for (one, python), trouble in missing.items() if not trouble)
        news = [trouble for trouble in missing.values() if trouble]
        build(draft / "lessons")
        _papers(draft)
        _starts(draft)
        text = _README.format(oldest=PYTHONS[0], machines=machines, news="".join(f"\n{one}" for one in news))
        write_file(draft / "READ-ME-FIRST.txt", text.replace("\n", "\r\n").encode())
        for path in sorted(draft.rglob("*")):
            target = folder / path.relative_to(draft)
            if path.is_file():
                write_whole(target, path.read_bytes())
    return news


def _papers(draft: Path) -> None:
    from workbook.hall.static import lay_pages

    for paper in PAPERS:
        write_file(draft / "papers" / f"handout-{paper}.html", handout(paper).encode())
    lay_pages(draft / "pages", [START, *LESSONS, *PANELS])
    lay_pages(draft / "papers", ["workshop/guide.ipynb"])


def _starts(draft: Path) -> None:
    for name, (what, words, lays) in _STARTS.items():
        stem = "hall" if name == "hall" else "start"
        script = _POSIX.format(what=what, words=words, copies=_POSIX_COPIES if lays else "")
        write_file(draft / f"{stem}-linux.sh", script.encode())
        write_file(draft / f"{stem}-mac.command", script.encode())
        script = _WINDOWS.format(what=what, words=words, copies=_WINDOWS_COPIES if lays else "")
        write_file(draft / f"{stem}-windows.bat", script.replace("\n", "\r\n").encode())


def main(argv: list[str]) -> int:
    """Fill the stick that was named.

    Parameters
    ----------
    argv : list of str
        "stick", and the words after it.

    Returns
    -------
    int
        Exit code: 0, or 2 with one sentence.
    """
    parser = argparse.ArgumentParser(
        prog="workbook stick", description="Fill a USB stick for an evening without a network."
    )
    parser.add_argument("folder", type=Path, help="the stick")
    parser.add_argument(
        "--platform", action="append", choices=PLATFORMS, help="machines to serve; without it all of them"
    )
    parser.add_argument("--python", action="append", choices=PYTHONS, help="versions to serve; without it all of them")
    asked = parser.parse_args(argv[1:])
    folder = asked.folder.expanduser()
    print(f"Filling {folder}; this fetches some 100 MB for each machine.", flush=True)
    try:
        news = fill(folder, asked.platform or list(PLATFORMS), asked.python or list(PYTHONS))
    except (OSError, ValueError) as error:
        print(f"workbook: can't fill {folder} ({getattr(error, 'strerror', None) or error})", file=sys.stderr)
        return 2
    print(*news, f"The stick is ready: {folder}. Read READ-ME-FIRST.txt on it.", sep="\n")
    return 0


def this_machine() -> tuple[str, str]:
    """Platform and Python that run here."""
    system = {"Linux": "linux", "Windows": "windows", "Darwin": "mac"}[platform.system()]
    return system, f"{sys.version_info[0]}.{sys.version_info[1]}"
