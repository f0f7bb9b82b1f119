"""The workshop's experiments, blind test, own plan and lessons without a browser."""

import io
import json
import math
import re
import runpy
import time
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import textstat
from PIL import Image

from workbook.parts.png import png
from workbook.workshop.blind import BlindTest, _said, class_threshold
from workbook.workshop.blind_model import (
    LAPSE,
    SNRS,
    TILES,
    Answer,
    chance_right,
    fresh_seed,
    pictures,
    read_answers,
    rounds_of,
    threshold,
)
from workbook.workshop.experiments import EXPERIMENTS
from workbook.workshop.experiments.exercises import EXERCISES, exercise
from workbook.workshop.experiments.rig import demo, rig_of
from workbook.workshop.experiments.said import say
from workbook.workshop.experiments.shell import shoot
from workbook.workshop.experiments.view import Trial
from workbook.workshop.glossary_terms import TERMS

PLAIN = runpy.run_path(str(Path(__file__).with_name("on_screen.py")))["plain"]

LESSONS = sorted((Path(__file__).parents[1] / "notebooks" / "workshop").glob("[1-5]-*.ipynb"))
WORDS_A_MINUTE, MINUTES_A_TEST = 180, 2.5
"""Slow readers of plain prose (from memory); what the guide allows for a guess, a run, a look and a talk."""
MARKUP = "<img src=x onerror=alert(1)>"


@pytest.fixture(autouse=True)
def plots_are_there(monkeypatch):
    monkeypatch.setenv("WORKBOOK_BOKEH", "1")  # as under the launcher: no 8 MB of library into each output


def settings(experiment):
    """Where the dials stand first, and each dial at both its ends."""
    yield experiment.start
    for name, dial in experiment.dials.items():
        for end in (dial.low, dial.high):
            yield experiment.start | {name: end}


# The models


@pytest.mark.parametrize("name", EXPERIMENTS)
def test_an_experiment_shows_pictures_a_sentence_and_numbers_wherever_its_dials_stand(name):
    for values in settings(EXPERIMENTS[name]):
        found = EXPERIMENTS[name].run(**values)
        assert found.takeaway.endswith(".")
        assert found.basis.endswith(".")
        assert "nan" not in found.takeaway
        assert 2 <= len(found.tiles) <= 6
        for tile in found.tiles:
            assert max(tile.brightness.shape) <= 256
            assert tile.brightness.min() >= 0
            assert tile.brightness.max() <= 1
            assert tile.words
            assert tile.describes
        assert len(found.table.rows) == len(found.planned) == len(found.measured) == len(found.sigma)
        assert all(len(row) == len(found.table.head) for row in found.table.rows)
        if found.chart:
            assert all(
                np.isfinite(curve).all() and curve.shape == found.chart.x.shape for curve in found.chart.curves.values()
            )


@pytest.mark.parametrize("name", EXPERIMENTS)
def test_the_same_dials_give_the_same_pictures(name):
    one, two = (EXPERIMENTS[name].run(**EXPERIMENTS[name].start) for _ in range(2))
    assert [png(tile.brightness, tile.full) for tile in one.tiles] == [
        png(tile.brightness, tile.full) for tile in two.tiles
    ]
    assert (one.takeaway, one.measured) == (two.takeaway, two.measured)


@pytest.mark.parametrize("name", EXPERIMENTS)
def test_the_printed_lines_say_whether_pictures_agree(name):
    assert all(line.endswith(", and the pictures agree") for line in say(name).splitlines())


@pytest.mark.parametrize("name", EXPERIMENTS)
def test_what_agrees_is_seen_to_agree(name):
    """The formula's number, as it stands in the table, lies within the ± beside it."""
    for row in EXPERIMENTS[name].run(**EXPERIMENTS[name].start).table.rows:
        counted, chance = map(float, row[-1].split(" ± "))
        assert abs(float(row[-2]) - counted) <= chance, row


@pytest.mark.parametrize("name", ["short or long", "five per cent", "hours", "Moon", "lamps", "colder"])
def test_the_number_told_of_a_guess_stands_in_the_sentence_too(name):
    experiment = EXPERIMENTS[name]
    told = float(re.match(r"[\d.]+", experiment.ask.said(experiment.ask.truth()))[0])
    said = [float(one) for one in re.findall(r"\d+(?:\.\d+)?", experiment.run(**experiment.start).takeaway)]
    assert any(abs(one - told) <= 0.011 * max(told, 0.5) for one in said), (told, said)


def test_the_same_front_lens_takes_the_same_hours_where_the_lesson_begins():
    found = EXPERIMENTS["f-ratio"].run(**EXPERIMENTS["f-ratio"].start)
    assert "the same hours for the same patch" in found.takeaway
    assert "same hours for the same patch" in found.take_home
    steep = EXPERIMENTS["f-ratio"].run(reducer=0.7)
    assert "same hours" not in steep.takeaway + steep.take_home


def test_a_dither_costs_and_brings_what_the_same_habit_costs_and_brings():
    found = EXPERIMENTS["darks"].run(darks=20)
    every = demo().case.routine.dither_every
    light2 = rig_of(camera__temperature="15 deg_C").grain_e(300, 30) ** 2
    still, moved = (found.planned[at] ** 2 - light2 for at in (2, 3))
    assert moved / still == pytest.approx(every / 30, rel=0.05)  # what is not the light's own falls with each new place
    assert f"every {every:g} subs" in found.take_home


def test_the_printed_lines_can_disagree(monkeypatch):
    monkeypatch.setattr("workbook.workshop.experiments.said.CHANCE", 0.0)
    assert "do not agree" in say("hours")


def test_takeaways_hold_what_the_lesson_teaches():
    run = {name: experiment.run(**experiment.start) for name, experiment in EXPERIMENTS.items()}
    assert "which is 10 %. Four times the light halves that to 5 %" in run["photon rain"].takeaway
    assert "5 % more noise is 10 % more hours" in run["five per cent"].takeaway
    assert "times 1.41, not times 2" in run["hours"].takeaway
    assert "The clouds are made of grain." in run["noise reduction"].takeaway
    planned = {name: found.planned for name, found in run.items()}
    assert planned["histogram"][3] == pytest.approx(planned["histogram"][1], rel=0.005)
    assert planned["darks"][1] > planned["darks"][2] > planned["darks"][3]
    assert planned["Moon"][0] > planned["Moon"][1]
    assert planned["dark place"][0] < planned["dark place"][1] < planned["dark place"][2]


def test_without_read_noise_only_the_time_counts():
    found = EXPERIMENTS["short or long"].run(read_noise_e=0.0)
    assert found.planned == pytest.approx([found.planned[0]] * 3)
    assert found.takeaway.startswith("Without read noise all three are alike")


def test_a_true_nebula_shows_in_both_halves():
    assert EXPERIMENTS["noise reduction"].run(width_px=6.0, brightness_r=12.0).measured[0] > 0.5


def test_a_brighter_peak_fills_pixels_and_marks_them():
    tiles = EXPERIMENTS["histogram"].run(peak_percent=60.0).tiles
    full = [int(tile.full.sum()) for tile in tiles]
    assert full == sorted(full)
    assert full[0] == 0 < full[-1]
    assert f"{full[-1]} full pixels" in tiles[-1].words


# Pictures as files


def test_a_picture_is_a_file_that_others_read():
    brightness = np.linspace(0, 1, 12).reshape(3, 4)
    marked = np.zeros((3, 4), dtype=bool)
    marked[1, 2] = True
    seen = np.asarray(Image.open(io.BytesIO(png(brightness, marked))).convert("RGB"))
    grey = np.round(255 * brightness)
    grey[marked] = 0xD5
    assert seen[..., 0] == pytest.approx(grey, abs=1)
    assert seen[1, 2].tolist() == [0xD5, 0x5E, 0x00]


# The view


def test_nothing_is_shown_before_it_is_run(tmp_path):
    trial = Trial("hours", folder=tmp_path)
    assert trial.outcome is None
    assert trial.pictures.value == ""
    trial.numbers["brightness_r"].box.value = "20"
    assert trial.outcome is None
    trial.button.click()
    assert trial.pictures.value.count("<img ") == 5
    assert trial.outcome.takeaway in PLAIN(trial.verdict.widget.value)
    assert trial.values == {"brightness_r": 20.0}
    assert trial.chart.points.data["x"] == [1, 2, 5, 10, 40]


@pytest.mark.parametrize("name", EXPERIMENTS)
def test_each_experiment_runs_on_the_screen(name, tmp_path):
    trial = Trial(name, folder=tmp_path)
    trial.run()
    shown = trial.pictures.value
    assert len(re.findall(r'<img src="data:image/png;base64,[^"]+" alt="[^"]{20,}\.">', shown)) == len(
        trial.outcome.tiles
    )
    if trial.chart:
        assert trial.chart.fig.html_attributes["aria-label"].endswith(".")
        low, high = trial.chart.fig.y_range.start, trial.chart.fig.y_range.end
        assert all(low < y < high for y in trial.chart.points.data["y"])
        assert all(low <= y <= high for y in trial.chart.curves.data["label_y"])
    trial.table.button.value = True
    assert trial.table.body.value == trial.outcome.table.to_html()
    # a slider draws anew at once
    for number in trial.numbers.values():
        number.slider.value = number.slider.max
    assert trial.pictures.value != shown


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("a lot", "“a lot” is not a number yet; write one like 4 or 2,5."),
        ("", "The box is still empty; write a number like 4 or 2,5. Any guess is a good guess."),
        ("500", "Read noise: from 0 to 10 electrons here, so 500 is too much; try 1.4."),
        ("-1", "Read noise: from 0 to 10 electrons here, so -1 is too little; try 1.4."),
        ("3 s", "I can't use “s” here; write the number alone, in electron."),
    ],
)
def test_what_is_no_number_brings_one_kind_sentence_and_keeps_the_pictures(typed, said, tmp_path):
    trial = Trial("short or long", folder=tmp_path)
    trial.run()
    before = trial.outcome
    trial.numbers["read_noise_e"].box.value = typed
    assert said.replace("'", "&#x27;") in trial.numbers["read_noise_e"].wrong.value
    assert trial.outcome is before
    trial.numbers["read_noise_e"].box.value = "0,8 e-"
    assert trial.values == {"read_noise_e": 0.8}
    assert trial.numbers["read_noise_e"].wrong.value == ""
    assert trial.numbers["read_noise_e"].box.value == "0.8 electrons"


def test_a_run_that_is_refused_says_why(tmp_path, monkeypatch):
    trial = Trial("Moon", folder=tmp_path)

    def refuse(**_):
        msg = "separation must be 15 to 75 deg"
        raise ValueError(msg)

    monkeypatch.setattr(trial, "experiment", replace(trial.experiment, run=refuse))
    trial.run()
    assert "separation must be" in trial.wrong.value
    assert trial.outcome is None


def test_a_guess_is_judged_after_the_run_in_the_unit_asked_and_drawn(tmp_path):
    trial = Trial("hours", folder=tmp_path)
    trial.guess.box.value = "twice"
    assert "1.4" not in trial.guess.said.value
    trial.run()
    assert "You said twice, it is 1.4 times: close." in PLAIN(trial.verdict.widget.value)
    one = trial.experiment.run(**trial.experiment.start).planned[0]
    at = trial.chart.marks.data["name"].index("your guess")
    assert (trial.chart.marks.data["x"][at], trial.chart.marks.data["y"][at]) == (2.0, pytest.approx(2 * one))


def test_the_guess_is_read_back_as_text(tmp_path):
    trial = Trial("hours", folder=tmp_path)
    trial.guess.box.value = f"2 {MARKUP}"
    trial.run()
    assert "You said 2 &lt;img" in trial.verdict.widget.value


def test_a_guess_far_off_does_not_squeeze_the_curves(tmp_path):
    trial = Trial("hours", folder=tmp_path)
    trial.guess.box.value = "1000000"
    trial.run()
    assert trial.chart.marks.data["name"] == []
    assert "it is less than you thought" in trial.verdict.widget.value


@pytest.mark.parametrize("name", EXPERIMENTS)
def test_nothing_tells_the_answer_before_the_run(name, tmp_path):
    ask = EXPERIMENTS[name].ask
    trial = Trial(name, folder=tmp_path)
    html = " ".join(widget.value for widget in (trial.guess.said, trial.verdict.widget, trial.pictures))
    assert not re.sub("<[^>]*>", "", html).strip()
    assert not ask.choices or ask.truth() in ask.choices
    assert ask.choices or math.isfinite(ask.truth())


@pytest.mark.parametrize("name", [name for name, one in EXPERIMENTS.items() if one.ask.mark])
def test_a_right_guess_lies_on_a_curve_of_the_chart(name):
    experiment = EXPERIMENTS[name]
    x, y = experiment.ask.mark(experiment.ask.truth())
    chart = experiment.run(**experiment.start).chart
    scale = np.log if chart.log_x else np.asarray
    on_curve = [np.exp(np.interp(scale(x), scale(chart.x), np.log(curve))) for curve in chart.curves.values()]
    assert min(abs(np.divide(on_curve, y) - 1)) < 0.03


def test_two_open_copies_have_their_own_dials(tmp_path):
    one, two = Trial("hours", folder=tmp_path), Trial("hours", folder=tmp_path)
    one.numbers["brightness_r"].box.value = "30"
    assert two.values == {"brightness_r": 12.0}


# The blind test


@pytest.mark.parametrize("seed", range(40))
def test_each_strength_is_asked_twice_and_never_twice_in_a_row(seed):
    asked = rounds_of(seed)
    assert sorted(one.snr for one in asked) == sorted(2 * SNRS)
    assert asked[0].snr == max(SNRS)
    assert all(one.snr != other.snr for one, other in pairwise(asked))
    assert all(1 <= one.hidden <= TILES for one in asked)


def test_places_do_not_tell_and_each_test_has_its_own():
    places = [one.hidden for seed in range(600) for one in rounds_of(seed)]
    counts = np.bincount(places, minlength=TILES + 1)[1:]
    assert np.abs(counts / 1000 - 1).max() < 0.15  # 1000 each, 5 of their standard deviations
    assert rounds_of(1) != rounds_of(2)
    assert len({fresh_seed() for _ in range(5)}) > 1


def test_the_hidden_patch_stands_out_by_its_snr():
    for number, asked in enumerate(rounds_of(7)):
        six = pictures(7, number)
        inner = [tile[19:29, 19:29].mean() for tile in six]
        noise = np.mean([tile.std(ddof=1) for tile in np.delete(six, asked.hidden - 1, axis=0)])
        snr = (inner[asked.hidden - 1] - np.mean(np.delete(inner, asked.hidden - 1))) / noise * 10
        assert abs(snr - asked.snr) < 4 * math.sqrt(1 + 1 / 5)


def test_the_picture_stays_and_the_right_square_lights_up_before_it_goes_on(tmp_path):
    test = BlindTest(tmp_path)
    before = [image.value for image in test.images]
    hidden = rounds_of(test.seed)[0].hidden
    test.buttons[hidden - 1].click()
    assert f"Yes, it is picture {hidden}." in test.said.value
    changed = [tile for tile, image in enumerate(test.images, 1) if image.value != before[tile - 1]]
    assert changed == [hidden]
    assert "framed" in test.images[hidden - 1].value
    test.pick(1)  # pressed once more while the picture stands still
    assert test.picks == {"0": hidden}
    test.onward.click()
    assert "Round 2 of 10" in test.head.value
    assert not test.buttons[0].disabled


def test_picks_are_kept_and_the_test_goes_on_where_it_was_left(tmp_path):
    test = BlindTest(tmp_path)
    asked = rounds_of(test.seed)
    wrong = asked[0].hidden % TILES + 1
    test.pick(wrong)
    assert f"It is picture {asked[0].hidden}." in test.said.value
    again = BlindTest(tmp_path)
    assert (again.number, again.seed) == (1, test.seed)
    for one in asked[1:]:
        again.pick(one.hidden)
        again.go_on()
    assert again.number is None
    assert "9 of 10 were right" in again.said.value
    again.pick(1)  # pressed once too often
    assert "9 of 10 were right" in again.said.value
    assert "Tests: 1, picks: 10." in class_threshold(tmp_path).sentence
    again.start_over()
    assert BlindTest(tmp_path).number == 0


def test_another_player_has_a_test_of_their_own(tmp_path):
    test = BlindTest(tmp_path)
    test.pick(1)
    test.next_player()
    assert test.number == 0
    assert "Player 2." in test.head.value
    test.pick(2)
    assert BlindTest(tmp_path).player == 2
    assert "Tests: 2, picks: 2." in class_threshold(tmp_path).sentence


def test_damaged_and_foreign_files_are_left_out(tmp_path):
    assert "No tests here yet" in class_threshold(tmp_path).sentence
    (tmp_path / "a-blind-test.json").write_text("{")
    (tmp_path / "b-blind-test.json").write_text(
        '{"seed": {"seed": 1}, "picks": {"0": "3", "1": 99, "2": null, "x": 1}}'
    )
    (tmp_path / "c-blind-test.json").write_text(json.dumps({"seed": {"seed": 1}, "picks": {"0": 3}}))
    (tmp_path / "d-blind-test.json").write_text(json.dumps({"seed": {"seed": -1}, "picks": {"0": 3}}))
    (tmp_path / "Ben.json").write_text(json.dumps({"seed": {"seed": 2}, "picks": {"0": 3, "1": 4}}))  # renamed
    (tmp_path / "my-slip.json").write_text("{")  # the count of slips names it
    said = class_threshold(tmp_path).sentence
    assert said.startswith("Tests: 2, picks: 3.")
    assert said.endswith("left out: a-blind-test.json.")
    assert read_answers([1, 2]) == []


def test_a_folder_that_cannot_be_written_loses_no_pick(tmp_path, monkeypatch):
    test = BlindTest(tmp_path)

    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("workbook.workshop.keep.write_whole", refuse)
    test.pick(1)
    assert "jot your answer on paper" in test.said.value
    test.go_on()
    assert test.number == 1


def test_sharper_eyes_have_a_lower_threshold_and_few_answers_a_wide_range():
    sharp = [Answer(snr=float(snr), right=snr >= 2) for snr in SNRS]
    dull = [Answer(snr=float(snr), right=snr >= 10) for snr in SNRS]
    assert threshold(sharp).snr < threshold(dull).snr
    few, many = threshold(sharp), threshold(20 * sharp)
    assert few.low < many.low <= many.snr <= many.high < few.high
    assert "above 10" in _said(threshold([replace(answer, right=False) for answer in sharp]))
    assert "below 1" in _said(threshold([replace(answer, right=True) for answer in sharp]))
    assert threshold([]) is None


def test_one_slip_does_not_spoil_sharp_eyes():
    sharp = [Answer(snr=float(snr), right=snr >= 2) for snr in 4 * SNRS]
    slipped = [replace(sharp[-1], right=False), *sharp[:-1]]  # one wrong pick at the strongest
    assert threshold(slipped).snr < 1.5 * threshold(sharp).snr


def test_the_range_holds_the_eyes_in_two_tests_of_three():
    rng = np.random.default_rng(5)
    share, held = 0.5, 0
    snrs = np.linspace(0, 10, 501)
    half_way = np.interp((1 + 1 / TILES) / 2, [chance_right(float(snr), share) for snr in snrs], snrs)
    chances = [(1 - LAPSE) * chance_right(snr, share) + LAPSE / TILES for snr in SNRS]
    for _ in range(200):
        answers = [
            Answer(snr=float(snr), right=bool(rng.random() < chance))
            for snr, chance in zip(SNRS, chances, strict=True)
            for _ in range(8)
        ]
        found = threshold(answers)
        held += found.low <= half_way <= found.high
    assert 0.55 < held / 200 < 0.85


# Lessons


def cells(lesson):
    return json.loads(lesson.read_text(encoding="utf-8"))["cells"]


def prose(lesson):
    text = "\n".join("".join(cell["source"]) for cell in cells(lesson) if cell["cell_type"] == "markdown")
    text = re.sub(r"\]\([^)]*\)", "]", text)
    return re.sub(r"^- ", "", re.sub(r"[*#\[\]`]", "", text), flags=re.M)


def test_there_are_five_lessons_with_an_exercise_each():
    assert [int(lesson.name[0]) for lesson in LESSONS] == list(EXERCISES) == [1, 2, 3, 4, 5]


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_asks_for_no_code_and_is_easy_to_read(lesson):
    assert textstat.automated_readability_index(prose(lesson)) <= 8
    for cell in cells(lesson):
        if cell["cell_type"] == "code":
            assert cell["metadata"]["jupyter"]["source_hidden"]
            assert cell["source"][0].startswith("# ")
            assert not cell["outputs"] or "# NBVAL_CHECK_OUTPUT\n" in cell["source"]


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_guesses_tries_and_ends_in_an_exercise(lesson):
    code = "\n".join("".join(cell["source"]) for cell in cells(lesson) if cell["cell_type"] == "code")
    main = code[: code.index(f"exercise({lesson.name[0]})")]
    assert 1 <= len(re.findall(r"\b(Trial|BlindTest|OwnPlan)\(", main)) <= 3


def test_all_experiments_stand_in_a_lesson_and_no_guess_has_two_meanings():
    code = [
        "\n".join("".join(cell["source"]) for cell in cells(lesson) if cell["cell_type"] == "code")
        for lesson in LESSONS
    ]
    assert sorted(re.findall(r'Trial\("([^"]+)"', "\n".join(code))) == sorted(EXPERIMENTS)
    keys = re.findall(r'Guess\(\s*"([^"]+)"', "\n".join(code)) + [one.ask.key for one in EXPERIMENTS.values()]
    assert len(keys) == len(set(keys))


def test_every_word_of_the_glossary_stands_beside_a_test_or_a_text():
    pages = [*LESSONS, LESSONS[0].with_name("0-check-in.ipynb")]
    sources = ["".join(cell["source"]) for page_ in pages for cell in cells(page_)]
    opened = {
        word for source in sources for call in re.findall(r"\nterm\((.*)\)", source) for word in json.loads(f"[{call}]")
    }
    assert opened == set(TERMS)


def test_the_minutes_of_the_evening_add_up():
    guide = "".join("".join(cell["source"]) for cell in cells(LESSONS[0].with_name("guide.ipynb")))
    starts = [int(minute) for minute in re.findall(r"(?m)^\| (\d+) \|", guide)]
    lessons = dict(re.findall(r"## Lesson (\d).*?\*\*Minutes\.\*\* (\d+)\.", guide, re.S))
    at = {number: int(minute) for minute, number in re.findall(r"(?m)^\| (\d+) \| \[Lesson (\d)", guide)}
    ends = {number: min(start for start in starts if start > minute) for number, minute in at.items()}
    assert starts == sorted(starts)
    assert starts[-1] == 88  # two minutes to spare
    assert {number: int(minutes) for number, minutes in lessons.items()} == {n: ends[n] - at[n] for n in at}
    told = {lesson.name[0]: re.search(r"You need about (\d+) minutes", prose(lesson))[1] for lesson in LESSONS}
    assert told == lessons


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_fits_its_minutes(lesson):
    """Two minutes and a half for each test and the exercise, as the guide says, and time to read all of the text."""
    minutes = int(re.search(r"You need about (\d+) minutes", prose(lesson))[1])
    words, tests_ = 0, 0
    for cell in cells(lesson):
        source = "".join(cell["source"])
        if "## Stop here" in source:
            break
        words += len(source.split()) if cell["cell_type"] == "markdown" else 0
        tests_ += len(re.findall(r"^(?:Trial|BlindTest|OwnPlan|exercise)\(", source, re.M))
    assert words / WORDS_A_MINUTE + MINUTES_A_TEST * tests_ <= minutes + 0.5


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda path: path.stem)
def test_no_stray_key_cuts_a_text(lesson):
    for cell in cells(lesson):
        if cell["cell_type"] == "markdown" or "live" in cell["metadata"].get("tags", []):
            assert cell["metadata"]["deletable"] is False
            assert cell["metadata"]["editable"] is False


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda path: path.stem)
def test_links_of_a_lesson_lead_somewhere(lesson):
    links = re.findall(r"\]\(([^)]+)\)", "".join("".join(cell["source"]) for cell in cells(lesson)))
    assert links
    assert all((lesson.parent / link).is_file() for link in links)


@pytest.mark.parametrize("lesson", EXERCISES)
def test_the_right_answer_is_taken_and_twice_it_is_not(lesson, tmp_path):
    asked = exercise(lesson, tmp_path)
    asked.box.value = f"{2 * asked.asked.answer:.4g}"
    assert asked.course.kind == "wrong"
    assert "Hint 1" in asked.said.value
    asked.box.value = f"{asked.asked.answer:.3g}".replace(".", ",")
    assert asked.course.kind == "right"


def test_no_run_takes_two_seconds():
    # Four times as fast here leaves room for an old laptop.
    for experiment in EXPERIMENTS.values():
        begin = time.process_time()
        experiment.run(**experiment.start)
        assert time.process_time() - begin < 0.5


def test_shots_of_one_seed_hold_each_other():
    few, many = shoot(rig_of(), 300.0, (12, 24), seed=5)
    alone = shoot(rig_of(), 300.0, (12,), seed=5)[0]
    assert np.array_equal(few.picture, alone.picture)
    assert not np.array_equal(few.picture, many.picture)
