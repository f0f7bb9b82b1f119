"""The night panel without a browser: what its models say, and what its widgets then hold."""

import dataclasses
import datetime as dt
import html
import re
import runpy
from pathlib import Path

import numpy as np
import pytest
from astropy.table import Table
from icalendar import Calendar

from expocalc.base.words import colour_word
from expocalc.budget.assumed import assumed_sentence
from expocalc.budget.mount import longest_held_s
from expocalc.night.as_json import night_json
from expocalc.night.dark_words import sky_sentences
from expocalc.night.night import tonight_of
from expocalc.night.words import cloud_sentence, schedule_sentences, usual_cloud_s
from expocalc.plan import Plan
from workbook.night import NightPanel, knobs
from workbook.night.dither import dither, learned_changes, with_count, without_counts
from workbook.night.drawing import mark_columns
from workbook.night.figures import TonightFigure
from workbook.night.season import calendar, schedule_rows, season, season_table
from workbook.night.season_figures import SeasonPair
from workbook.night.sheets import CAUTIONS, FORMATS, field_text, to_calendar, to_csv, to_ecsv
from workbook.night.shoot import rank_bars, rank_steps, rank_table, say_ranked, sentence
from workbook.night.tonight import bars, blocks_table, evening, evening_table, ticks
from workbook.night.verdict import DITHER, NIGHTS, PICTURES, SEASON, SHOOT, TONIGHT, said
from workbook.parts.looks import filter_look

PLAIN = runpy.run_path(str(Path(__file__).with_name("on_screen.py")))["plain"]

NOTEBOOKS = Path(__file__).parents[1] / "notebooks"
MONO = "plans/mono-single-lines.toml"
COLOUR = "plans/colour-dual-band.toml"
MARKUP = "<img src=x onerror=alert(1)> & <b>shell</b>"


@pytest.fixture(scope="module")
def mono():
    return Plan.read(NOTEBOOKS / MONO)


@pytest.fixture(scope="module")
def night(mono):
    return tonight_of(mono.case)


@pytest.fixture
def panel(demo_folder):
    return NightPanel(MONO, demo_folder)


def spoken(panel):
    return PLAIN(html.unescape(re.sub(r"<[^>]+>", " ", panel.verdict.widget.value)))


# ---- tonight


def test_curves_are_those_of_the_night(night):
    shown = evening(night)
    noon = night.evening.begin_s
    assert np.all(np.diff(shown.hours) > 0)
    assert shown.reach[0] <= shown.hours[0] <= shown.hours[-1] <= shown.reach[1]
    top = shown.hours[int(np.nanargmax(shown.target_deg))] * 3600 + noon
    assert top == pytest.approx(night.target.transit_s, abs=300)
    assert np.nanmax(shown.target_deg) == pytest.approx(night.highest_deg, abs=0.05)
    for row, hours in zip(shown.worth, night.hours, strict=True):
        assert np.nansum(row) * 300 / 3600 == pytest.approx(hours.equivalent_dark_h, rel=0.03)


def test_windows_and_blocks_are_drawn_where_they_are(night):
    noon = night.evening.begin_s
    for (begin, end, lit), window in zip(evening(night).windows, night.windows, strict=True):
        assert (begin * 3600 + noon, end * 3600 + noon, lit) == pytest.approx(
            (window.begin_s, window.end_s, window.moon_up)
        )
    for bar, block in zip(bars(night), night.blocks, strict=True):
        assert bar.begin * 3600 + noon == pytest.approx(block.begin_s)
        assert bar.words.startswith(block.filter_name)
        assert night.case.filters[bar.number].name == block.filter_name


def test_ticks_say_the_clock_of_the_place_through_its_change(mono):
    changed = tonight_of(mono.case, dt.date(2026, 10, 24))
    words = ticks(changed)
    assert [words[float(hour)] for hour in (12, 14, 15, 16)] == ["00:00", "02:00", "02:00", "03:00"]


def test_tables_hold_every_block_and_hour(night):
    rows = blocks_table(night).rows
    assert [row[0] for row in rows] == [block.filter_name for block in night.blocks]
    assert all(str(block.subs) in row[3] for row, block in zip(rows, night.blocks, strict=True))
    assert len(evening_table(evening(night)).rows) > 20


@pytest.mark.parametrize(
    "changes",
    [
        {("site", "latitude"): None, ("site", "longitude"): None},
        {("target", "right_ascension"): None, ("target", "declination"): None},
        {("site", "latitude"): "65 deg", ("night", "date"): "2026-06-20"},
        {("site", "latitude"): "88 deg", ("night", "date"): "2026-12-20"},
        {("target", "declination"): "-80d 0m"},
        {("routine", "background_flatness"): 0.5},
    ],
)
def test_a_night_that_lacks_something_is_still_drawn_and_said(mono, changes):
    night = tonight_of(mono.with_values(changes).case)
    shown = evening(night)
    assert len(shown.words) == shown.hours.size
    found = said(night, night.campaign)
    assert found.headline.endswith(".")
    assert len(blocks_table(night).rows) == len(bars(night)) == len(night.blocks)


# ---- what is said


def test_the_headline_is_what_to_do_and_the_rest_what_it_rests_on(night):
    before, after = said(night, None), said(night, night.campaign)
    assert before.headline == sky_sentences(night)[0]
    assert after.headline == schedule_sentences(night)[0]
    assert sky_sentences(night)[0] in after.rest[1]
    assert after.rest[-1] == assumed_sentence(night.case.routine)


def test_panel_command_and_export_say_the_same(panel):
    night = panel.night
    assert panel.campaign is not None
    first = night_json(night)["blocks"][0]
    assert night.evening.clock(night.blocks[0].begin_s) in spoken(panel)
    assert first["filter"] in spoken(panel)
    for row, bar in zip(night_json(night)["blocks"], panel.stage.figures[TONIGHT].blocks.data["words"], strict=True):
        assert f"{row['subs']} ×" in bar


# ---- season and schedule


def test_the_best_week_is_the_week_of_most_hours(night):
    found = season(night.campaign)
    total = np.sum(found.equivalent_h, axis=0)
    weeks = [total[n : n + 7].sum() for n in range(total.size - 6)]
    assert found.best == int(np.argmax(weeks))
    assert str(found.dates[found.best]) in found.sentence
    cells = calendar(found)
    assert [cell.best for cell in cells].count(True) == 7
    assert max(cell.share for cell in cells) == pytest.approx(1.0)


def test_the_season_is_a_year_and_says_the_best_week_of_the_coming_months_too(night):
    found = season(night.campaign)
    assert len(found.dates) == len(calendar(found)) == len(season_table(found).rows) == 365
    weeks = np.convolve(np.sum(found.equivalent_h, axis=0), np.ones(7), mode="valid")
    assert int(weeks[:90].argmax()) != found.best  # the demo's shell is past its best
    assert f"Of the next three months the best week begins on {found.dates[int(weeks[:90].argmax())]}" in found.soon
    for n in (0, 30):  # the year's nights are those of the schedule
        assert night.campaign.year.hours(n) == night.campaign.nights.hours(n)


def test_a_season_without_hours_says_which_are_missing(mono):
    beyond = season(tonight_of(mono.with_values({("routine", "background_flatness"): 0.5}).case).campaign)
    assert beyond.sentence == "No week is better than another: no hours reach the goal in any filter."
    below = season(tonight_of(mono.with_values({("target", "declination"): "-80d 0m"}).case).campaign)
    assert below.sentence == "No night from 2026-10-10 to 2027-10-09 has time to image this target."
    assert not any(cell.best for found in (beyond, below) for cell in calendar(found))


def test_what_is_left_falls_to_nothing(night):
    rows = schedule_rows(night.campaign)
    assert rows[0].date == night.evening.date
    assert rows[-1].left == "nothing"
    assert all(row.left != "nothing" for row in rows[:-1])


def test_many_filters_left_are_summed(mono):
    third = {"name": "S II 5 nm", "passbands": [{"centre": "672.4 nm", "width": "5 nm", "peak": 0.88}]}
    light = [*map(dict, mono.values["target"]["light"]), {"line": "S II", "brightness": "12 R"}]
    filters = [*map(dict, mono.values["filters"]), third]
    campaign = tonight_of(mono.with_values({("filters",): filters, ("target", "light"): light}).case).campaign
    rows = schedule_rows(campaign)
    assert rows[0].left.endswith(" in 3 filters")
    hours = float(rows[0].left.split()[0])
    assert hours == pytest.approx(float((campaign.need_h - campaign.way.gained_h[0]).sum()), rel=0.06)


# ---- the second-best line


def test_a_cloudy_start_has_a_line_of_its_own(panel):
    whole = spoken(panel)
    panel.cloud.box.value = "23:30"
    said = spoken(panel)
    blocks = panel.night.campaign.after_cloud(panel.night.evening.after_noon(23.5))
    assert f"If it is cloudy until 23:30: start with {blocks[0].filter_name} at 23:30" in said
    assert f"stop at {panel.night.evening.clock(blocks[-1].end_s)}. That still brings" in said
    panel.pick.value = SEASON
    assert "cloudy" not in spoken(panel)
    panel.pick.value = TONIGHT
    panel.cloud.box.value = "half past"
    assert "must be a time of day" in html.unescape(panel.cloud.wrong.value)
    assert "If it is cloudy until 23:30" in spoken(panel)
    panel.cloud.box.value = ""
    assert spoken(panel) == whole


@pytest.mark.parametrize("hour", [21.0, 22.5, 0.0, 1.0, 2.5, 2.95, 3.2, 5.0])
def test_after_a_cloud_only_the_rest_is_used(night, hour):
    until = night.evening.after_noon(hour)
    blocks, said = night.campaign.after_cloud(until), cloud_sentence(night, until)
    assert all(block.begin_s >= until - 1 for block in blocks)
    assert ("nothing is left to do" in said) == (not blocks)
    price = dict(zip((r.name for r in night.nights.references), night.campaign.way.price, strict=True))
    value = [sum(price[b.filter_name] * b.equivalent_dark_h for b in some) for some in (blocks, night.blocks)]
    assert value[0] <= value[1] * 1.02  # a block's hours are those of whole subs


# ---- what the mount holds


def test_a_polar_error_moves_limit_words_and_table(panel):
    panel.pick.value = DITHER
    panel.numbers["longest"].box.value = "no limit"
    assert panel.plan.case.routine.longest_sub is None
    assert "Nothing that the plan says of the mount" in spoken(panel)
    panel.numbers["polar"].box.value = "40 arcmin"
    said = spoken(panel)
    assert "turn of the corners by the polar error" in said
    assert panel.stage.figures[DITHER].lines[0].data["sub"][-1] == pytest.approx(longest_held_s(panel.plan.case))
    panel.numbers["guide"].box.value = "not guided"
    assert panel.plan.case.routine.guide_star is None
    assert "drift of the stars by the polar error" in spoken(panel)
    assert panel.numbers["guide"].box.value == "not guided"
    before = spoken(panel)
    panel.mount.tube.menu.value = "carbon fibre"
    assert panel.plan.case.telescope.tube == "carbon fibre"
    assert spoken(panel) != before
    assert "carbon fibre tube" in spoken(panel)
    panel.numbers["refocus"].box.value = "2 K"
    assert "2.0 °C colder or warmer." in spoken(panel)
    for words in ("Drift of the stars", "Hook 1989"):
        assert words in panel.mount.table.value


def test_a_plan_out_of_reach_leaves_no_error_in_the_panel(panel):
    panel._take(panel.plan.with_values({("routine", "background_flatness"): 0.5}))
    assert panel.work.said.value == ""
    assert spoken(panel).strip().startswith("No filter of the plan reaches its goal, however many the hours.")
    for name in (SEASON, NIGHTS, DITHER, TONIGHT):
        panel.pick.value = name


# ---- losses


def test_counts_go_in_and_losses_come_out(mono):
    one = mono.with_values(with_count(mono, "300 s", "2", "120", "7"))
    assert "only the sum" in dither(tonight_of(one.case), "H-alpha 5 nm").sentences[0]
    two = one.with_values(with_count(one, "300 s", "12", "120", "2"))
    shown = dither(tonight_of(two.case), "H-alpha 5 nm")
    assert shown.losses.per_dither is not None
    learned = two.with_values(learned_changes(shown.losses))
    assert learned.case.routine.lost_per_dither == pytest.approx(shown.losses.per_dither.middle, rel=0.01)
    assert len(two.with_values(without_counts(two)).case.routine.counts) == 1
    assert mono.with_values(without_counts(one)).case.routine.counts == ()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (("300 s", "2", "many", "1"), 'Taken must be a whole number, got "many"'),
        (("300 s", "2", "40", "41"), "spoiled must be at most the 40 subs taken, got 41"),
        (("300", "2", "40", "1"), "sub_length needs a unit"),
    ],
)
def test_bad_counts_keep_the_plan(panel, typed, words):
    before = panel.plan
    for box, text in zip(
        (panel.losses.length, panel.losses.every, panel.losses.taken, panel.losses.spoiled), typed, strict=True
    ):
        box.value = text
    panel.losses.add.click()
    assert words in html.unescape(panel.losses.row.wrong.value)
    assert panel.plan is before


def test_learned_losses_that_are_not_known_are_not_used():
    with pytest.raises(ValueError, match="don't tell the two losses apart"):
        learned_changes(None)


# ---- what to shoot


@pytest.fixture(scope="module")
def ranked(night):
    steps = rank_steps(night.case, (), night.evening.date)
    shares = []
    while True:
        try:
            shares.append(next(steps))
        except StopIteration as end:
            assert shares == sorted(shares)
            assert shares[-1] == 1
            return end.value


def test_the_list_holds_all_and_says_how_many(ranked):
    assert len(rank_table(ranked).rows) == len(ranked)
    month = sum(one.month is not None for one in ranked)
    assert f"{month} of {len(ranked)} regions reach" in sentence(ranked, dt.date(2026, 10, 10))
    nights = [bar.nights for bar in rank_bars(ranked)]
    assert nights == sorted(nights)


def test_choosing_one_brings_it_into_the_plan(panel, ranked):
    panel._know_rank(ranked)
    name = panel.shoot.choice.menu.options[-1]
    panel.shoot.choice.menu.value = name
    panel.shoot.bring.click()
    assert panel.plan.case.target.name == name
    assert panel.pick.value == TONIGHT
    assert name in panel.entries["name"].box.value


def test_every_line_of_the_list_says_light_and_filter(ranked):
    rows = {one.candidate.name: one for one in ranked}
    for row in rank_table(ranked).rows:
        one = rows[row[0]]
        assert row[1] == (one.carried_by or "none")
        assert (one.carried_by is None) == (one.filter_name is None)
    for bar in rank_bars(ranked):
        one = rows[bar.name]
        assert re.match(f"{re.escape(one.filter_name)} for .", one.carried_by)
        assert one.carried_by in bar.words
        assert one.carried_by in say_ranked(one)


# ---- many filters


SIX = ("H-alpha 5 nm", "O III 5 nm", "S II 5 nm", "H-alpha 3 nm", "O III 3 nm", "H-beta 5 nm")
MIDDLE = {"H-alpha": 656.3, "O III": 500.7, "S II": 672.0, "H-beta": 486.1}


@pytest.fixture(scope="module")
def six(mono):
    light = [{"line": name, "brightness": "12 R"} for name in MIDDLE]
    filters = []
    for name in SIX:
        middle, width = MIDDLE[name[:-5]], name[-4:]
        filters.append({"name": name, "passbands": [{"centre": f"{middle} nm", "width": width, "peak": 0.88}]})
    return tonight_of(mono.with_values({("target", "light"): light, ("filters",): filters}).case)


def test_eight_filters_are_told_apart_without_colour():
    for part in ("colour", "dash", "hatch", "marker", "hatch_words"):
        assert len({getattr(filter_look(number), part) for number in range(8)}) == 8, part


def test_each_of_six_filters_has_its_own_marks_on_line_words_and_block(six):
    tonight = TonightFigure(evening(six), ticks(six), bars(six))
    season_ = SeasonPair(six.campaign).hours
    for marks, words in ((tonight.marks.data, tonight.below.data), (season_.marks.data, season_.ends.data)):
        places = dict(zip(words["words"], words["y"], strict=True))
        for number, name in enumerate(SIX):
            look = filter_look(number)
            mine = [
                (x, y)
                for x, y, marker, colour in zip(*(marks[key] for key in ("x", "y", "marker", "colour")), strict=True)
                if marker == look.marker and colour == look.colour
            ]
            assert len(mine) >= 5
            assert mine[-1] == (words["x"][0], places[name])
        assert len(set(zip(marks["x"], marks["y"], strict=True))) == len(marks["x"])  # no mark hides another
    blocks = tonight.blocks.data
    assert blocks["marker"] == [filter_look(bar.number).marker for bar in bars(six)]
    assert all(a < m < b for a, m, b in zip(blocks["begin"], blocks["middle"], blocks["end"], strict=True))


def test_marks_of_lines_with_gaps_and_of_none():
    gap = np.array([np.nan, 1.0, 2.0, np.nan])
    found = mark_columns(np.arange(4.0), (gap, np.full(4, np.nan)), ((9.0, 1.5), (9.0, np.nan)))
    assert set(found["marker"]) == {filter_look(0).marker}
    assert set(found["x"]) == {1.0, 2.0, 9.0}


# ---- the panel


def test_pictures_draw_and_their_tables_open(panel):
    panel.table.button.value = panel.blocks_table.button.value = True
    for name in (SEASON, NIGHTS, DITHER, TONIGHT):
        panel.pick.value = name
        assert panel.stage.figures[name].widget.layout.display is None
        assert "<table" in panel.table.body.value
        assert all(
            other == name or figure.widget.layout.display == "none" for other, figure in panel.stage.figures.items()
        )
    assert "<table" in panel.blocks_table.body.value
    assert PICTURES == (TONIGHT, SEASON, NIGHTS, DITHER, SHOOT)


def test_a_turned_slider_moves_curves_words_and_blocks(panel):
    before = dict(panel.stage.figures[TONIGHT].worth.data), spoken(panel)
    panel.numbers["horizon"].slider.value = 40
    assert panel.plan.case.site.horizon == ((0.0, 40.0),)
    assert panel.stage.figures[TONIGHT].worth.data["worth_0"] != before[0]["worth_0"]
    assert spoken(panel) != before[1]


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("date", "someday", "must be a date"),
        ("latitude", "91 deg", "at most 90"),
        ("zone", "Mars/Olympus", "IANA"),
        ("position", "20h 45m", "right ascension and declination"),
        ("earliest", "25:00", "time of day"),
    ],
)
def test_bad_entries_leave_one_sentence_and_the_plan(panel, name, text, words):
    before = panel.plan, spoken(panel)
    panel.entries[name].box.value = text
    assert words in html.unescape(panel.entries[name].wrong.value)
    assert (panel.plan, spoken(panel)) == before


def test_entries_say_what_the_plan_holds_and_take_it_back(panel):
    for name in knobs.ENTRIES:
        panel.entries[name].box.value = ""
    assert panel.plan.case.site.latitude is None
    panel.entries["latitude"].box.value = "-33.9 deg"
    panel.entries["longitude"].box.value = "18.5 deg"
    panel.entries["zone"].box.value = "Africa/Johannesburg"
    panel.entries["date"].box.value = "2026-01-10"
    panel.entries["position"].box.value = "5h 38m, -69d 6m"
    assert panel.night.windows
    assert knobs.entry_shown(panel.plan, "position") == "5h 38m, -69d 6m"


def test_each_number_of_a_filter_for_several_lights_names_the_one_that_decides(night):
    there = {
        ("target", "right_ascension"): "20h 45m 38s", ("target", "declination"): "+30d 43m",
        ("target", "altitude"): None, ("night", "date"): "2026-10-24",
    }  # fmt: skip
    colour = tonight_of(Plan.read(NOTEBOOKS / COLOUR).with_values(there).case)
    (reference,) = colour.nights.references
    assert len(reference.light_h) == 2
    named = f"Dual 6 nm for {reference.light} in {colour_word(reference.pixels)}"
    assert reference.light == max(reference.light_h, key=lambda light: reference.light_h[light])
    assert evening(colour).names == (named,)
    assert f"in {named}" in " ".join(schedule_sentences(colour))
    assert f"In {named} the fewest hours" in dither(colour, "Dual 6 nm").sentences[1]
    for one in night.nights.references:  # a filter for one light needs no such word
        assert one.shown == one.filter_.shown_name
    assert " for H-alpha" not in " ".join(schedule_sentences(night))


def test_markup_in_names_stays_text(demo_folder):
    plan = Plan.read(demo_folder / MONO).with_values({("title",): MARKUP, ("target", "name"): MARKUP[:40]})
    (demo_folder / "plans" / "odd.toml").write_text(plan.to_toml())
    panel = NightPanel("plans/odd.toml", demo_folder)
    panel.table.button.value = panel.blocks_table.button.value = True
    for name in PICTURES[:4]:
        panel.pick.value = name
    written = panel.verdict.widget.value + panel.table.body.value + panel.blocks_table.body.value
    assert "<img" not in written + panel.plan_row.title.value
    assert html.escape(MARKUP) in panel.plan_row.title.value


def test_the_colour_plan_opens_too(demo_folder):
    panel = NightPanel(COLOUR, demo_folder)
    assert "right_ascension and declination" in spoken(panel)


# ---- what leaves the workbook


def test_the_calendar_reads_back(night):
    events = [part for part in Calendar.from_ical(to_calendar(night)).walk("VEVENT")]
    assert len(events) == len(night.blocks)
    for event, block in zip(events, night.blocks, strict=True):
        assert event.decoded("dtstart").timestamp() == pytest.approx(block.begin_s, abs=1)
        assert event.decoded("dtend").timestamp() == pytest.approx(block.end_s, abs=1)
        assert str(event["summary"]).startswith(block.filter_name)
        assert CAUTIONS[0] in str(event["description"])


def test_tables_read_back_and_agree_with_the_command(night):
    blocks = night_json(night)["blocks"]
    ecsv = Table.read(to_ecsv(night), format="ascii.ecsv")
    csv = Table.read(to_csv(night), format="ascii.csv")
    for table in (ecsv, csv):
        assert list(table["filter"]) == [block["filter"] for block in blocks]
        assert list(table["subs"]) == [block["subs"] for block in blocks]
        assert list(table["equivalent_dark_h"]) == pytest.approx([block["equivalent_dark_h"] for block in blocks])
    assert str(ecsv["sub_s"].unit) == "s"
    assert ecsv.meta["cautions"] == list(CAUTIONS)


def test_the_field_sheet_is_plain_and_says_what_one_takes_outside(night):
    text = field_text(night)
    assert text.isascii()
    assert max(map(len, text.splitlines())) <= 60
    for words in (
        "Focus again",
        "median",
        "ADU",
        "Stop at 03:06",
        "Storage",
        "of 500 Wh",
        "near sunrise",
        "Sun",
        "drive",
    ):
        assert words in text.replace("\n", " "), words


@pytest.mark.parametrize("hour", [None, 22.5, 1.0, 3.2])
def test_the_field_sheet_says_what_to_do_after_a_cloud_as_the_panel_does(night, panel, hour):
    until = usual_cloud_s(night.blocks) if hour is None else night.evening.after_noon(hour)
    words = cloud_sentence(night, until)
    text = " ".join(field_text(night, None if hour is None else until).split())
    assert words in text
    assert text.count("cloudy") == 1
    panel.cloud.box.value = night.evening.clock(until)
    assert words in spoken(panel)
    assert words in " ".join(panel._written(FORMATS[0]).split())


def test_without_blocks_no_cloud_is_spoken_of(mono):
    assert "cloudy" not in field_text(tonight_of(mono.with_values({("site", "latitude"): "-60 deg"}).case))


def test_the_usual_cloud_ends_at_a_full_hour_within_the_blocks(mono):
    for day in ("2026-09-01", "2026-10-10", "2026-12-01"):
        blocks = tonight_of(mono.with_values({("night", "date"): day}).case).blocks
        until = usual_cloud_s(blocks)
        assert blocks[0].begin_s < until < blocks[-1].end_s
        assert until % 3600 == 0
    short = [dataclasses.replace(blocks[0], begin_s=1000.0, end_s=4000.0)]
    assert usual_cloud_s(short) == 2520


def test_a_night_without_time_says_when_there_is_some(mono):
    night = tonight_of(mono.with_values({("site", "latitude"): "65 deg", ("night", "date"): "2026-06-20"}).case)
    found = said(night, night.campaign)
    assert "the Sun never sinks below -18 deg" in found.headline
    (words,) = found.rest
    date = dt.date.fromisoformat(re.search(r"that of (\S+)\.", words)[1])
    assert tonight_of(night.case, date).windows
    assert not any(tonight_of(night.case, date - dt.timedelta(days=n)).windows for n in (1, 2, 10))
    below = tonight_of(mono.with_values({("target", "declination"): "-80d 0m"}).case)
    assert "No night until 2027-10-09 has time to image it." in " ".join(said(below, below.campaign).rest)


def test_supplies_that_do_not_last_are_said(mono):
    short = tonight_of(mono.with_values({("night", "battery"): "10 W h", ("night", "storage"): "1 Gbyte"}).case)
    assert field_text(short).count("not enough") == 2
    assert " ".join(said(short, short.campaign).rest).count("not enough") == 2
    plenty = tonight_of(mono.case)
    assert "not enough" not in field_text(plenty) + " ".join(said(plenty, plenty.campaign).rest)


def test_a_formula_in_a_name_stays_text(mono):
    filters = [dict(one) for one in mono.values["filters"]]
    filters[0]["name"] = "=1+1"
    assert "\n'=1+1," in to_csv(tonight_of(mono.with_values({("filters",): filters}).case))


def test_exports_write_files(panel, demo_folder):
    (row,) = [
        part for part in panel.widget.children if getattr(part, "children", ()) and "Write as" in str(part.children[0])
    ]
    buttons = {child.description: child for child in row.children[0].children if hasattr(child, "description")}
    for form in FORMATS:
        buttons[form.name].click()
        assert (demo_folder / f"tonight{form.suffix}").read_text(encoding="utf-8")
