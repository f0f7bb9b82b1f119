"""The command: ``python -m expocalc PLAN`` prints the plan's answer as a table and in words.

The model is loaded inside :func:`main`, so that an interrupt ends the command quietly at any time.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from expocalc.base.streams import INTERRUPTED, NOT_READ, complain, print_answer

__all__ = ["main"]


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
        complain(str(error), "expocalc")
        return NOT_READ
    return print_answer(text, "expocalc")


def _keys() -> str:
    from expocalc.plan import keys_text

    return keys_text()


def _answer(path: str, *, as_json: bool) -> str:
    """Answer of a plan as text: one JSON object, or a table and sentences."""
    import json

    from expocalc import plan, report
    from expocalc.budget.lamps_told import lamps_told

    read = plan.Plan.read(path)
    answer = read.solve()
    spread = read.spread(answer)
    lamps = lamps_told(read.case)
    if as_json:
        told = {} if lamps is None else {"lamps_from_rates": lamps.as_json()}
        return json.dumps({**plan.as_json(answer, spread), **told}, allow_nan=False, indent=2)
    return report.report(answer, spread, lamps)


if __name__ == "__main__":
    sys.exit(main())
