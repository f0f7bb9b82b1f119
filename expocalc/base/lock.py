"""One writer at a time in a folder, among all programs that ask so."""

from __future__ import annotations

import contextlib
import errno
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path

__all__ = ["LOCK", "locked"]

LOCK = ".expocalc.lock"
_WAIT_S = 10.0
_BUSY = (errno.EACCES, errno.EAGAIN, errno.EDEADLK)
_NO_LOCKS = (errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP)


@contextlib.contextmanager
def locked(folder: str | Path) -> Iterator[None]:
    """Be the only one who writes files of a folder, among all that ask so.

    A killed process loses its lock by itself. A file system without locks gives none, and no error.

    Parameters
    ----------
    folder : str or pathlib.Path

    Raises
    ------
    OSError
        If it can't be written there, or another one holds on for more than 10 s.
    """
    take, give_back = (_take_windows, _give_back_windows) if _windows() else (_take, _give_back)
    with open(Path(folder) / LOCK, "ab") as file:
        end = time.monotonic() + _WAIT_S
        while not _got(take, file.fileno()):
            if time.monotonic() > end:
                raise TimeoutError(errno.ETIMEDOUT, "another program keeps writing there")
            time.sleep(0.005)
        try:
            yield
        finally:
            with contextlib.suppress(OSError):
                give_back(file.fileno())


def _windows() -> bool:
    return os.name == "nt"


def _got(take: Callable[[int], None], handle: int) -> bool:
    """Whether the lock was free, and is ours now."""
    try:
        take(handle)
    except OSError as error:
        if error.errno in _NO_LOCKS:
            return True
        if error.errno in _BUSY:
            return False
        raise
    return True


def _take(handle: int) -> None:
    import fcntl

    fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _give_back(handle: int) -> None:
    import fcntl

    fcntl.flock(handle, fcntl.LOCK_UN)


# There the first byte of the file is locked, which need not exist.


def _take_windows(handle: int) -> None:
    import msvcrt

    os.lseek(handle, 0, os.SEEK_SET)
    msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]


def _give_back_windows(handle: int) -> None:
    import msvcrt

    os.lseek(handle, 0, os.SEEK_SET)
    msvcrt.locking(handle, msvcrt.LK_UNLCK, 1)  # type: ignore[attr-defined,unused-ignore]
