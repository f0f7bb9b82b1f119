"""The command: ``python -m expocalc PLAN`` prints the plan's answer as a table and in words."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from expocalc.base.command import Parser, run_command

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; its exit code is :func:`expocalc.base.command.run_command`'s."""
    return run_command("expocalc", lambda: _run(arguments))


def _run(arguments: Sequence[str] | None) -> str:
    parser = Parser(prog="expocalc", description="Sub length and hours for each filter and light of a plan.")
    parser.add_argument("plan", nargs="?", help="the plan, a TOML file")
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of a table")
    parser.add_argument("--keys", action="store_true", help="print all that a plan may hold")
    given = parser.parse_args(arguments)
    if given.plan is None and not given.keys:
        parser.error("the following arguments are required: plan")
    return _keys() if given.keys else _answer(given.plan, as_json=given.json)


def _keys() -> str:
    from expocalc.plan.keys import keys_text

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
