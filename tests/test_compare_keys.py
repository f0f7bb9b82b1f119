"""A routine, goal or target that differs names the one value that makes most of it, found by swapping each alone."""

from pathlib import Path

import pytest

from expocalc.plan import Plan
from workbook.compare.model import Side, compare

MONO = Plan.read(Path(__file__).resolve().parents[1] / "notebooks/plans/mono-single-lines.toml")


def why(left, right):
    return compare(Side.of(left), Side.of(right), 10.0)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({("routine", "background_flatness"): 0.004}, "background flatness"),
        ({("routine", "darks"): 2}, "darks 40 instead of 2"),
        ({("routine", "dead_time"): "120 s"}, "dead time 2 s instead of 120 s"),
        ({("routine", "lost_per_hour"): 2.0, ("routine", "flats"): 29}, "lost per hour 0.2 instead of 2.0"),
        ({("goal", "snr"): 14}, "SNR 10 instead of 14"),
        ({("target", "patch"): "12 arcsec"}, "patch 15 arcsec instead of 12 arcsec"),
    ],
)
def test_the_value_that_makes_the_difference_is_named(changes, words):
    worse = MONO.with_values(changes)
    found = why(MONO, worse)
    assert found.winner == "left"
    assert words.lower() in found.reasons[0].words.lower()
    assert words.split(" ")[0].lower() in found.words.headline.lower(), "the headline has it as its because"


def test_the_dearest_of_several_is_named():
    one, other = {("routine", "dead_time"): "10 s"}, {("routine", "lost_per_hour"): 3.0}
    hours = {
        name: sum(f.clock_h for f in MONO.with_values(changes).solve().filters)
        for name, changes in (("dead time", one), ("lost per hour", other))
    }
    dearest = max(hours, key=lambda name: hours[name])
    assert dearest in why(MONO, MONO.with_values(one | other)).reasons[0].words


def test_what_makes_no_difference_is_not_named():
    found = why(MONO, MONO.with_values({("routine", "biases"): 7}))
    assert "biases" not in found.reasons[0].words
