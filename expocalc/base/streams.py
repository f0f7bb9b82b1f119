"""What a command prints, to streams that may be closed, full, or read by one that has seen enough."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from typing import TextIO

__all__ = ["ANSWERED", "INTERRUPTED", "NOT_PRINTED", "NOT_READ", "complain", "print_answer"]

ANSWERED, NOT_PRINTED, NOT_READ, INTERRUPTED = 0, 1, 2, 130
"""Exit codes of the commands; the last is how shells count an interrupt."""


def print_answer(text: str, command: str) -> int:
    """Print to the standard output and return the exit code.

    Parameters
    ----------
    text : str
    command : str
        Its name, which stands before what it complains of.
    """
    if sys.stdout is None:  # closed before we started
        complain("the answer can't be printed: the standard output is closed", command)
        return NOT_PRINTED
    if isinstance(sys.stdout, io.TextIOWrapper):  # a terminal or file that lacks a sign gets its number
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        print(text, flush=True)
    except BrokenPipeError:
        _drop(sys.stdout)
    except (OSError, ValueError) as error:
        complain(f"the answer can't be printed: {getattr(error, 'strerror', None) or error}", command)
        _drop(sys.stdout)
        return NOT_PRINTED
    return ANSWERED


def complain(sentence: str, command: str) -> None:
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
