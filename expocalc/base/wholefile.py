"""Files that are written whole or not at all.

A new version is written beside the file as a draft, brought to the disk, and then takes the file's name in one step:
whoever reads meanwhile sees the old one or the new one. A saver that was killed leaves its draft; the next one that
saves in the same folder removes it.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import stat
import time
from collections.abc import Iterator
from pathlib import Path

__all__ = ["write_file", "write_new"]

_DRAFT = ".draft"
_DRAFT_NAME = re.compile(r"\..+\.(\d+)\.[0-9a-f]{8}\.draft", re.S)
"""Name of the file, number of the saver's process, a number drawn at random."""
_OLD_S = 600.0
"""A draft that nobody touched for so long has no saver any more. [s]"""


def write_file(path: str | Path, data: bytes) -> None:
    """Write a file whole or not at all; its mode stays, and a link to it stays a link.

    Parameters
    ----------
    path : str or pathlib.Path
        Its folder is there.
    data : bytes

    Raises
    ------
    OSError
        If it can't be written; what was there stays.
    ValueError
        If no path can look like that.
    """
    target = _target(path)
    mode = _mode(target)
    if mode is not None and not os.access(target, os.W_OK):
        raise PermissionError(errno.EACCES, "it is read-only")
    with _draft(target, data, mode) as draft:
        os.replace(draft, target)


def write_new(path: str | Path, data: bytes) -> None:
    """Write a file whole where none stands; two writers of one name get one file, and the other one an error.

    Parameters
    ----------
    path : str or pathlib.Path
    data : bytes

    Raises
    ------
    FileExistsError
        If something stands there.
    OSError, ValueError
        As :func:`write_file`.
    """
    target = Path(path)
    if os.path.lexists(target):
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
    with _draft(target, data, None) as draft:
        _name_new(draft, target)


def _name_new(draft: Path, target: Path) -> None:
    if os.name == "nt":
        os.rename(draft, target)  # refuses a taken name there
        return
    try:
        os.link(draft, target)
    except FileExistsError:
        raise
    except OSError:  # a stick's file system knows no second name of a file
        with open(target, "xb"):
            pass
        os.replace(draft, target)
    else:
        draft.unlink()


def _target(path: str | Path) -> Path:
    """The file that a link leads to; OSError where links lead in a circle."""
    target = Path(os.path.realpath(path))
    if target.is_symlink():
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP))
    return target


def _mode(target: Path) -> int | None:
    """Mode of a file that stands there; what is no file is refused, so that no pipe or device is replaced."""
    try:
        found = os.stat(target)
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(found.st_mode):
        raise OSError(errno.EINVAL, "it is not a file")
    return stat.S_IMODE(found.st_mode)


@contextlib.contextmanager
def _draft(target: Path, data: bytes, mode: int | None) -> Iterator[Path]:
    """The data on the disk under a draft's name, which is gone at the end."""
    _remove_dead_drafts(target.parent)
    # A long name leaves no room for more: the draft's may be cut, it only has to be another one.
    draft = target.with_name(f".{target.name[:100]}.{os.getpid()}.{os.urandom(4).hex()}{_DRAFT}")
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            if mode is not None:
                os.chmod(draft, mode)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        yield draft
        _sync_folder(target.parent)
    finally:
        with contextlib.suppress(FileNotFoundError):
            draft.unlink()


def _sync_folder(folder: Path) -> None:
    """Bring the new name to the disk too, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _remove_dead_drafts(folder: Path) -> None:
    """Of any file: the next save may be under another name."""
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            draft = _DRAFT_NAME.fullmatch(entry.name)
            if draft and _dead(entry, draft[1]):
                with contextlib.suppress(OSError):
                    os.unlink(entry)


def _dead(draft: os.DirEntry[str], process: str) -> bool:
    if time.time() - draft.stat(follow_symlinks=False).st_mtime > _OLD_S:
        return True
    if os.name == "nt":  # there a question whether a process lives would end it
        return False
    try:
        os.kill(int(process), 0)
    except ProcessLookupError:
        return True
    except (OSError, OverflowError):
        return False
    return False
