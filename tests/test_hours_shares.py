"""Hours shared out in the live panel, where a median can't follow what some filters show."""

import re
from pathlib import Path

import pytest

from expocalc.plan import Plan
from workbook.hours import HoursPanel
from workbook.hours.model import picture
from workbook.hours.pictures import SHARES
from workbook.hours.shares import shares

DEMO = Path(__file__).parents[1] / "notebooks/plans/mono-single-lines.toml"
COARSE = {("camera", "gains", "high", "native_step"): 16, ("camera", "gains", "high", "bits"): 12}
REFUSED = {**COARSE, ("routine", "stacking"): "median", ("routine", "sub_length"): "5 s"}


@pytest.fixture
def panel(demo_folder):
    panel = HoursPanel("plans/mono-single-lines.toml", demo_folder)
    panel.pick.value = SHARES
    return panel


def drawn(panel):
    figure = panel.stage.figures[SHARES]
    return figure._figure.title.text, figure.bars.data, figure._reach.end


@pytest.mark.parametrize("hours", [0.1, 10, 400])
def test_a_median_that_no_filter_can_follow_gets_no_hours(panel, hours):
    panel._have(hours)
    before = drawn(panel)[1]["hours"]
    assert sum(before) == pytest.approx(hours)
    panel._change(REFUSED)
    title, bars, end = drawn(panel)
    assert title == "No filter can show anything of this target."
    assert list(bars["hours"]) == [0, 0]
    assert all("no hours" in words for words in bars["words"])
    assert 0 < end < 1000
    assert "SNR" not in panel.table.body.value
    panel._change({("routine", "stacking"): "mean"})
    assert sum(drawn(panel)[1]["hours"]) == pytest.approx(hours)


def test_a_median_that_one_filter_can_follow_gives_it_all_the_hours(panel):
    panel._have(10)
    panel._change(
        {**REFUSED, ("filters", 1, "passbands"): [{"standard": "bessell-V"}], ("routine", "sub_length"): "60 s"}
    )
    title, bars, _ = drawn(panel)
    assert title.startswith("10 h shared like this bring the weakest light to SNR ")
    assert "equal shares" not in title
    assert list(bars["hours"]) == pytest.approx([0, 10])
    assert "no hours" in bars["words"][0]
    assert "10 h: " in bars["words"][1]


def test_the_weakest_light_is_weighed_by_its_own_goal():
    lights = [{"line": "H-alpha", "brightness": "12 R"}, {"line": "O III", "brightness": "15 R", "snr": 4}]
    plan = Plan.read(DEMO).with_values({("target", "light"): lights})
    sentence, _ = shares(picture(plan, plan.case.filters[0].name), 10.0)
    best, equal = (float(share) for share in re.findall(r"([\d.]+) % of its goal", sentence))
    assert best > equal
