"""The command: ``python -m expocalc PLAN`` prints the plan's answer as a table and in words.

The model is loaded inside :func:`main`, so that an interrupt ends the command quietly at any time.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import sys
from collections.abc import Sequence
from typing import TextIO

__all__ = ["main"]

ANSWERED, NOT_PRINTED, NOT_READ, INTERRUPTED = 0, 1, 2, 130


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command.

    Returns
    -------
    int
        Exit code: 0 for an answer, 1 where it can't be printed, 2 for a plan that can't be read, 130 after an
        interrupt, as shells count it.
    """
    try:
        return _run(arguments)
    except KeyboardInterrupt:
        return INTERRUPTED


def _run(arguments: Sequence[str] | None) -> int:
    parser = argparse.ArgumentParser(
        prog="expocalc", description="Sub length and hours for each filter and light of a plan."
    )
    parser.add_argument("plan", nargs="?", help="the plan, a TOML file")
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of a table")
    parser.add_argument("--keys", action="store_true", help="print all that a plan may hold")
    given = parser.parse_args(arguments)
    if given.plan is None and not given.keys:
        parser.error("the following arguments are required: plan")
    from expocalc.plan import PlanError

    try:
        text = _keys() if given.keys else _answer(given.plan, as_json=given.json)
    except PlanError as error:
        _complain(str(error))
        return NOT_READ
    return _print(text)


def _keys() -> str:
    from expocalc.plan import keys_text

    return keys_text()


def _answer(path: str, *, as_json: bool) -> str:
    """Answer of a plan as text: one JSON object, or a table and sentences."""
    import json

    from expocalc import plan, report

    read = plan.Plan.read(path)
    answer = read.solve()
    spread = read.spread(answer)
    if as_json:
        return json.dumps(plan.as_json(answer, spread), allow_nan=False, indent=2)
    return report.report(answer, spread)


def _print(text: str) -> int:
    """Print to the standard output, which may be closed or full, or go to a reader that has seen enough."""
    if sys.stdout is None:  # closed before we started
        _complain("the answer can't be printed: the standard output is closed")
        return NOT_PRINTED
    if isinstance(sys.stdout, io.TextIOWrapper):  # a terminal or file that lacks a sign gets its number
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        print(text, flush=True)
    except BrokenPipeError:
        _drop(sys.stdout)
    except (OSError, ValueError) as error:
        _complain(f"the answer can't be printed: {getattr(error, 'strerror', None) or error}")
        _drop(sys.stdout)
        return NOT_PRINTED
    return ANSWERED


def _complain(sentence: str) -> None:
    """Print a sentence to the standard error, where there is one that takes it; the exit code tells it anyway."""
    if sys.stderr is None:
        return
    try:
        print(f"expocalc: {sentence}", file=sys.stderr, flush=True)
    except (OSError, ValueError):
        _drop(sys.stderr)


def _drop(stream: TextIO) -> None:
    """Let what is left in a stream go nowhere, or Python would fail at it once more at its end."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


if __name__ == "__main__":
    sys.exit(main())
