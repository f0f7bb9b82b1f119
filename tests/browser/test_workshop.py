"""The door's card, the slip, the terms and the views of the workshop in a real browser."""

import io
import json
import re

import pytest
from PIL import Image

from workbook.workshop.glossary import explain
from workbook.workshop.views import VIEWS, style

pytestmark = pytest.mark.browser

DOOR, SLIPS, LESSON = (f"workshop/{name}.ipynb" for name in ("0-check-in", "slips", "1-photons"))
GUIDE = "workshop/guide.ipynb"
A4_PX = (794, 1123)  # 210 by 297 mm, a CSS pixel being 1/96 inch
TEXTS = """() => [...document.querySelectorAll('.jp-Notebook :is(p, li, h1, h2, button, select, input, summary, td)')]
  .filter(e => e.checkVisibility() && e.closest('.expo-panel, .jp-RenderedMarkdown'))
  .map(e => [parseFloat(getComputedStyle(e).fontSize), e.textContent || e.value])"""


@pytest.fixture
def opened(screen):
    """Function that opens a page of the workshop and waits until its last cell, the views' switch, stands there."""

    def open_page(name):
        screen.open(name)
        screen.page.locator(".expo-views select").last.wait_for()
        screen.wait_idle()
        return screen

    yield open_page
    if screen.page.locator(".expo-views select").count():
        choose(screen, "Screen")  # the kernel outlives the test, and its view with it


def choose(screen, view):
    """Choose a view, and wait until its rules are on the page; figures follow them through the kernel."""
    screen.page.locator(".expo-views select").last.select_option(label=view)
    rules = re.search("(?s)<style>(.*?)</style>", style(next(name for name, words in VIEWS.items() if words == view)))[
        1
    ]
    screen.page.wait_for_function(
        "rules => [...document.querySelectorAll('style')].some(e => e.textContent === rules)", arg=rules
    )
    screen.wait_idle()


def test_the_card_says_ready_once_the_browser_has_drawn(opened):
    screen = opened(DOOR)
    screen.page.locator(".expo-headline", has_text="You are ready").wait_for()
    card = screen.page.locator(".expo-verdict").first.inner_text()
    width = int(re.search(r"drew a plot (\d+) px wide", card)[1])
    drawn = screen.page.locator(".quiet-figure").first.bounding_box()
    assert 0.5 * drawn["width"] < width <= drawn["width"]


def test_a_term_opens_by_keyboard_and_says_so(opened):
    screen = opened(DOOR)
    summary = screen.page.locator(".expo-term summary").first
    summary.focus()
    screen.page.keyboard.press("Enter")
    words = screen.page.locator(".expo-term[open] p").first
    assert words.inner_text() == explain("sub")
    screen.page.keyboard.press("Enter")
    assert not screen.page.locator(".expo-term[open]").count()


def test_a_slip_by_keyboard_stays_in_the_folder(opened):
    screen = opened(SLIPS)
    screen.page.locator(".expo-slip input").first.focus()
    for text in ("10", "1,4", "x"):
        screen.page.keyboard.type(text)
        screen.page.keyboard.press("Tab")
    screen.page.locator(".expo-slip [role=alert]", has_text="not a number yet").wait_for()
    kept = screen.lab.folder / "workshop" / "my-slip.json"
    screen.wait_until(kept.exists)
    assert list(json.loads(kept.read_text())["before"].values()) == ["10", "1,4", "x"]


def test_projector_type_is_large(opened):
    screen = opened(DOOR)
    choose(screen, "Projector: large type")
    screen.wait_until(
        lambda: all(size >= 32 for size, _ in screen.page.evaluate(TEXTS)), lambda: screen.page.evaluate(TEXTS)
    )  # 24 pt
    assert not screen.page.locator(".jp-CodeCell .jp-Cell-inputWrapper:visible").count()


@pytest.mark.parametrize("name", [DOOR, LESSON])
def test_nothing_white_in_the_field(opened, name):
    screen = opened(name)
    if name == LESSON:
        screen.page.locator(".expo-trial button", has_text="Run it").first.click()
        screen.page.locator(".expo-trial img").first.wait_for()
    for view, tint in (("Field: red on black", "red"), ("Field: amber on black", "amber")):
        choose(screen, view)
        screen.wait_until(lambda tint=tint: not faults(screen, tint), lambda tint=tint: "; ".join(faults(screen, tint)))


def faults(screen, tint):
    """What is wrong with the light that leaves the screen."""
    picture = Image.open(io.BytesIO(screen.page.screenshot())).convert("RGB")
    red, green, blue = (channel[1] for channel in picture.getextrema())
    lit = sum(picture.convert("L").histogram()[25:]) / (picture.width * picture.height)
    wrong = {
        f"blue light up to {blue} leaves the screen": blue > 2,
        f"green light up to {green} leaves the screen": green > (2 if tint == "red" else 115),
        f"nothing can be read, red being at most {red}": red <= 150,
        f"the screen glows: {lit:.0%} of it are lit": lit >= 0.25,
    }
    return [sentence for sentence, is_so in wrong.items() if is_so]


def test_on_paper_the_whole_notebook_is_there(opened):
    screen = opened(GUIDE)
    choose(screen, "Print: no buttons")
    assert screen.page.locator(".expo-views select").is_visible(), "no way back"
    assert not screen.page.locator(".expo-panel button:visible").count()
    screen.page.set_viewport_size({"width": A4_PX[0], "height": A4_PX[1]})
    screen.page.emulate_media(media="print")
    assert not screen.page.locator(".expo-views select").is_visible()
    height = screen.page.locator(".jp-Notebook").bounding_box()["height"]
    screen.page.emulate_media(media="null")  # back to what a printer asks for
    pages = len(re.findall(rb"/Type\s*/Page\b", screen.page.pdf(format="A4")))
    assert pages >= height / A4_PX[1] > 2
