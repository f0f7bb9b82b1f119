"""The frame of all commands: the answer on the standard output, or one sentence of what was refused, and an exit code.

The streams may be closed, full, or read by one that has seen enough. A command loads its model inside its answer, so
that an interrupt ends it quietly at any time.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import sys
from collections.abc import Callable
from typing import Any, TextIO

from expocalc.base.refusal import Refusal

__all__ = ["Parser", "run_command"]

ANSWERED, NOT_PRINTED, NOT_READ, INTERRUPTED = 0, 1, 2, 130


class Parser(argparse.ArgumentParser):
    """Parser of a command's words; help that can't be printed is no fault, as in Pythons after 3.11.2."""

    def _print_message(self, message: str, file: Any = None) -> None:
        with contextlib.suppress(OSError):
            super()._print_message(message, file)


def run_command(name: str, answer: Callable[[], str]) -> int:
    """Run a command.

    Parameters
    ----------
    name : str
        It stands before what is complained of.
    answer : callable
        Reads the words of the command and returns the text to print; raises
        :class:`expocalc.base.refusal.Refusal` for what it can't read.

    Returns
    -------
    int
        Exit code: 0 for an answer, 1 where it can't be printed, 2 for what can't be read, 130 after an interrupt, as
        shells count it.
    """
    try:
        try:
            text = answer()
        except Refusal as error:
            _complain(str(error), name)
            return NOT_READ
        except SystemExit:  # the help was printed, or the words were wrong
            _flush()
            raise
        return _print_answer(text, name)
    except KeyboardInterrupt:
        return INTERRUPTED


def _print_answer(text: str, command: str) -> int:
    """Print to the standard output and return the exit code."""
    if sys.stdout is None:  # closed before we started
        _complain("the answer can't be printed: the standard output is closed", command)
        return NOT_PRINTED
    if isinstance(sys.stdout, io.TextIOWrapper):  # a terminal or file that lacks a sign gets its number
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        print(text, flush=True)
    except BrokenPipeError:
        _drop(sys.stdout)
    except (OSError, ValueError) as error:
        _complain(f"the answer can't be printed: {getattr(error, 'strerror', None) or error}", command)
        _drop(sys.stdout)
        return NOT_PRINTED
    return ANSWERED


def _complain(sentence: str, command: str) -> None:
    """Print a sentence to the standard error, where there is one that takes it; the exit code tells it anyway."""
    if sys.stderr is None:
        return
    try:
        print(f"{command}: {sentence}", file=sys.stderr, flush=True)
    except (OSError, ValueError):
        _drop(sys.stderr)


def _flush() -> None:
    """Let go of what can't be printed; nobody asked for an answer."""
    for stream in (sys.stdout, sys.stderr):
        try:
            if stream is not None:
                stream.flush()
        except (OSError, ValueError):
            _drop(stream)


def _drop(stream: TextIO) -> None:
    """Let what is left in a stream go nowhere, or Python would fail at it once more at its end."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
