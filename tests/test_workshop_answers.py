"""Guesses, exercises, the glossary and the file that keeps what was typed."""

import json
import stat
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook.workshop.ask import CLOSE, RIGHT, Ask, judged
from workbook.workshop.asking import Course, Question, check, help_on
from workbook.workshop.exercise import Exercise
from workbook.workshop.glossary import explain, term
from workbook.workshop.glossary_terms import TERMS
from workbook.workshop.guess import Guess, recall
from workbook.workshop.keep import FILE, LONGEST, Kept
from workbook.workshop.numbers import read_number_kindly, read_range_kindly

EVIL = "<img src=x onerror=alert(1)>"
ASK = Question(
    question="Hours?", answer=16.0, low=15.5, high=16.5, unit="h", why="Because.", hints=("First.", "Second.")
)
# the words that the workshop promises to explain
PROMISED = {
    "sub", "stack", "integration time", "SNR", "read noise", "shot noise", "sky background", "dark current", "gain",
    "offset", "e-/ADU", "ADU", "full well", "saturation", "QE", "bandwidth", "f-ratio", "image scale", "seeing", "FWHM",
    "guiding RMS", "dither", "flat", "dark", "bias", "flat-dark", "binning", "drizzle", "airmass", "extinction", "SQM",
    "Bortle class", "surface brightness", "Rayleigh", "colour filter array", "walking noise", "meridian flip",
    "equivalent dark hours",
}  # fmt: skip


@pytest.mark.parametrize(
    ("text", "unit", "number"),
    [
        ("4", "", 4.0), (" 2,5 ", "", 2.5), ("2.5", "times", 2.5), ("2 x", "times", 2.0), ("16 h", "hours", 16.0),
        ("90 min", "h", 1.5), ("206 s", "s", 206.0), ("10 000", "", 10000.0), ("−3", "", -3.0), (",5", "", 0.5),
        ("5 %", "%", 5.0), ("5 per cent", "%", 5.0), ("1/2", "times", 0.5), ("½", "", 0.5), ("half", "%", 50.0),
        ("50 %", "times", 0.5), ("about 3", "h", 3.0), ("~ 3 h", "h", 3.0), ("twice", "times", 2.0), ("ten", "", 10.0),
        ("a quarter", "times", 0.25), ("1/3 times", "times", 1 / 3), ("roughly 2,5", "", 2.5),
        ("two hours", "hours", 2.0),
    ],
)  # fmt: skip
def test_numbers_as_newcomers_type_them(text, unit, number):
    assert read_number_kindly(text, unit) == pytest.approx(number, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("", "", "still empty"), ("  ", "s", "still empty"), ("lots", "", "not a number yet"),
        ("nan", "", "not a number yet"), ("inf", "", "not a number yet"), ("1,000", "", "1000 or 1\\."),
        ("4 m", "s", "write the number alone, in s"), ("4 cows", "", "write the number alone, without a unit"),
        ("9" * 100, "", "not a number yet"), ("1e5", "", "“e5”"), ("3-5", "", "“-5”"), ("1,2,3", "", "“,3”"),
    ],
)  # fmt: skip
def test_what_is_no_number_gets_one_kind_sentence(text, unit, words):
    with pytest.raises(ValueError, match=words) as caught:
        read_number_kindly(text, unit)
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "unit", "ends"),
    [
        ("10-20", "", (10, 20)), ("20 to 10 %", "%", (10, 20)), ("1,5–2 h", "h", (1.5, 2)), ("3", "h", (3, 3)),
        ("-2", "", (-2, -2)), ("1/2 to 2", "times", (0.5, 2)),
    ],
)  # fmt: skip
def test_ranges_as_people_type_them(text, unit, ends):
    assert read_range_kindly(text, unit) == pytest.approx(ends)


NUMBER = Ask(key="k", question="?", truth=lambda: 2.0, unit="h")


@given(st.floats(0.01, 1000))
def test_a_judgement_is_true_of_the_numbers_beside_it(guess):
    said = judged(NUMBER, f"{guess:.12g}")
    times = float(f"{guess:.12g}") / 2.0
    assert ("well guessed" in said) == (max(times, 1 / times) <= RIGHT)
    assert (": close" in said) == (RIGHT < max(times, 1 / times) <= CLOSE)
    assert ("more than you thought" in said) == (times < 1 / CLOSE)
    assert ("less than you thought" in said) == (times > CLOSE)


def test_no_guess_no_judgement_and_words_are_no_fault():
    assert judged(NUMBER, " ") == ""
    assert judged(NUMBER, "lots") == "You said lots, it is 2 h. Next time try a number."
    assert judged(NUMBER, "1-3 h") == "You said 1-3, it is 2 h: it lies in your range."


@given(st.text(max_size=120))
def test_any_text_is_read_or_refused_kindly(text):
    try:
        found = read_number_kindly(text, "s")
    except ValueError as error:
        found = str(error)
    assert isinstance(found, float) or (len(found) < 250 and found.endswith("."))


def test_wrong_answers_lead_over_two_hints_to_the_answer():
    course, heard = Course(), []
    for text in ("8", "20", "9"):
        course = check(ASK, course, text)
        heard.append((course.kind, *course.said))
    assert heard == [
        ("wrong", "Not yet: 8 h is too low. A good try; look again.", "Hint 1: First."),
        ("wrong", "Not yet: 20 h is too high. A good try; look again.", "Hint 2: Second."),
        (
            "shown",
            "Not yet: 9 h is too low. A good try; look again.",
            "The answer is 16 h (all from 15.5 to 16.5 count). Because.",
        ),
    ]
    assert course.done
    assert help_on(ASK, course) == course
    assert check(ASK, course, "12").kind == "shown"  # trying on is welcome
    assert check(ASK, course, "16").said == ("Yes! Because.",)


def test_hints_can_be_asked_for_without_a_try():
    course = Course()
    said = []
    for _ in range(3):
        course = help_on(ASK, course)
        said += course.said
    assert said == [
        "Hint 1: First.",
        "Hint 2: Second.",
        "The answer is 16 h (all from 15.5 to 16.5 count). Because.",
    ]


@pytest.mark.parametrize("text", ["15.5", "16.5", "15,5 h", "960 min"])
def test_the_whole_range_is_right(text):
    assert check(ASK, Course(), text).kind == "right"


@pytest.mark.parametrize("text", ["15.49", "16.51", "-16"])
def test_outside_the_range_is_wrong(text):
    assert check(ASK, Course(), text).kind == "wrong"


def test_a_word_or_nothing_costs_no_hint():
    course = check(ASK, check(ASK, Course(), "many"), "")
    assert (course.kind, course.helped) == ("unread", 0)


def test_pressing_twice_is_one_try():
    once = check(ASK, Course(), "8")
    assert check(ASK, once, " 8 ") == once


def test_an_answer_outside_its_own_range_is_refused():
    with pytest.raises(ValueError, match="answer must be from low 1 to high 2, got 3"):
        Question(question="?", answer=3, low=1, high=2, unit="", why="")


def exercise(folder, **more):
    given_ = {
        "answer": lambda: 4.0,
        "low": 3,
        "high": 5,
        "unit": "h",
        "why": EVIL,
        "hints": (EVIL, EVIL),
    } | more
    return Exercise("key", EVIL, folder=folder, **given_)


def test_exercise_shows_every_word_as_text(tmp_path):
    made = exercise(tmp_path)
    for text in (EVIL, "1", "9", "10", "4"):
        made.box.value = text
        assert "<img" not in made.said.value
    assert made.course.kind == "right"
    assert made.help.layout.display == "none"
    html = [child.value for child in made.widget.children if hasattr(child, "value")]
    assert not any("<img" in text for text in html)


def test_exercise_goes_by_enter_and_by_buttons(tmp_path):
    made = exercise(tmp_path)
    made.check.click()
    assert "still empty" in made.said.value
    made.help.click()
    assert made.help.description == "Hint 2"
    made.box.value = "4,0"  # what Enter does
    made.check.click()
    assert made.course.kind == "right"
    assert exercise(tmp_path).box.value == "4,0"


def test_guess_is_kept_at_once_and_there_again(tmp_path):
    Guess("a", "How many?", "times", tmp_path).box.value = " 1,4 "
    again = Guess("a", "How many?", "times", tmp_path)
    assert (again.text, again.value, recall("a", tmp_path)) == ("1,4", 1.4, "1,4")
    assert "from before" in again.said.value
    assert Guess("b", "Another?", "", tmp_path).text == ""


def test_a_word_is_kept_and_asked_about(tmp_path):
    guess = Guess("a", "How many?", "", tmp_path)
    guess.box.value = "dozens"
    assert "not a number yet" in guess.said.value
    assert "Your words are kept." in guess.said.value
    assert (recall("a", tmp_path), guess.value) == ("dozens", None)
    guess.box.value = ""  # a blank box wipes nothing out
    assert "still empty" in guess.said.value
    assert recall("a", tmp_path) == "dozens"


def test_guess_among_choices(tmp_path):
    guess = Guess("a", "Which?", folder=tmp_path, choices=("more", "fewer"))
    assert guess.text == ""
    guess.box.value = "fewer"
    assert "Kept" in guess.said.value
    assert Guess("a", "Which?", folder=tmp_path, choices=("more", "fewer")).text == "fewer"
    assert Guess("a", "Which?", folder=tmp_path, choices=("other", "words")).text == ""


def test_guess_shows_every_word_as_text(tmp_path):
    guess = Guess("a", EVIL, "", tmp_path)
    guess.box.value = EVIL
    assert not any("<img" in child.value for child in guess.widget.children if hasattr(child, "value"))


def test_two_open_copies_do_not_wipe_each_other_out(tmp_path):
    one, two = Guess("a", "?", "", tmp_path), Guess("b", "?", "", tmp_path)
    one.box.value, two.box.value = "1", "2"
    one.box.value = "3"
    assert Kept(tmp_path).read("guesses") == {"a": "3", "b": "2"}


@pytest.mark.parametrize("damage", ["", "{", "[]", "null", '"text"', "\xff", "[" * 100_000])
def test_a_damaged_file_is_laid_aside(tmp_path, damage):
    (tmp_path / FILE).write_bytes(damage.encode("latin-1"))
    guess = Guess("a", "?", "", tmp_path)
    guess.box.value = "1"
    assert "Kept" in guess.said.value
    assert recall("a", tmp_path) == "1"
    (aside,) = tmp_path.glob("*.damaged-*.json")
    assert aside.read_bytes() == damage.encode("latin-1")
    (tmp_path / FILE).write_text("{")
    guess.box.value = "2"
    assert len(list(tmp_path.glob("*.damaged-*.json"))) == 2


@pytest.mark.parametrize("group", [[], 3, None, "x"])
def test_a_damaged_group_is_begun_anew(tmp_path, group):
    (tmp_path / FILE).write_text(json.dumps({"guesses": group, "tries": {"e": "4"}}))
    assert recall("a", tmp_path) == ""
    assert Kept(tmp_path).write("guesses", "a", "1") == ""
    assert Kept(tmp_path).read("tries") == {"e": "4"}
    assert recall("a", tmp_path) == "1"


WRITER = """
import sys
from workbook.workshop.keep import Kept
for number in range(100):
    trouble = Kept(sys.argv[1]).write("guesses", f"{sys.argv[2]}-{number}", "1")
    assert not trouble, trouble
"""


def test_guesses_of_writers_at_the_same_time_are_all_kept(tmp_path):
    for writer in [subprocess.Popen([sys.executable, "-c", WRITER, tmp_path, str(name)]) for name in range(3)]:
        assert writer.wait(60) == 0
    assert len(Kept(tmp_path).read("guesses")) == 300


def test_half_a_sign_is_kept_as_a_question_mark(tmp_path):
    assert Kept(tmp_path).write("guesses", "a", "four \ud83d") == ""
    assert recall("a", tmp_path) == "four ?"


def test_a_long_text_is_cut(tmp_path):
    Guess("a", "?", "", tmp_path).box.value = "x" * 10_000
    assert len(recall("a", tmp_path)) == LONGEST


def test_a_folder_that_cannot_be_written_is_one_sentence(tmp_path, monkeypatch):
    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("workbook.workshop.keep.write_whole", refuse)
    guess = Guess("a", "?", "", tmp_path)
    guess.box.value = "4"
    assert "write into this folder (permission denied)" in guess.said.value
    assert guess.value == 4.0  # the lesson goes on with it
    made = exercise(tmp_path)
    made.box.value = "4"
    assert made.course.kind == "right"
    assert "write into this folder" in made.said.value


def test_a_missing_folder_in_the_way_is_one_sentence(tmp_path):
    (tmp_path / "file").write_text("")
    assert "the lesson goes on" in Kept(tmp_path / "file").write("guesses", "a", "1")


def test_what_is_kept_can_be_read_by_others_and_holds_no_name(tmp_path):
    Kept(tmp_path).write("guesses", "a", "1")
    assert json.loads((tmp_path / FILE).read_text()) == {"guesses": {"a": "1"}}
    assert stat.S_IMODE((tmp_path / FILE).stat().st_mode) == 0o644


def test_glossary_explains_what_it_promises_in_25_words_each():
    assert set(TERMS) == PROMISED
    for name, words in TERMS.items():
        assert len(words.split()) <= 25, name
        assert words.endswith("."), name


def test_a_term_opens_and_shuts_without_a_kernel():
    html = term("dark current", "e-/ADU").html
    assert html.count("<details") == html.count("<summary>") == 2
    assert explain("DARK CURRENT") in html


def test_an_unknown_term_is_refused():
    with pytest.raises(ValueError, match="the glossary has no 'flux'; it has sub, stack"):
        explain("flux")
