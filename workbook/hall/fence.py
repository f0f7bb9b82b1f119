"""A guest's kernel opens files in the guest's folder, and otherwise reads only what Python is made of.

Guests type into boxes and run no code, so this is the second lock on the door: whatever a box makes of a typed name,
no other guest's folder, and nothing else on the leader's laptop, is read, listed or written through it.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

__all__ = ["fence"]

# What Python's own audit says when a file or folder is touched; the paths are its first words.
_ONE = {"open", "os.listdir", "os.scandir", "os.remove", "os.mkdir", "os.rmdir", "os.chmod", "os.truncate"}
_TWO = {"os.rename", "os.link", "os.symlink", "shutil.move", "shutil.copyfile"}
_NEVER = {"subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.startfile"}
_home: list[Path] = []
_closed: list[Path] = []


def fence(home: str | os.PathLike[str], closed: str | os.PathLike[str] | None = None) -> None:
    """Let this process touch files in `home` alone, from now on; a later call moves the fence.

    Parameters
    ----------
    home : str or path
        The guest's folder.
    closed : str or path, optional
        The leader's folder around it, of which nothing else is read, even if it lies among Python's own.

    Notes
    -----
    Reading stays allowed where Python and its packages lie.
    """
    first = not _home
    _home[:] = [Path(home).resolve()]
    _closed[:] = [] if closed is None else [Path(closed).resolve()]
    if first:
        import workbook

        package = Path(workbook.__file__).resolve().parent
        reads = [
            Path(folder).resolve() for folder in (sys.prefix, sys.base_prefix, os.__file__ + "/..", *sys.path) if folder
        ]
        reads += [package, package.parent / "expocalc", package.parent / "notebooks"]
        shared = [Path(p) for p in ("/dev", "/proc/self", "/etc/localtime", "/usr/share/zoneinfo") if os.path.exists(p)]
        sys.addaudithook(_guard([*reads, *shared]))


def _guard(reads: list[Path]) -> Any:
    def look(event: str, given: tuple[Any, ...]) -> None:
        if event in _NEVER:
            msg = "a guest's page starts no other program"
            raise PermissionError(msg)
        if event in _ONE:
            writes = event not in ("open", "os.listdir", "os.scandir") or (event == "open" and _writes(given))
            _check(given[0], writes)
        elif event in _TWO:
            _check(given[0], writes=True)
            _check(given[1], writes=True)

    def _check(place: Any, writes: bool) -> None:
        if not isinstance(place, str | bytes | os.PathLike):
            return  # an open file's number
        path = Path(os.path.realpath(os.fsdecode(place)))
        if path.is_relative_to(_home[0]):
            return
        inside = any(path.is_relative_to(folder) for folder in _closed)
        if not writes and not inside and any(path.is_relative_to(folder) for folder in reads):
            return
        msg = f"{os.path.basename(os.fsdecode(place))!r} lies outside your own folder"
        raise PermissionError(13, msg)

    return look


def _writes(given: tuple[Any, ...]) -> bool:
    mode, flags = given[1], given[2]
    if isinstance(mode, str):
        return any(letter in mode for letter in "wax+")
    return bool(isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC))
