"""A newcomer goes through one whole lesson with the keyboard alone."""

import json

import pytest

from workbook.workshop.experiments.hours import EXPERIMENT

pytestmark = pytest.mark.browser

LESSON = "workshop/3-hours.ipynb"
MOST_TABS = 80
FOCUS = """() => {
  const e = document.activeElement;
  const name = e.getAttribute('aria-label') || e.title || (e.tagName === 'BUTTON' ? e.textContent.trim() : '');
  return `${e.tagName}|${e.closest('.expo-panel') ? name : ''}`;
}"""
"""Kind and name of the control in focus, as a screen reader would say it."""


TOP = """() => {
  document.activeElement.blur();
  jupyterapp.shell.currentWidget.content.activeCellIndex = 0;
}"""


class Keys:
    """Hands that hold no mouse."""

    def __init__(self, screen):
        self.page = screen.page
        self.screen = screen

    def go_to(self, wanted):
        """Tab on until the control in focus is of that kind and name, or of a name that holds it."""
        passed = []
        for _ in range(MOST_TABS):
            self.page.keyboard.press("Tab")
            passed.append(self.page.evaluate(FOCUS))
            if wanted in passed[-1]:
                return
        pytest.fail(f"no Tab led to {wanted!r}; they led to {passed}")

    def press(self, *keys):
        for key in keys:
            self.page.keyboard.press(key)

    def type(self, text):
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(text)
        self.page.keyboard.press("Enter")

    def hear(self, words, where="[role=status]"):
        """Wait for words that a screen reader would say."""
        self.page.locator(f".expo-panel {where}", has_text=words).first.wait_for()


@pytest.fixture
def keys(screen):
    screen.open(LESSON)
    screen.page.get_by_text("“Noise reduction brings out").wait_for()  # the last cell's: all have run
    # where a reader is after opening a page: at its top
    screen.page.evaluate(TOP)
    return Keys(screen)


def pictures(keys):
    return keys.page.locator(".expo-trial img").evaluate_all("images => images.map(i => [i.alt, i.src])")


def headline(keys):
    return keys.screen.said(".expo-trial .expo-headline")


def after_one_hour(brightness_r):
    """What the first experiment says of one hour, of a shell that bright."""
    return EXPERIMENT.run(brightness_r).takeaway.partition(" and ")[0]


def test_a_lesson_by_keyboard_alone(keys):
    # guess
    keys.go_to("You double the hours.")
    keys.type("lots")
    keys.hear("not a number yet", "[role=status]")
    keys.type("2,0")
    keys.hear("Kept.")
    # run, look
    keys.go_to("Run it")
    keys.press("Enter")
    keys.hear("times 1.41, not times 2")
    keys.hear("You said 2,0, it is 1.4 times: close.")
    before = pictures(keys)
    assert len(before) == 5
    assert all(alt.endswith(".") for alt, _ in before)
    # turn a dial by keys, and type into its box
    keys.go_to("Glow of the shell, slider")
    keys.press("ArrowRight", "ArrowRight")
    box = keys.page.get_by_label("Glow of the shell", exact=True)
    dial = EXPERIMENT.dials["brightness_r"]
    keys.screen.wait_until(lambda: dial.read(box.input_value()) > dial.start)
    keys.screen.wait_until(lambda: after_one_hour(dial.read(box.input_value())) in headline(keys))
    keys.screen.wait_live()
    keys.go_to("INPUT|Glow of the shell")
    keys.type("lots")
    keys.hear("not a number yet", "[role=alert]")
    keys.type("24 R")
    keys.screen.wait_until(lambda: after_one_hour(24) in headline(keys))
    keys.screen.wait_until(lambda: pictures(keys) != before)
    # the numbers behind
    keys.go_to("Numbers")
    keys.press("Space")
    keys.page.locator(".expo-trial table caption", has_text="SNR of a patch").wait_for()
    # the other two experiments
    keys.go_to("One pixel of the shell has an SNR of 1.")
    keys.type("9")
    keys.go_to("Run it")
    keys.press("Space")
    keys.hear("Twice the side, twice the SNR")
    keys.go_to("You take 1 dark off")
    keys.type("half")
    keys.go_to("Run it")
    keys.press("Enter")
    keys.hear("Two cures: more darks, or a dither")
    keys.hear("it is more than you thought")
    # the exercise: a wrong answer, two hints, the right answer
    keys.go_to("After 4 hours a patch")
    keys.type("8")
    keys.hear("Not yet: 8 h is too low")
    keys.hear("Hint 1:")
    keys.go_to("Hint 2")
    keys.press("Enter")
    keys.hear("Hint 2:")
    keys.press("Shift+Tab", "Shift+Tab")
    keys.type("16")
    keys.hear("Yes! Twice the SNR takes four times the hours")
    # what was guessed stays in the lesson's folder, without a name
    kept = json.loads((keys.screen.lab.folder / "workshop" / "my-answers.json").read_text(encoding="utf-8"))
    assert kept["guesses"] == {"double-hours": "2,0", "per-patch": "9", "darks": "half"}
    assert kept["tries"] == {"exercise-3": "16"}


def test_opened_again_the_guess_is_still_there(keys):
    box = keys.page.locator("input[title*='You double the hours'], [title*='You double the hours'] input").first
    assert box.input_value() == "2,0"


PATHS = """async () => {
  const { sessions } = jupyterapp.serviceManager;
  await sessions.refreshRunning();
  return [...sessions.running()].map(session => session.path);
}"""
"""Notebooks whose kernels run."""


def test_a_lesson_that_was_left_lets_go_of_its_kernel_and_is_there_again(keys):
    keys.go_to("You double the hours.")
    keys.type("1,4")
    keys.hear("Kept. Now run it and look.")
    keys.page.get_by_role("link", name="Sky, filter and Moon").click()
    keys.page.get_by_text("“A darker place asks").wait_for()
    keys.screen.wait_until(lambda: keys.page.evaluate(PATHS) == ["workshop/4-sky-filter-moon.ipynb"])
    keys.page.evaluate("path => { jupyterapp.commands.execute('docmanager:open', { path }) }", LESSON)
    box = keys.page.locator(".expo-guess", has_text="You double the hours").locator("input").first
    box.wait_for()
    assert box.input_value() == "1,4"
