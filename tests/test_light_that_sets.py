"""A number of hours of a filter that is for several lights says whose it is: the light, and a mosaic's colour."""

import functools
import re
import runpy
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from expocalc.base.words import colour_word, say_duration
from expocalc.frames.tell.ledger import Entry
from expocalc.frames.tell.progress import left_words, progress_of
from expocalc.frames.tell.sky_words import hours_words
from expocalc.night.night import tonight_of
from expocalc.night.report import report
from expocalc.plan import Plan, PlanError
from workbook.compare.facts import hours_table as pairs_table
from workbook.compare.model import compare
from workbook.compare.sides import Side
from workbook.compare.view import ComparePanel
from workbook.hours.levers import levers_table
from workbook.hours.model import picture
from workbook.hours.sure import snr_table
from workbook.hours.verdict import words as hours_words_of
from workbook.night.season import schedule_rows, schedule_table, season, season_table
from workbook.night.shoot import rank_bars, rank_steps, rank_table, say_ranked
from workbook.night.tonight import blocks_table, evening, evening_table
from workbook.parts.end_label import end_label
from workbook.parts.light_in_view import ALL
from workbook.plan.model import words as plan_words
from workbook.sub_length.curves import NEVER_H
from workbook.sub_length.model import Picture as SubLengths
from workbook.sub_length.tables import hours_table

PLAIN = runpy.run_path(str(Path(__file__).with_name("on_screen.py")))["plain"]

HERE = Path(__file__).parent
MADE = SimpleNamespace(**runpy.run_path(str(HERE / "random_plans.py")))
COLOUR = HERE.parent / "notebooks/plans/colour-dual-band.toml"


@functools.cache
def plans():
    """Invented plans with a filter for several lights, by number; on mosaics and mono."""
    found = {}
    for number in range(60):
        try:
            plan = Plan.parse(MADE.text_of("tame", number))
            answer = plan.solve()
        except PlanError:
            continue
        if any(len(one.rates.lights) > 1 for one in answer.filters):
            found[number] = plan
    assert sum(len(plan.case.camera.colours) > 1 for plan in found.values()) > 5
    return found


def setter(one):
    """A filter's name and the light of its rows that takes most, said without the function under test."""
    row = one.neediest
    if len(one.rates.lights) < 2:
        return row.filter_shown
    return f"{row.filter_shown} for {row.light}{f' in {colour_word(row.colour)}' if row.colour else ''}"


def test_the_light_that_is_named_is_the_one_that_takes_most():
    for plan in plans().values():
        found = plan.solve()
        for one in found.filters:
            hours = {row.light: row.shot for row in found.rows if row.filter_name == one.filter_name}
            most = one.neediest.shot
            assert most is None or most == max(shot for shot in hours.values() if shot is not None)


def test_tables_of_hours_and_sub_length_name_it():
    for plan in plans().values():
        found = plan.solve()
        names = tuple(setter(one) for one in found.filters)
        assert hours_table(plan).head[1:] == names
        try:
            shown = picture(plan, found.filters[0].filter_name)
        except PlanError:  # a patch that no picture shows
            continue
        assert levers_table(shown).head[3:] == names
        assert snr_table(shown, None).head[1:] == names
        rest = hours_words_of(shown, None).rest
        for one, name in zip(found.filters[1:], names[1:], strict=True):
            if one.kept_h is not None and found.filters[0].kept_h is not None:
                assert re.search(rf"{re.escape(name)} takes [^,]* at best", rest, re.I), rest


def test_the_curves_and_the_pointer_of_sub_length_name_it():
    """At the plan's own sub by its answer, elsewhere by the hours of each light alone; one light is no clutter."""
    others = 0
    for plan in plans().values():
        found = plan.solve()
        shown = SubLengths(plan, found.filters[0].filter_name)
        table = hours_table(plan)
        for at, one in enumerate(found.filters):
            name, several = setter(one), len(one.rates.lights) > 1
            label = shown.ends[at].label
            assert " ".join(label.split()).startswith(f"{one.filter_shown}: ")
            assert " ".join(label.split()).endswith(name.removeprefix(one.filter_shown))
            assert ("\nfor " in label) == (name != one.filter_shown)
            if not several:
                assert not any(" for " in words for words in shown.said[at])
                continue
            alone = {light: SubLengths(plan, one.filter_name, light).curves[at] for light in one.rates.lights}
            for number, words in enumerate(shown.said[at]):
                each = {light: np.nan_to_num(curve[number], nan=np.inf) for light, curve in alone.items()}
                if not max(each.values()) < NEVER_H:
                    assert words == "never"
                    continue
                said = re.fullmatch(r"(.*) for (.+?)(?: in (red|green|blue))?", words)
                assert each[said[2]] == max(each.values())
                assert said[1] == say_duration(3600 * each[said[2]])
                assert (said[3] is None) == (len(one.rates.colours) == 1)
            for cell in (row[1 + at] for row in table.rows):
                if other := re.search(r" for (.+?)(?: in \w+)?(?: \(|$)", cell):
                    assert other[1] != one.neediest.light
                    others += 1
            assert one.neediest.light in shown.bars[at].words
    assert others > 5, "plans where another light sets the hours with another sub"


def test_labels_of_two_lines_keep_apart():
    """Inside, the figures are 175 and 290 px high at least, and two lines of 12 px take 29."""
    plan = Plan.read(COLOUR)
    (one,) = plan.values["filters"]
    three = plan.with_values({("filters",): [one | {"name": name} for name in ("one", "two", "three")]})
    reach = SubLengths(three, "one").hours_reach
    for high, places, ends in (
        (175, [end.label_hours for end in SubLengths(three, "one").ends], reach),
        (290, [line.label_snr for line in picture(three, "one").lines], picture(three, "one").snr_reach),
    ):
        gaps = np.diff(np.sort(np.log(places))) / np.log(ends[1] / ends[0])
        assert (gaps * high > 29).all()


@pytest.mark.parametrize("name", ["O III", "Ultra narrow dual 7 nm (now 3 nm)", "x" * 200, "many words " * 19])
@pytest.mark.parametrize("said", ["18 h", "not with 3.5 min subs", "out of reach"])
def test_a_label_is_narrow_and_its_number_whole(name, said):
    row = SimpleNamespace(filter_shown=name.strip(), light="O III", target_e_s=1.0)
    lines = end_label(row, said, "for continuum in green").splitlines()
    assert max(map(len, lines)) <= 26
    assert len(lines) <= 4
    assert lines[-2].endswith(said)
    assert lines[-1] == "for continuum in green"


def test_the_plan_page_names_it():
    for plan in plans().values():
        found = plan.solve()
        headline = plan_words(plan.values, plan).headline
        assert all(setter(one) in headline for one in found.filters), headline


def test_compare_says_whose_hours_it_counts():
    told = 0
    for plan in plans().values():
        left = Side.of(plan)
        right = Side.of(plan.with_values({("goal", "snr"): 7}))
        found = compare(left, right, 4.0)
        (row,) = (row for row in found.facts.rows if row[0] == "Hours set by")
        for cell, side in zip(row[1:], (left, right), strict=True):
            names = [setter(one) for one in side.found.filters if len(one.rates.lights) > 1]
            assert cell == " / ".join(names)
            assert all(name in found.words.basis for name in names)
            told += len(names)
        for pair in found.pairs:
            one = next(one for one in left.found.filters if one.filter_name == pair.left.filter_name)
            if len(one.rates.lights) > 1:
                assert pair.left.light in pair.label
                assert pair.left.colour is None or colour_word(pair.left.colour) in pair.label
    assert told > 40


@pytest.mark.parametrize("light", ["H-alpha", "O III"])
def test_compare_turns_to_one_light(light, demo_folder):
    panel = ComparePanel("plans/colour-dual-band.toml", demo_folder)
    assert panel.light.widget.layout.display is None
    values = panel.right.plan.values
    panel.light.menu.value = light
    said = PLAIN(panel.verdict.widget.value)
    assert f"Only {light} is in view." in said
    assert panel.right.plan.values == values, "looking is no change of the plan"
    left, right = panel._seen(panel.left, panel.right)
    hours = [next(row for row in side.rows if row.light == light).clock_h for side in (left, right)]
    found = compare(left, right, panel.same_h)
    assert [(pair.left_h, pair.right_h) for pair in found.pairs] == [tuple(hours)]
    assert [row[0] for row in pairs_table(left, right, 4.0).rows] == [found.pairs[0].label]
    if light == panel.left.found.filters[0].neediest.light:
        assert hours[0] == pytest.approx(panel.left.found.filters[0].clock_h, rel=0.03)
    panel.numbers["sky"].box.value = "20 mag/arcsec2"
    assert panel.light_name == light, "it stays in view while a slider moves"
    panel.light.menu.value = ALL
    assert "is in view" not in panel.verdict.widget.value


def test_night_names_it_wherever_it_counts_hours():
    checked = 0
    for number, plan in list(plans().items())[:9]:
        night = tonight_of(plan.with_values(MADE.PANELS.night_values(number, wide=False)).case)
        if night.nights is None:
            continue
        names = []
        for reference in night.nights.references:
            hours = reference.light_h
            name = reference.filter_.shown_name
            if len(hours) > 1:
                name += f" for {max(hours, key=lambda light: hours[light])}"
                name += f" in {colour_word(reference.pixels)}" if reference.pixels else ""
                assert (reference.pixels is None) == (len(plan.case.camera.colours) == 1)
            names.append(name)
        assert evening(night).names == tuple(names)
        assert evening_table(evening(night)).head[3:] == tuple(f"Worth in {name}" for name in names)
        assert {row[0] for row in blocks_table(night).rows} <= set(names)
        assert all(name in report(night) for name in names)
        year = season(night.campaign)
        assert year.names == tuple(names)
        assert all(name in " ".join(season_table(year).head) for name in names)
        for row in (*schedule_rows(night.campaign), *schedule_table(night.campaign).rows):
            adds, left = (row.adds, row.left) if hasattr(row, "adds") else row[2:]
            for text in (adds, left):
                for part in (part for part in text.split(", ") if part != "nothing" and "filters" not in part):
                    assert any(part.endswith(f" {name}") for name in names), (part, names)
                    checked += 1
    assert checked > 20


def test_the_ranking_names_the_light_of_each_region():
    plan = Plan.read(COLOUR).with_values(MADE.PANELS.night_values(3, wide=False))
    night = tonight_of(plan.case)
    steps = rank_steps(plan.case, (), night.evening.date)
    while True:
        try:
            next(steps)
        except StopIteration as end:
            ranked = end.value
            break
    reached = [one for one in ranked if one.reached]
    assert reached
    for one in reached:
        lights = {dict(item).get("line", "continuum") for item in one.candidate.light}
        name, light, colour = re.fullmatch(r"(Dual 6 nm) for (.+) in (red|green|blue)", one.carried_by).groups()
        assert (name, light in lights) == ("Dual 6 nm", True)
        assert (colour == "red") == (light in ("H-alpha", "N II", "S II"))
        assert one.carried_by in say_ranked(one)
    assert all(re.search(r"Dual 6 nm for .+ in (red|green|blue), best ", bar.words) for bar in rank_bars(ranked))
    assert {row[1] for row in rank_table(ranked).rows} >= {one.carried_by for one in reached}


def entry(name, **changes):
    """A sub of the ledger."""
    sub = {
        "night": "2026-10-01", "file": "a.fits", "filter": name, "date": "2026-10-01T22:00:00", "exposure_s": 300.0,
        "temperature_deg_c": -10.0, "sky_electron_s": 1.0, "noise_electron": 10.0, "star_fwhm_px": 3.0,
        "star_elongation": 1.1, "stars": 200, "transparency": 1.0, "kept": True, "reason": "",
        "equivalent_dark_h": 0.08,
    }  # fmt: skip
    return Entry(**sub | changes)


def test_the_morning_after_and_the_test_sub_name_it():
    for plan in list(plans().values())[:6]:
        found = plan.solve()
        answers = {one.filter_name: one for one in found.filters}
        told = progress_of([entry(name) for name in answers], plan.case, answers)
        for name, one in answers.items():
            assert left_words(told[name]).startswith(f"{setter(one)}: ")
            said = hours_words(one, one, None)
            if one.kept_h is not None and len(one.rates.lights) > 1:
                row = one.neediest
                of = f"the goal of {row.light}{f' in {colour_word(row.colour)}' if row.colour else ''} under this sky"
                assert of in said
            elif one.kept_h is not None:
                assert "Hours for the goal under this sky" in said
