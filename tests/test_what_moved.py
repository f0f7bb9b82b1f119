"""The table of hours without and with each doubt, made by hand in tests/benchmarks, still runs: on two of its items."""

import math
import runpy
from pathlib import Path
from types import SimpleNamespace

MOVED = SimpleNamespace(**runpy.run_path(str(Path(__file__).parent / "benchmarks" / "what_moved.py")))


def test_two_items_say_hours_without_and_with(capsys):
    MOVED.main(["practice", "companions"])
    rows = capsys.readouterr().out.splitlines()[1:]
    found = list(MOVED.moved(["practice", "companions"]))
    assert len(rows) == len(found) == 7
    for row, (item, without, beside) in zip(rows, found, strict=True):
        assert row.startswith(item.name)
        assert str(beside) in row
        for part in (one for one in (without, beside) if not one.refused):
            best, middle, low, high = part.hours
            assert low <= middle <= high
            assert math.isfinite(best)
            assert f"{best:.3g}" in row
        if item.name == "practice":
            assert without.hours[0] == beside.hours[0], "the hours at best know no practice"
            assert beside.hours[1] > 2 * without.hours[1]


def test_every_item_is_made():
    """Plans are not asked here, but each is a plan, without it and with it."""
    for items in MOVED.ITEMS:
        for one in items():
            assert one.filter_name in {filter_.name for filter_ in one.plan.case.filters}
            assert one.plan.with_values(one.without) is not None
