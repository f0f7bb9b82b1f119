"""The command: ``python -m expocalc.night PLAN`` prints a night and its blocks."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from expocalc.base.command import Parser, run_command
from expocalc.base.refusal import Refusal

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; its exit code is :func:`expocalc.base.command.run_command`'s."""
    return run_command("expocalc.night", lambda: _run(arguments))


def _run(arguments: Sequence[str] | None) -> str:
    parser = Parser(
        prog="expocalc.night", description="One night of a plan: darkness, Moon, windows, blocks and nights to go."
    )
    parser.add_argument("plan", help="the plan, a TOML file")
    parser.add_argument("--date", help="local date of the evening, YYYY-MM-DD; by default the plan's, else today")
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of tables")
    given = parser.parse_args(arguments)
    return _answer(given.plan, given.date, as_json=given.json)


def _answer(path: str, date: str | None, *, as_json: bool) -> str:
    """The night as text: one JSON object, or tables and sentences."""
    import json

    from expocalc.budget.night import read_date
    from expocalc.night.as_json import night_json
    from expocalc.night.night import tonight_of
    from expocalc.night.report import report
    from expocalc.plan import Plan, one_sentence

    plan = Plan.read(path)
    try:
        evening = None if date is None else read_date("--date", date)
    except ValueError as error:
        raise Refusal(str(error)) from None
    with one_sentence():
        night = tonight_of(plan.case, evening)
        return json.dumps(night_json(night), allow_nan=False, indent=2) if as_json else report(night)


if __name__ == "__main__":
    sys.exit(main())
