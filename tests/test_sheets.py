"""What leaves the workbook as a file, read back by the standard reader of its kind."""

import csv
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import astropy.units as u
import pytest
from astropy.table import Table

from expocalc.base.words import colour_word, say_duration
from expocalc.night.night import tonight_of
from expocalc.night.words import second_best
from expocalc.plan import Plan, PlanError, as_json
from workbook.parts.export_row import ExportRow
from workbook.parts.file_names import write_free
from workbook.parts.reading import reading_as
from workbook.sheets import FORMATS
from workbook.sheets.card import LADDER, SKIES, to_card
from workbook.sheets.field import MOST_LINES, WIDTH, field_sheet
from workbook.sheets.night import night
from workbook.sheets.page import to_html
from workbook.sheets.table import to_csv, to_ecsv, to_json, unit_of

NOTEBOOKS = Path(__file__).parents[1] / "notebooks"
PLANS = ("mono-single-lines", "colour-dual-band")
MARKUP = "<script>alert(1)</script> & <b>shell</b>"
CAUSES = ("target", "sky", "dark", "read", "quantisation", "calibration")
PLAIN = {
    "filter", "light", "colour", "bounded_by", "subs_to_shoot", "subs_kept", "snr_pixel_one_sub", "snr_patch",
    "snr_ceiling", *(f"noise_share_{name}" for name in CAUSES),
}  # fmt: skip


def demo(name=PLANS[0]):
    return Plan.read(NOTEBOOKS / "plans" / f"{name}.toml")


def solved(plan):
    found = plan.solve()
    return found, plan.spread(found)


def words_of(plan):
    return night(plan.case, *solved(plan))


def filters(*names):
    return [{"name": name, "passbands": [{"centre": "656.3 nm", "width": "5 nm"}]} for name in names]


def crowded():
    """As many and as long names as a plan may hold, and lengths that differ."""
    long = "Very long name with spaces, " * 7
    plan = demo().with_values({("filters",): filters(*(f"{number} {long}"[:200] for number in range(100)))})
    return plan.with_values(
        {
            ("title",): "W" * 200,
            ("target", "name"): "m " * 100,
            ("target", "right_ascension"): "20h 45m 38s",
            ("target", "declination"): "+30d 43m",
            ("camera", "gain"): "G" * 180,
            ("camera", "gains"): {"G" * 180: demo().values["camera"]["gains"]["high"]},
            ("routine", "biases"): 100_000,
        }
    )


def awkward(kind):
    """Plans whose answer has gaps."""
    return demo().with_values(
        {
            "hopeless": {("routine", "background_flatness"): 0.5},
            "dark filter": {
                ("filters",): filters("H-alpha 5 nm", "empty"),
                ("filters", 1, "passbands", 0, "centre"): "800 nm",
            },
            "no bias level": {("camera", "gains", "high", "bias_level"): None},
            "no calibration": {
                ("routine", "darks"): "none",
                ("routine", "flats"): "none",
                ("routine", "dither_every"): None,
            },
            "star": {("target", "light"): [{"star": "15 mag"}]},
        }[kind]
    )


AWKWARD = ("hopeless", "dark filter", "no bias level", "no calibration", "star")


@pytest.fixture(params=[*PLANS, *AWKWARD])
def plan(request):
    return demo(request.param) if request.param in PLANS else awkward(request.param)


def rounded(data):
    """Plain data with five figures, as files hold it."""
    return json.loads(json.dumps(data), parse_float=lambda text: float(f"{float(text):.5g}"))


def flat(plan):
    """Rows as the command's JSON has them, the noise shares beside the rest."""
    rows = rounded(as_json(*solved(plan))["rows"])
    return [
        {**{key: value for key, value in row.items() if key != "noise_share"}}
        | {f"noise_share_{name}": share for name, share in row["noise_share"].items()}
        for row in rows
    ]


def test_the_goal_is_said_for_each_light_that_a_filter_is_for():
    assert words_of(demo()).goal == "SNR 10 in a patch of 15 arcsec: H-alpha 12.0 R, O III 15.0 R"
    lights = [
        {"line": "H-alpha", "brightness": "12 R"},
        {"line": "O III", "brightness": "15 R", "snr": 5, "patch": "30 arcsec"},
        {"continuum": "25 mag/arcsec2"},
        {"star": "15 mag"},
    ]
    wanted = {("filters", 0, "wanted"): ["H-alpha", "star"], ("filters", 1, "wanted"): ["O III"]}
    assert words_of(demo().with_values({("target", "light"): lights, **wanted})).goal == (
        "SNR 10 in a patch of 15 arcsec: H-alpha 12.0 R; SNR 5 in a patch of 30 arcsec: O III 15.0 R; "
        "SNR 10: star 15.0 mag"
    )


def test_csv_reads_back_as_the_rows_of_the_json(plan):
    read = list(csv.DictReader(io.StringIO(to_csv(plan, *solved(plan)), newline="")))
    for row, wanted in zip(read, flat(plan), strict=True):
        assert list(row)[: len(wanted)] == list(wanted)
        for key, value in wanted.items():
            if value is None:
                assert row[key] == ""
            else:
                assert (row[key] if isinstance(value, str) else float(row[key])) == value


def test_ecsv_reads_back_with_units_gaps_and_meta(plan):
    found = plan.solve()
    table = Table.read(to_ecsv(plan, found, plan.spread(found)), format="ascii.ecsv")
    for number, wanted in enumerate(flat(plan)):
        for key, value in wanted.items():
            cell = table[key][number]
            assert (getattr(cell, "mask", False) or cell == "") if value is None else cell == value
    assert table.meta["title"] == plan.case.title
    assert table.meta["verdicts"] == {one.filter_name: one.verdict for one in found.filters}
    assert table["sub_s"].quantity[0].to_value(u.min) == pytest.approx(found.rows[0].sub_s / 60)
    assert table["sky_electron_s"].unit == u.electron / u.s
    assert table["pixel_scale_arcsec"].unit == u.arcsec / u.pix
    assert table["expected_median_adu_above_bias"].unit == u.adu
    assert (1 * table["storage_gb"].unit).to_value(u.byte) == pytest.approx(1e9)


def test_every_column_has_a_unit_or_is_known_to_need_none():
    columns = next(csv.reader(io.StringIO(to_csv(demo(), *solved(demo())))))
    texts = {"goal_snr", "input_sky_reading", "input_gain", "input_snr"}
    texts |= {"filter_light", "filter_colour", "filter_subs_to_shoot"}
    assert {key for key in columns if unit_of(key) is None} == PLAIN | texts


def test_the_table_holds_what_went_in_and_each_filters_totals(plan):
    found, hours = solved(plan)
    for row in csv.DictReader(io.StringIO(to_csv(plan, found, hours), newline="")):
        one = next(one for one in found.filters if one.filter_name == row["filter"])
        assert row["filter_clock_h"] == ("" if one.clock_h is None else f"{float(f'{one.clock_h:.5g}')}")
        assert (row["filter_light"], row["filter_colour"]) == (one.neediest.light or "", one.neediest.colour or "")
        assert row["filter_subs_to_shoot"] == ("" if one.shot is None else str(one.shot))
        assert float(row["input_aperture_mm"]) == plan.case.telescope.aperture.value
        assert " mag/arcsec2 (" in row["input_sky_reading"]


def test_json_is_what_the_command_prints_with_the_plan_and_sums(plan):
    read = json.loads(to_json(plan, *solved(plan)))
    assert Plan.parse(plan.to_toml(), plan.folder).values == plan.values
    assert read.pop("inputs") == json.loads(json.dumps(plan.values, default=str))
    total = read.pop("total")
    assert read == rounded(as_json(*solved(plan)))
    lit = {row["filter"] for row in read["rows"] if row["light"]}
    hours = [one["clock_h"] for one in read["filters"] if one["filter"] in lit]
    assert total["clock_h"] == (None if None in hours else pytest.approx(sum(hours), rel=1e-4))


@pytest.mark.parametrize("name", ["=1+1", "+A1", "-2", "@SUM(A1)"])
def test_a_name_is_no_formula_to_a_spreadsheet(name):
    plan = demo().with_values({("filters", 0, "name"): name})
    found = plan.solve()
    row = next(csv.DictReader(io.StringIO(to_csv(plan, found, plan.spread(found)), newline="")))
    assert row["filter"] == f"'{name}"
    assert float(row["sub_s"]) > 0


def test_the_field_sheet_fits_and_is_plain(plan):
    sheet(plan)


def test_the_field_sheet_of_the_largest_plan_fits_and_counts_what_it_leaves_out():
    text = sheet(crowded())
    left_out = int(re.search(r"and (\d+) filters more", text)[1])
    assert left_out + len(re.findall(r"^\d+ Very long", text, re.M)) == 100


def sheet(plan):
    text = field_sheet(plan.case, *solved(plan))
    lines = text.splitlines()
    assert len(lines) <= MOST_LINES == 40
    assert max(map(len, lines)) <= WIDTH == 60
    assert text.isascii()
    assert all(line.isprintable() for line in lines)
    return text


def test_seven_filters_find_room_on_the_field_sheet():
    names = ("L", "R", "G", "B", "H-alpha", "O III", "S II")
    text = sheet(demo().with_values({("filters",): filters(*names)}))
    assert all(re.search(rf"^{name} +\d", text, re.M) for name in names)


def test_the_field_sheet_says_what_the_night_needs():
    text, found = sheet(demo()), demo().solve()
    for one, row in zip(found.filters, found.rows, strict=True):
        line = next(line for line in text.splitlines() if line.startswith(one.filter_name))
        words = line.removeprefix(one.filter_name).split()
        assert words[:3] == ["5", "min", str(one.shot)]
        assert float(words[5]) == pytest.approx(row.median_adu, rel=0.005)
    spaced = re.sub(r"\s+", " ", text)
    for word in ("outer shell", "gain high", "-10 C", "every 2 subs", "25 deg", "40 of 5 min", "24500 ADU", "sunrise"):
        assert word in spaced


def test_sheet_and_page_say_what_to_do_after_a_cloud():
    plan = demo()
    words = second_best(tonight_of(plan.case))
    assert words.startswith("If it is cloudy until")
    assert words in Page(to_html(plan.case, *solved(plan))).words
    assert words in " ".join(sheet(plan).replace("Cloud ", "").split())
    nowhere = demo(PLANS[1])  # a plan without coordinates
    assert "cloudy" not in sheet(nowhere) + to_html(nowhere.case, *solved(nowhere))


def test_signs_and_accents_are_spelt_in_ascii():
    text = sheet(demo().with_values({("title",): "Schleier, Süd – Hα 5″", ("filters", 0, "name"): "Синий"}))
    assert text.startswith("Schleier, Sud - Halpha 5 arcsec\n")
    assert "\n????? " in text


@pytest.mark.parametrize("name", PLANS)
def test_sky_times_two_is_what_a_plan_with_twice_the_sky_expects(name):
    plan = demo(name).with_values({("camera", "temperature"): "15 deg_C"})  # dark current does not double
    found = plan.solve()
    words = words_of(plan).filters[0]
    row = max((row for row in found.rows if row.filter_name == words.name), key=lambda row: row.shot)
    twice = f"{2 * row.sky_e_s} electron/s"
    measured = {words.name: dict.fromkeys("RGB", twice) if row.colour else twice}
    brighter = plan.with_values({("sky", "measured"): measured, ("routine", "sub_length"): f"{row.sub_s} s"})
    other = next(one for one in brighter.solve().rows if (one.filter_name, one.light) == (row.filter_name, row.light))
    number = float(dict(pair.rpartition(" ")[::2] for pair in words.twice.split(", "))[row.colour or ""])
    assert number == pytest.approx(other.median_adu, rel=0.005)


def test_what_is_not_known_is_not_invented():
    words = words_of(awkward("no bias level"))
    assert words.filters[0].median.startswith("bias+")
    words = words_of(awkward("no calibration"))
    assert dict(words.calibration) == {"Darks": "none planned", "Flats": "none planned"}
    assert words.dither == "none planned"
    words = words_of(awkward("hopeless"))
    assert {words.filters[0].shoot, words.filters[0].clock, words.total.shoot} == {"-"}


class Page(HTMLParser):
    """Tags, attributes and text of a page."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.attributes, self.words = [], {}, []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes.update(attrs)

    def handle_data(self, data):
        self.words.append(data)


def test_the_page_is_text_in_black_and_white_without_script_or_address(plan):
    named = plan.with_values({("title",): MARKUP, ("target", "name"): MARKUP, ("filters", 0, "name"): MARKUP})
    html = to_html(named.case, *solved(named))
    page = Page(html)
    assert not {"script", "img", "link", "iframe", "a", "b"} & set(page.tags)
    assert set(page.attributes) <= {"lang", "charset", "http-equiv", "content", "scope", "class"}
    assert "//" not in html
    assert "url(" not in html
    assert set(re.findall(r"#[0-9a-f]{3,6}\b", html)) == {"#fff", "#000"}
    assert page.words.count(MARKUP) >= 3  # title, heading and table
    assert page.tags.count("h1") == page.tags.count("title") == page.tags.count("table") - 1 == 1


def test_the_page_holds_every_filters_numbers():
    page = Page(to_html(demo().case, *solved(demo())))
    for one in night(demo().case, *solved(demo())).filters:
        at = page.words.index(one.name)
        cells = [word for word in page.words[at : at + 10] if word.strip()]
        hours = [one.kept, one.likely, one.clock]
        assert cells[:9] == [one.name, one.sub, one.shoot, *hours, one.storage, one.median, one.twice]


def test_the_likely_hours_are_the_range_of_the_command():
    found, hours = solved(demo())
    for one in words_of(demo()).filters:
        middle, low, high = map(float, re.fullmatch(r"([\d.]+) h, ([\d.]+) to ([\d.]+) h", one.likely).groups())
        span = hours.filters[one.name]
        assert (middle, low, high) == pytest.approx((span.p50_h, span.p10_h, span.p90_h), rel=0.05)
    assert [row["hours_p10"] for row in json.loads(to_json(demo(), found, hours))["rows"]] == rounded(
        [row.range.p10_h for row in hours.rows]
    )
    assert words_of(awkward("hopeless")).filters[0].likely == "-"


@pytest.fixture
def row(tmp_path):
    return ExportRow(tmp_path, demo)


def test_each_button_writes_its_file_and_says_so(row, tmp_path):
    for form in FORMATS:
        row.buttons[form.name].click()
        path = tmp_path / f"project{form.suffix}"
        assert path.read_bytes().decode() == form.write(demo(), *solved(demo()))
        assert f"Wrote {path.name} in {tmp_path}" in row.said.value
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(f"project{form.suffix}" for form in FORMATS)


def test_no_file_is_ever_replaced(row, tmp_path):
    (tmp_path / "project.csv").write_text("mine")
    (tmp_path / "project-2.csv").symlink_to(tmp_path / "nowhere")
    row.buttons["CSV"].click()
    assert (tmp_path / "project.csv").read_text() == "mine"
    assert not (tmp_path / "nowhere").exists()
    assert "Wrote project-3.csv" in row.said.value
    assert (tmp_path / "project-3.csv").read_text().startswith("filter,")


BAD_NAMES = (
    "", " ", ".csv", "..", "../up", "/etc/up", "a/../../up", ".hidden", "a\nb", "a:b", 'a"b', "a\\b", "a/", "x" * 300,
    "no/such", "CON", "nul.csv", "end.", "half \ud83d",
)  # fmt: skip


@pytest.mark.parametrize("name", BAD_NAMES)
def test_a_bad_name_is_refused_in_one_sentence_and_leaves_nothing(row, tmp_path, name):
    row.name.value = name
    row.buttons["CSV"].click()
    assert 'class="expo-wrong"' in row.said.value
    assert not list(tmp_path.iterdir())
    assert not (tmp_path.parent / "up.csv").exists()


def test_a_typed_suffix_is_not_doubled(row, tmp_path):
    row.name.value = "two shells.csv"
    row.buttons["CSV"].click()
    assert [path.name for path in tmp_path.iterdir()] == ["two shells.csv"]


def test_a_plan_that_has_no_answer_writes_nothing(tmp_path):
    def broken():
        return demo().with_values({("camera", "quantum_efficiency"): [[650, 0.5], [660, 0.5]]})

    row = ExportRow(tmp_path, broken)
    row.buttons["JSON"].click()
    assert 'class="expo-wrong"' in row.said.value
    assert not list(tmp_path.iterdir())


def test_a_write_that_fails_leaves_no_empty_file(row, tmp_path, monkeypatch):
    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    row.buttons["CSV"].click()
    assert "No space left" in row.said.value
    assert not list(tmp_path.iterdir())


def test_names_that_are_all_taken_end_in_a_sentence(tmp_path, monkeypatch):
    monkeypatch.setattr("workbook.parts.file_names._MOST_NUMBERED", 3)
    for _ in range(2):
        write_free(tmp_path, "full", ".txt", "")
    with pytest.raises(PlanError, match="are taken"):
        write_free(tmp_path, "full", ".txt", "")


def test_every_colour_has_its_median():
    plan = demo("colour-dual-band")
    words, one = words_of(plan).filters[0], plan.solve().filters[0]
    read = dict(pair.split() for pair in words.median.split(", "))
    assert list(read) == ["R", "G", "B"]
    assert float(read[one.neediest.colour]) == pytest.approx(one.neediest.median_adu, rel=0.005)
    lines = sheet(plan).splitlines()
    assert f"  median {words.median}" in lines
    assert f"  sky x2 {words.twice}" in lines


def test_no_number_of_a_sheet_is_cut():
    few = {("goal", "snr"): 60, ("routine", "sub_length"): "12.5 s", ("routine", "longest_sub"): "20 s"}
    plan = demo().with_values(few | {("routine", name): None for name in ("darks", "flats", "biases", "pattern")})
    text, found = sheet(plan), plan.solve()
    for one in found.filters:
        line = next(line for line in text.splitlines() if line.startswith(one.filter_name[:9]))
        assert one.shot is None or str(one.shot) in line.split()
        assert ".." not in line.removeprefix(one.filter_name[:9])


def test_the_sheet_says_what_it_rests_on_and_how_many_nights_it_takes():
    plan = demo()
    spaced = re.sub(r"\s+", " ", sheet(plan))
    for word in ("19.10 mag/arcsec2", "H-alpha 12.0 R", "read noise 1.4 e-", "10 Oct 2026: dark, target up"):
        assert word in spaced
    hours, nights = re.search(r"([\d.]+) h; all of it takes at best ([\d.]+) such nights", spaced).groups()
    whole = sum(one.clock_h for one in plan.solve().filters)
    assert float(hours) * float(nights) == pytest.approx(whole, rel=0.05)
    nowhere = plan.with_values({("site", key): None for key in ("latitude", "longitude")})
    assert "give the plan a latitude" in re.sub(r"\s+", " ", sheet(nowhere))


@pytest.mark.parametrize("name", PLANS)
def test_the_card_holds_the_shortest_good_sub_and_the_hours_of_each_sky(name):
    plan = demo(name)
    html = to_card(plan, *solved(plan))
    cells = [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in re.findall(r"<tr>.*?</tr>", html)]
    rows = [[cell.partition("<br>")[0] for cell in row] for row in cells if row]
    filters_ = len(plan.case.filters)
    assert [len(row) for row in rows] == [len(SKIES)] * 2 * filters_ + [len(LADDER)] * filters_
    at = 4
    change = reading_as(plan, "zenith_brightness", f"{SKIES[at]} mag/arcsec2")
    for number, one in enumerate(plan.with_values(change).solve().filters):
        assert rows[number][at] == say_duration(one.neediest.sub_shortest_s)
        assert rows[filters_ + number][at] == say_duration(3600 * one.clock_h)
    for number, one in enumerate(plan.solve().filters):
        assert rows[2 * filters_ + number][list(LADDER).index(1)] == say_duration(3600 * one.clock_h)
    assert html.count('class="marked"') == 2 * (filters_ + 1)


def setter(one):
    """Whose the hours of a filter are, said without the function under test."""
    row = one.neediest
    if len(one.rates.lights) < 2:
        return ""
    return f"for {row.light}{f' in {colour_word(row.colour)}' if row.colour else ''}"


def two_lights(name, o3):
    """A plan with that brightness of O III beside H-alpha. [R]"""
    lights = [{"line": "H-alpha", "brightness": "12 R"}, {"line": "O III", "brightness": f"{o3} R"}]
    return demo(name).with_values({("target", "light"): lights})


@pytest.mark.parametrize("o3", [4, 8, 12, 16, 20, 40])
@pytest.mark.parametrize("name", PLANS)
def test_page_sheet_and_card_name_the_light_that_sets_the_hours(name, o3):
    plan = two_lights(name, o3)
    found, hours = solved(plan)
    page, text = to_html(plan.case, found, hours), sheet(plan)
    rows = re.findall(r'<tr><th scope="row">(.*?)</th>(.*?)</tr>', to_card(plan, found, hours))
    for at, one in enumerate(found.filters):
        whose = setter(one)
        assert bool(whose) == (name == "colour-dual-band"), "one light: no clutter"
        head = f"{one.filter_shown}<br>{whose}" if whose else one.filter_shown
        assert f'<th scope="row">{head}</th>' in page
        assert f"\n  {whose}\n" in text if whose else "\n  for " not in text
        count = len(found.filters)
        assert [rows[at][0], rows[count + at][0], rows[2 * count + at][0]] == [one.filter_shown, head, head]
        for mag, cell in zip(SKIES, re.findall("<td[^>]*>(.*?)</td>", rows[count + at][1]), strict=True):
            change = reading_as(plan, "zenith_brightness", f"{mag} mag/arcsec2")
            there = plan.with_values(change).solve().filters[at]
            light = "" if there.clock_h is None or setter(there) == whose else setter(there)
            assert cell.partition("<br>")[2] == light.replace(" in ", "<br>in ")


def test_the_card_is_text_in_black_and_white():
    named = demo().with_values({("title",): MARKUP, ("filters", 0, "name"): MARKUP})
    html = to_card(named, *solved(named))
    page = Page(html)
    assert not {"script", "img", "link", "iframe", "a", "b"} & set(page.tags)
    assert set(re.findall(r"#[0-9a-f]{3,6}\b", html)) == {"#fff", "#000"}
    assert page.words.count(MARKUP) >= 5
    assert "never" in to_card(awkward("hopeless"), *solved(awkward("hopeless")))
    assert "no light" in to_card(awkward("dark filter"), *solved(awkward("dark filter")))


def test_the_cards_ladder_climbs_by_each_lights_own_goal():
    lights = [
        {"line": "H-alpha", "brightness": "12 R"},
        {"line": "O III", "brightness": "15 R", "snr": 4, "patch": "30 arcsec"},
    ]
    plan = demo().with_values({("target", "light"): lights})
    html = to_card(plan, *solved(plan))
    assert "SNR 10 in a patch of 15 arcsec: H-alpha 12.0 R; SNR 4 in a patch of 30 arcsec: O III 15.0 R" in html
    for rung, times in enumerate(LADDER):
        goals = {("goal", "snr"): 10 * times, ("target", "light", 1, "snr"): 4 * times}
        for one in plan.with_values(goals).solve().filters:
            row = re.findall(rf'<th scope="row">{one.filter_name}</th>(.*?)</tr>', html)[2]
            assert re.findall("<td>(.*?)</td>", row)[rung] == say_duration(3600 * one.clock_h)


def test_no_sum_leaves_out_a_filter_that_never_gets_there():
    faint = [{"line": "H-alpha", "brightness": "12 R"}, {"line": "O III", "brightness": "0.01 R"}]
    plan = demo().with_values({("target", "light"): faint})
    found, hours = solved(plan)
    assert [one.clock_h is None for one in found.filters] == [False, True]
    assert words_of(plan).total.clock == "-"
    assert "such nights" not in words_of(plan).tonight
    assert json.loads(to_json(plan, found, hours))["total"]["clock_h"] is None
