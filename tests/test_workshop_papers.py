"""Slips and their tally, the card at the door, views, student copies, the handout and the command."""

import json
import math
import re
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from bokeh.models import ColumnDataSource
from scipy import stats

from workbook.copies import lay, shipped
from workbook.parts import dress
from workbook.parts.figures import quiet_figure, stand
from workbook.workshop import ready
from workbook.workshop.__main__ import main
from workbook.workshop.check_in import WHAT_TO_DO, CheckIn
from workbook.workshop.count import count
from workbook.workshop.handout import handout
from workbook.workshop.handout_numbers import altitude_rows, ladder_rows, moon_rows, noise_rows
from workbook.workshop.ready import check_speed, check_versions
from workbook.workshop.shown import NO_WIDGETS
from workbook.workshop.slip import SLIP_FILE, Slip, tally
from workbook.workshop.slip_questions import QUESTIONS
from workbook.workshop.students import CLOSED, YOUR_TURN, build, student_copy
from workbook.workshop.views import VIEWS, Views, style

RIGHT = {"grain": "10", "hours": "1,41", "dark-sky": "10 times", "read-noise": "4", "moon": "120 min"}


@pytest.fixture(autouse=True)
def plots_are_there(monkeypatch):
    monkeypatch.setenv("WORKBOOK_BOKEH", "1")  # as under the launcher: no 8 MB of library into each output


# What an outside law says about the five questions
LAWS = {
    "grain": stats.poisson(100).std(),
    "hours": math.sqrt(2),  # SNR of independent subs: the standard error of a mean
    "dark-sky": 10.0,  # variance of a Poisson count goes as its mean
    "read-noise": 4.0,  # variances add: equal shares need t proportional to the square
    "moon": 2.0,
}


@pytest.mark.parametrize("asked", QUESTIONS, ids=lambda asked: asked.key)
def test_the_model_answers_the_slip_as_the_laws_do(asked):
    assert asked.answer() == pytest.approx(LAWS[asked.key], rel=2e-3)
    assert asked.is_right(RIGHT[asked.key])
    for text in ("", "many", str(1.5 * LAWS[asked.key]), str(LAWS[asked.key] / 1.5)):
        assert not asked.is_right(text)


def test_a_slip_is_kept_and_there_again(tmp_path):
    slip = Slip("before", tmp_path)
    for key, text in RIGHT.items():
        slip.boxes[key].value = text
    assert "5 of 5" in slip.said.value
    assert json.loads((tmp_path / SLIP_FILE).read_text()) == {"before": RIGHT}
    assert {key: box.value for key, box in Slip("before", tmp_path).boxes.items()} == RIGHT
    assert not any(box.value for box in Slip("after", tmp_path).boxes.values())


def test_a_word_on_the_slip_is_kept_and_asked_about(tmp_path):
    slip = Slip("after", tmp_path)
    slip.boxes["moon"].value = "<b>some</b>"
    assert "not a number yet" in slip.said.value
    assert "<b>" not in slip.said.value
    assert json.loads((tmp_path / SLIP_FILE).read_text())["after"] == {"moon": "<b>some</b>"}
    slip.boxes["moon"].value = ""  # an answer may be taken back
    assert json.loads((tmp_path / SLIP_FILE).read_text())["after"] == {"moon": ""}


def test_a_slip_is_before_or_after():
    with pytest.raises(ValueError, match='when must be "before" or "after", got \'now\''):
        Slip("now")


def put(folder, name, before, after):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(json.dumps({"before": before, "after": after}))


def test_tally_adds_up_right_answers_before_and_after(tmp_path):
    put(tmp_path, "my-slip.json", {"grain": "50", "hours": "2"}, RIGHT)
    put(tmp_path / "table 2", "my-slip (2).json", {"grain": "10", "hours": ""}, {**RIGHT, "moon": "much"})
    (tmp_path / "slip-3.json").write_text("{damaged")
    (tmp_path / "slip-4.json").write_text("[]")
    (tmp_path / "Anna.json").write_text('{"before": {"grain": "10"}}')  # renamed, and counted all the same
    (tmp_path / "notes.json").write_text('{"a": 1}')
    (tmp_path / "my-blind-test.json").write_text('{"seed": {"seed": 7}, "picks": {}}')
    (tmp_path / "my-answers.json").write_text('{"guesses": {}}')
    found = count(tmp_path)
    assert found.slips == 3
    assert found.damaged == ("notes.json", "slip-3.json", "slip-4.json")
    by_key = {key: (found.scores["before", key], found.scores["after", key]) for key in RIGHT}
    assert [(s.right, s.answered) for s in by_key["grain"]] == [(2, 3), (2, 2)]
    assert [(s.right, s.answered) for s in by_key["hours"]] == [(0, 1), (2, 2)]
    assert [(s.right, s.answered) for s in by_key["moon"]] == [(0, 0), (1, 2)]
    assert found.sentences() == (
        "3 slips. Right answers: 2 of 4 before, 9 of 10 after.",
        "Could not be read, and left out: notes.json, slip-3.json, slip-4.json.",
    )
    assert ("2 of 3", "2 of 2") in {row[1:] for row in found.table().rows}


@pytest.mark.parametrize(
    "content",
    [
        '{"before": []}',
        '{"before": {"grain": {"a": 1}}, "after": 3}',
        '{"after": null}',
        '{"before": {"grain": [10]}}',
    ],
)
def test_tally_bears_odd_slips(tmp_path, content):
    (tmp_path / "slip.json").write_text(content)
    found = count(tmp_path)
    assert found.slips == 1
    assert sum(score.answered for score in found.scores.values()) == 0


def test_tally_of_a_huge_file_an_empty_or_a_missing_folder(tmp_path):
    assert "No slips here yet" in tally(tmp_path / "nowhere").count.sentences()[0]
    (tmp_path / "slip.json").write_text(" " * 200_000 + '{"before": {}}')
    assert tally(tmp_path).count.damaged == ("slip.json",)


def test_tally_shows_every_word_as_text(tmp_path):
    (tmp_path / "<b>slip.json").write_text("{")
    assert "<b>" not in tally(tmp_path).widget.children[1].value


def test_the_card_waits_for_the_browser():
    card = CheckIn()
    assert not card.ready
    assert "Not ready yet" in card.card.value
    assert all(step in card.card.value for step in WHAT_TO_DO)
    card.figure.set_from_json("inner_width", 640)  # as it arrives when the browser has laid the plot out
    assert "The browser drew a plot 640 px wide." in card.card.value
    assert card.ready
    assert "You are ready" in card.card.value
    assert WHAT_TO_DO[0] not in card.card.value


def test_slow_wrong_and_old_laptops_are_not_ready(monkeypatch):
    assert check_speed(limit_s=0.0).good is False
    assert re.search(r"in \d+\.\d\d s", check_speed().words)
    monkeypatch.setattr(ready.np, "std", lambda _: 9.0)
    found = check_speed()
    assert found.good is False
    assert "off what theory says" in found.words
    monkeypatch.setattr(
        ready, "requires", lambda _: ["numpy>=999", "no-such-package-here>=1", "scipy; extra == 'test'"]
    )
    found = check_versions()
    assert found.good is False
    assert "needs >=999" in found.words
    assert "no-such-package-here is missing" in found.words
    assert "scipy" not in found.words


def test_a_laptop_that_is_slow_for_a_moment_is_ready(monkeypatch):
    clock = iter([0.0, 9.0, 9.0, 9.1])
    monkeypatch.setattr(ready, "perf_counter", lambda: next(clock))
    found = check_speed()
    assert found.good
    assert "in 0.10 s" in found.words


def test_without_an_installation_versions_are_not_known(monkeypatch):
    def missing(_):
        raise ready.PackageNotFoundError

    monkeypatch.setattr(ready, "requires", missing)
    assert check_versions().good is None


def test_a_browser_without_live_boxes_shows_one_sentence():
    assert CheckIn()._repr_mimebundle_()["text/plain"] == NO_WIDGETS


def contrast(one, two):
    """WCAG 2 contrast of two colours (R, G, B from 0 to 1)."""

    def luminance(colour):
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(one), luminance(two)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("view", ["field-red", "field-amber"])
def test_letters_in_the_field_can_be_read(view):
    tint = re.findall(r'values="([^"]*)"', style(view))[-1].split()
    letter = (float(tint[0]), float(tint[6]), float(tint[12]))
    assert letter[2] == 0
    assert contrast(letter, (0, 0, 0)) >= 4.5
    assert max(letter) < 1


@pytest.mark.parametrize("view", ["field-red", "field-amber"])
def test_a_picture_keeps_its_greys_in_the_field(view):
    tables = re.findall(r'feFuncR type="table" tableValues="([^"]*)"', style(view))
    lift, back = ([float(number) for number in table.split()] for table in tables)
    greys = np.linspace(0, 1, 101)
    turned = np.interp(greys, np.linspace(0, 1, len(back)), back)
    shown = np.interp(1 - turned, np.linspace(0, 1, len(lift)), lift)
    assert shown == pytest.approx(greys, abs=0.02)


@pytest.fixture
def views():
    yield Views()
    Views().menu.value = "screen"


def test_projector_enlarges_figures_there_and_to_come(views):
    def drawn():
        fig = quiet_figure("A line.", title="t", height=200, min_border_right=100)
        source = ColumnDataSource({"x": [1], "y": [1], "w": ["a"]})
        fig.line("x", "y", source=source, line_width=2.5)
        fig.text("x", "y", "w", source=source, text_font_size="12px", x_offset=8)
        stand(fig)
        return fig

    def looks(fig):
        line, text = (renderer.glyph for renderer in fig.renderers)
        return (fig.title.text_font_size, fig.xaxis[0].axis_label_text_font_size, line.line_width, text.text_font_size,
                text.x_offset, fig.height, fig.min_border_right)  # fmt: skip

    before = drawn()
    plain = looks(before)
    views.menu.value = "projector"
    for fig in (before, drawn()):
        for name in ("title", "axis"):
            size = {"title": fig.title.text_font_size, "axis": fig.xaxis[0].axis_label_text_font_size}[name]
            assert float(size.removesuffix("px")) >= 32  # 24 pt
        assert looks(fig)[2] == 2 * plain[2]
        assert looks(fig)[6] > plain[6]
    assert Views().menu.value == "projector"  # running the cell again keeps the view
    views.menu.value = "screen"
    assert looks(before) == plain
    assert dress._today == [dress.DESK]


def test_every_view_has_rules_of_its_own():
    rules = [style(view) for view in VIEWS]
    assert len(set(rules)) == len(VIEWS)
    assert all("@media print" in one for one in rules)


def cell(kind="code", tags=(), source="6 * 7"):
    made = {
        "cell_type": kind,
        "id": "a",
        "metadata": {"tags": list(tags), "jupyter": {"source_hidden": True}},
    }
    return made | {"source": source} | ({"outputs": [{}], "execution_count": 2} if kind == "code" else {})


def test_student_copy_has_no_answers():
    original = {
        "metadata": {},
        "cells": [
            cell(tags=["live"]),
            cell(tags=["solution"]),
            cell("markdown", ["solution"]),
            cell("markdown", ["answer"]),
            cell(tags=["answer"]),
        ],
    }
    before = json.dumps(original)
    made = student_copy(original)
    assert [c["source"] for c in made["cells"]] == ["6 * 7", YOUR_TURN, "Your turn."]
    assert all(not c.get("outputs") and c.get("execution_count") is None for c in made["cells"])
    assert json.dumps(original) == before


def test_facilitators_page_is_closed():
    made = student_copy({"metadata": {"workbook": {"facilitator": True}}, "cells": [cell(), cell()]})
    assert [c["source"] for c in made["cells"]] == [CLOSED]


def test_the_shipped_copies_hold_no_answers_and_the_launcher_keeps_them(tmp_path):
    made = build(tmp_path / "stick")
    assert {path.name for path in made} == {path.name for path in (shipped() / "workshop").glob("*.ipynb")}
    text = "".join(path.read_text(encoding="utf-8") for path in made)
    originals = "".join(path.read_text(encoding="utf-8") for path in (shipped() / "workshop").glob("*.ipynb"))
    for secret in ("assert task.low", "folded away below", "Wrong answers you will hear"):
        assert secret in originals
        assert secret not in text
    before = {path: path.read_bytes() for path in (tmp_path / "stick").rglob("*") if path.is_file()}
    assert lay(shipped(), tmp_path / "stick") == []
    assert {path: path.read_bytes() for path in (tmp_path / "stick").rglob("*") if path.is_file()} == before


def test_building_again_renews_the_copies(tmp_path):
    first = build(tmp_path / "stick")
    contents = [path.read_bytes() for path in first]
    ran = json.loads(contents[0])
    ran["metadata"]["signature"] = "a notebook that was opened and saved"
    first[0].write_text(json.dumps(ran))
    assert [path.read_bytes() for path in build(tmp_path / "stick")] == contents
    assert lay(shipped(), tmp_path / "stick") == []


def test_building_over_a_launchers_copies_takes_the_answers_out(tmp_path):
    lay(shipped(), tmp_path / "stick")
    assert all("Wrong answers you will hear" not in path.read_text("utf-8") for path in build(tmp_path / "stick"))


def test_building_writes_over_no_notebook_that_somebody_changed(tmp_path):
    changed = build(tmp_path / "stick")[-1]
    changed.write_text("scribbled over")
    before = {path: path.read_bytes() for path in (tmp_path / "stick").rglob("*") if path.is_file()}
    with pytest.raises(FileExistsError):
        build(tmp_path / "stick")
    assert {path: path.read_bytes() for path in (tmp_path / "stick").rglob("*") if path.is_file()} == before
    (tmp_path / "other/workshop").mkdir(parents=True)
    (tmp_path / "other/workshop" / changed.name).write_text("theirs")
    with pytest.raises(FileExistsError):
        build(tmp_path / "other")
    assert [path.name for path in (tmp_path / "other").rglob("*") if path.is_file()] == [changed.name]


def test_a_handout_replaces_a_handout_and_no_other_file(tmp_path, capsys):
    sheet = tmp_path / "sheet.html"
    assert main(["handout", str(sheet)]) == 0
    assert main(["handout", str(sheet), "--paper", "letter"]) == 0
    assert sheet.read_text(encoding="utf-8") == handout("letter")
    capsys.readouterr()
    for content in (b"<h1>mine</h1>", b"\xff", b""):
        sheet.write_bytes(content)
        assert main(["handout", str(sheet)]) == 2
        assert sheet.read_bytes() == content
        assert capsys.readouterr().err == f"workshop: {sheet} is a file of yours and stays; name another place\n"
    assert main(["handout", "~nosuchuser/sheet.html"]) == 2
    assert capsys.readouterr().err.startswith("workshop: ")


def test_copies_are_not_built_over_the_originals():
    with pytest.raises(ValueError, match="FOLDER must not be the originals' own"):
        build(shipped() / "workshop")


def test_answers_of_the_originals_hold():
    """Each solution in the originals, run as it stands; it ends in an assert."""
    ran = 0
    for path in sorted((shipped() / "workshop").glob("*.ipynb")):
        for one in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            if "solution" in one["metadata"].get("tags", []):
                source = "".join(one["source"])
                assert source.splitlines()[-1].startswith("assert "), path.name
                exec(compile(source, path.name, "exec"), {})
                ran += 1
    assert ran == 5


def test_noise_table_follows_from_adding_variances():
    for times, noise, hours in noise_rows():
        k = float(times.removesuffix(" ×"))
        said_noise, said_hours = (float(text.removesuffix(" %")) / 100 for text in (noise, hours))
        assert said_hours == pytest.approx(1 / k, rel=0.03)
        assert said_noise == pytest.approx(math.hypot(1, math.sqrt(1 / k)) - 1, rel=0.04)


def test_ladder_is_the_square_root():
    for hours, snr in ladder_rows():
        assert float(snr) == pytest.approx(math.sqrt(float(hours)), rel=0.02)


def test_low_targets_and_moons_cost_more():
    low = [float(hours) for _, hours in altitude_rows()]
    assert low[0] == 1
    assert low == sorted(low)
    moons = [[float(number) for number in row] for _, *row in moon_rows()]
    for less, more in pairwise(moons):
        assert all(a <= b for a, b in zip(less, more, strict=True))
    assert all(number >= 1 for row in moons for number in row)
    full = moons[-1]
    assert full[0] < full[1]  # O III suffers more than H-alpha
    assert full[0] < full[2]  # a dark place more than a town


def test_handout_holds_its_parts_and_nothing_from_outside():
    sheet = handout("letter")
    assert "size: letter" in sheet
    assert "size: A4" in handout()
    for rows in (noise_rows(), ladder_rows(), altitude_rows(), moon_rows()):
        for row in rows:
            for word in row:
                assert f">{word}<" in sheet
    for part in ("Five numbers to measure", "My plan", "Take care", "Local rules", "read noise × read noise"):
        assert part in sheet
    assert not re.search(r"(?:src|href)=|url\(|<script|#[0-9a-f]{3,6}", sheet.replace("#fff", "").replace("#000", ""))


def test_an_unknown_paper_is_refused():
    with pytest.raises(ValueError, match="paper must be one of a4, letter, got 'a5'"):
        handout("a5")


def test_command(tmp_path, capsys):
    assert main(["handout", str(tmp_path / "sheet.html"), "--paper", "letter"]) == 0
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8") == handout("letter")
    assert main(["students", str(tmp_path / "stick")]) == 0
    assert (tmp_path / "stick" / "start.ipynb").is_file()
    assert "student copies" in capsys.readouterr().out
    (tmp_path / "file").write_text("")
    assert main(["students", str(tmp_path / "file")]) == 2
    assert main(["handout", str(tmp_path / "file" / "sheet.html")]) == 2
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 2
    assert all(line.startswith("workshop: ") for line in said)


def test_the_drawing_is_only_believed_with_a_width():
    card = CheckIn()
    card._drawn("inner_width", None, None)
    assert not card.ready
    assert SimpleNamespace(**{one.name: one.good for one in card.findings.values()}).Drawing is None
