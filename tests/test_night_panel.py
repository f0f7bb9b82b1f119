"""The night panel without a browser: what its models say, and what its widgets then hold."""

import datetime as dt
import html
import re
from pathlib import Path

import numpy as np
import pytest
from astropy.table import Table
from icalendar import Calendar

from expocalc.night.as_json import night_json
from expocalc.night.night import tonight_of
from expocalc.night.words import schedule_sentences, sky_sentences
from expocalc.plan import Plan
from workbook.night import NightPanel, knobs
from workbook.night.dither import dither, learned_changes, with_count, without_counts
from workbook.night.season import calendar, schedule_rows, season
from workbook.night.sheets import CAUTIONS, FORMATS, field_text, to_calendar, to_csv, to_ecsv
from workbook.night.shoot import rank_bars, rank_steps, rank_table, sentence
from workbook.night.tonight import bars, blocks_table, evening, evening_table, ticks
from workbook.night.verdict import DITHER, NIGHTS, PICTURES, SEASON, SHOOT, TONIGHT, said

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
    return html.unescape(re.sub(r"<[^>]+>", " ", panel.verdict.widget.value))


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
    assert sky_sentences(night)[0] in after.rest[-1]


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


def test_what_is_left_falls_to_nothing(night):
    rows = schedule_rows(night.campaign)
    assert rows[0].date == night.evening.date
    assert rows[-1].left == "nothing"
    assert all(row.left != "nothing" for row in rows[:-1])


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
    before = dict(panel.stage.figures[TONIGHT].lines.data), spoken(panel)
    panel.numbers["horizon"].slider.value = 40
    assert panel.plan.case.site.horizon == ((0.0, 40.0),)
    assert panel.stage.figures[TONIGHT].lines.data["worth_0"] != before[0]["worth_0"]
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
    for words in ("median", "ADU", "Stop at 03:06", "Storage", "of 500 Wh", "near sunrise", "Sun", "drive"):
        assert words in text.replace("\n", " "), words


def test_supplies_that_do_not_last_are_said(mono):
    short = tonight_of(mono.with_values({("night", "battery"): "10 W h", ("night", "storage"): "1 Gbyte"}).case)
    assert field_text(short).count("not enough") == 2


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
