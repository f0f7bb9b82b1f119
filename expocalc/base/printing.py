"""What a command prints, and how it ends where that can't be printed."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from typing import TextIO

__all__ = ["ANSWERED", "INTERRUPTED", "NOT_PRINTED", "NOT_READ", "complain", "print_answer"]

ANSWERED, NOT_PRINTED, NOT_READ, INTERRUPTED = 0, 1, 2, 130


def print_answer(command: str, text: str) -> int:
    """Print to the standard output, which may be closed or full, or go to a reader that has seen enough.

    Parameters
    ----------
    command : str
        The command's name, for a sentence to the standard error.
    text : str

    Returns
    -------
    int
        Exit code.
    """
    if sys.stdout is None:  # closed before we started
        complain(command, "the answer can't be printed: the standard output is closed")
        return NOT_PRINTED
    if isinstance(sys.stdout, io.TextIOWrapper):  # a terminal or file that lacks a sign gets its number
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        print(text, flush=True)
    except BrokenPipeError:
        _drop(sys.stdout)
    except (OSError, ValueError) as error:
        complain(command, f"the answer can't be printed: {getattr(error, 'strerror', None) or error}")
        _drop(sys.stdout)
        return NOT_PRINTED
    return ANSWERED


def complain(command: str, sentence: str) -> None:
    """Print a sentence to the standard error, where there is one that takes it; the exit code tells it anyway."""
    if sys.stderr is None:
        return
    try:
        print(f"{command}: {sentence}", file=sys.stderr, flush=True)
    except (OSError, ValueError):
        _drop(sys.stderr)


def _drop(stream: TextIO) -> None:
    """Let what is left in a stream go nowhere, or Python would fail at it once more at its end."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
