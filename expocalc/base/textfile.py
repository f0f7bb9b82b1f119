"""Text files of people: read whole, within a size, and never while another program writes them."""

from __future__ import annotations

import os
import stat
from pathlib import Path

__all__ = ["read_text"]


def read_text(path: Path, largest_bytes: int) -> str:
    """Text of a file in UTF-8.

    Parameters
    ----------
    path : pathlib.Path
    largest_bytes : int
        Larger files are refused unread.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        With one sentence, if it can't be read, is no file (a pipe, a device), is too large, is no text, or changes
        while it is read.
    """
    try:
        with open(path, "rb", opener=_open_now) as file:
            before = os.fstat(file.fileno())
            regular = stat.S_ISREG(before.st_mode)
            # one byte more than the file had shows whether it grew
            data = file.read(before.st_size + 1) if regular and before.st_size <= largest_bytes else b""
            after = os.fstat(file.fileno())
    except (OSError, ValueError) as error:  # a path may hold what no path can
        msg = f"{path} can't be read: {getattr(error, 'strerror', None) or error}"
        raise ValueError(msg) from None
    if not regular:
        msg = f"{path} is not a file"
        raise ValueError(msg)
    if before.st_size > largest_bytes:
        msg = f"{path.name} is {before.st_size / 1e6:.2g} MB; it may be a text of at most {largest_bytes / 1e6:g} MB"
        raise ValueError(msg)
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns) or len(data) != after.st_size:
        msg = f"{path.name} is being written by another program; try again when it is done"
        raise ValueError(msg)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        msg = f"{path.name} is not a text file; it must be text in UTF-8"
        raise ValueError(msg) from None


def _open_now(path: str, flags: int) -> int:
    """Open without waiting, as a pipe would make us."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))
