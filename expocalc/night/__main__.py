"""The command: ``python -m expocalc.night PLAN`` prints a night and its blocks.

The model is loaded inside :func:`main`, so that an interrupt ends the command quietly at any time.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from expocalc.base.streams import INTERRUPTED, NOT_READ, complain, print_answer

__all__ = ["main"]

_COMMAND = "expocalc.night"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command.

    Returns
    -------
    int
        Exit code: 0 for an answer, 1 where it can't be printed, 2 for a plan or date that can't be read, 130 after an
        interrupt, as shells count it.
    """
    try:
        return _run(arguments)
    except KeyboardInterrupt:
        return INTERRUPTED


def _run(arguments: Sequence[str] | None) -> int:
    parser = argparse.ArgumentParser(
        prog=_COMMAND, description="One night of a plan: darkness, Moon, windows, blocks and nights to go."
    )
    parser.add_argument("plan", help="the plan, a TOML file")
    parser.add_argument("--date", help="local date of the evening, YYYY-MM-DD; by default the plan's, else today")
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of tables")
    given = parser.parse_args(arguments)
    from expocalc.plan import PlanError

    try:
        text = _answer(given.plan, given.date, as_json=given.json)
    except PlanError as error:
        complain(str(error).removeprefix("the plan: "), _COMMAND)
        return NOT_READ
    return print_answer(text, _COMMAND)


def _answer(path: str, date: str | None, *, as_json: bool) -> str:
    """The night as text: one JSON object, or tables and sentences."""
    import json

    from expocalc.budget.night import read_date
    from expocalc.night.as_json import night_json
    from expocalc.night.night import tonight_of
    from expocalc.night.report import report
    from expocalc.plan import Plan, one_sentence

    plan = Plan.read(path)
    with one_sentence():
        night = tonight_of(plan.case, None if date is None else read_date("--date", date))
        return json.dumps(night_json(night), allow_nan=False, indent=2) if as_json else report(night)


if __name__ == "__main__":
    sys.exit(main())
