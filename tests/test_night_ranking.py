"""What to shoot: the ranked list, the user's own list, and what comes into the plan."""

import datetime as dt
import itertools
import re

import pytest

from expocalc.light.library import TARGETS, region
from expocalc.night.night import tonight_of
from expocalc.night.own_list import read_own_list
from expocalc.night.ranking import candidates_of, in_order, rank
from expocalc.plan import Plan

FIRST = dt.date(2026, 10, 10)


@pytest.fixture(scope="module")
def demo():
    return Plan.read("notebooks/plans/mono-single-lines.toml").with_values(
        {("night", "clear_share"): 0.4, ("routine", "background_flatness"): "perfect"}
    )


@pytest.fixture(scope="module")
def ranked(demo):
    names = (
        "M42, Orion Nebula, core", "CTB 1", "Sh2-240, Simeis 147", "Eridanus loop", "G65.3+5.7, filaments",
        "Spica Nebula", "Gum 12, Gum Nebula", "M89, Virgo ellipticals, tidal features",
    )  # fmt: skip
    names = [next(known for known in TARGETS if known.startswith(name[:20])) for name in names]
    return in_order(rank(demo.case, candidates_of(region(name) for name in names), FIRST))


def test_bright_first_and_what_no_season_reaches_last(ranked):
    assert ranked[0].candidate.name.startswith("M42")
    years = [one.year or 1000 for one in ranked]
    assert years == sorted(years)
    for one in ranked:
        assert one.reached == (one.why == "")
    why = {one.candidate.name[:8]: one.why for one in ranked}
    assert "never above the skyline" in why["Gum 12, "]
    assert "a year of nights brings" in why["Spica Ne"]


def test_what_no_hours_show_is_not_said_to_be_blocked(demo):
    uneven = demo.with_values({("routine", "background_flatness"): 0.5})
    names = [name for name in TARGETS if name.startswith(("Spica", "Gum"))]
    why = {one.candidate.name[:4]: one for one in rank(uneven.case, candidates_of(map(region, names)), FIRST)}
    assert why["Spic"].why == "no hours reach the goal"
    assert not why["Spic"].reached
    assert why["Gum "].why == "it is never above the skyline in the dark"


def test_month_season_and_year_are_one_number_cut_off(ranked):
    for one in ranked:
        if one.month is not None:
            assert one.month == one.season == one.year
        if one.season is not None:
            assert one.season == one.year <= 90


def test_the_list_agrees_with_the_plan_of_the_one_that_is_chosen(demo, ranked):
    one = next(r for r in ranked if r.candidate.name == "CTB 1")
    chosen = demo.with_values({**one.candidate.changes(), ("night", "date"): FIRST.isoformat()})
    night = tonight_of(chosen.case)
    place = next(i for i, r in enumerate(night.campaign.nights.references) if r.name == one.filter_name)
    nights = night.campaign.nights
    brought = itertools.accumulate(0.4 * nights.hours(n)[place].equivalent_dark_h for n in range(60))
    exact = next(n for n, h in enumerate(brought, start=1) if h >= nights.references[place].need_h)
    assert abs(exact - one.year) <= 1
    assert chosen.case.target.name == "CTB 1"


def test_the_best_month_is_when_it_stands_high_at_night(ranked):
    by_name = {one.candidate.name[:8]: one for one in ranked}
    assert by_name["M42, Ori"].best_month in ("November", "December", "January")


def test_a_plan_without_a_place_says_so(demo):
    nowhere = demo.with_values({("site", "latitude"): None, ("site", "longitude"): None})
    with pytest.raises(ValueError, match="latitude and longitude in \\[site\\]"):
        next(rank(nowhere.case, candidates_of([region("CTB 1")]), FIRST))


def test_one_may_stop_in_between(demo):
    assert len(list(itertools.islice(rank(demo.case, candidates_of(TARGETS.values()), FIRST), 2))) == 2


GOOD = """# %ECSV 1.0
# ---
# datatype:
# - {name: name, datatype: string}
name,right_ascension,declination,light,brightness
"my shell, west",20h 45m,+30d 43m,O III,20 R
dust,311.4,30.7,continuum,25 mag/arcsec2
"""


def test_own_list(tmp_path, demo):
    path = tmp_path / "mine.ecsv"
    path.write_text(GOOD)
    shell, dust = read_own_list(path)
    assert (shell.name, shell.right_ascension_deg, dust.declination_deg) == ("my shell, west", 311.25, 30.7)
    found = next(rank(demo.case, [shell], FIRST))
    assert found.filter_name == "O III 5 nm"
    assert demo.with_values(shell.changes()).case.target.light[0].name == "O III"


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        ("dust,311.4,30.7,continuum", "line 7 must have 5 values, got 4"),
        ("dust,311.4,97,continuum,25 mag/arcsec2", "line 7: declination"),
        ("dust,311.4,30.7,oxygen,25 R", "line 7: light (line): line must be"),
        ("dust,311.4,30.7,continuum,25", "line 7: light (continuum): continuum needs a unit"),
        (",311.4,30.7,continuum,25 mag/arcsec2", "line 7: name must be"),
    ],
)
def test_a_broken_line_is_named(tmp_path, broken, said):
    path = tmp_path / "mine.ecsv"
    path.write_text(GOOD.replace("dust,311.4,30.7,continuum,25 mag/arcsec2", broken))
    with pytest.raises(ValueError, match=re.escape(said)) as error:
        read_own_list(path)
    assert "\n" not in str(error.value)


def test_a_list_without_its_columns_is_refused(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("name,ra,declination,light,brightness\n")
    with pytest.raises(ValueError, match="needs a column right_ascension"):
        read_own_list(path)
    path.write_text("# nothing\n")
    with pytest.raises(ValueError, match="has no lines"):
        read_own_list(path)
