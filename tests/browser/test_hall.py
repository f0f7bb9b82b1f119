"""An evening in real browsers: three guests and a leader, and every lesson as a page at the sizes that people bring."""

import json
import os
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from workbook.hall.evening import LESSONS

pytestmark = pytest.mark.browser

PHONE, DESK, WALL = {"width": 360, "height": 640}, {"width": 1366, "height": 768}, {"width": 1280, "height": 720}
FINE_WALL = {"width": 1920, "height": 1080}
SMALL = """() => [...document.querySelectorAll('.expo-panel :is(button, input[type=text], select)')]
  .filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 40).map(e => e.outerHTML.slice(0, 90))"""
CUT = """() => {
  const pen = document.createElement('canvas').getContext('2d');
  return [...document.querySelectorAll('.expo-panel input[type=text]')].filter(e => e.checkVisibility()).filter(e => {
    const { font, paddingLeft, paddingRight } = getComputedStyle(e);
    pen.font = font;
    const room = e.clientWidth - parseFloat(paddingLeft) - parseFloat(paddingRight);
    return e.scrollWidth > e.clientWidth + 1 || !e.value && pen.measureText(e.placeholder).width > room;
  }).map(e => e.value || e.placeholder);
}"""
"""Words in boxes, typed or faint, that their box cuts off."""
WIDER = "() => Math.max(0, document.documentElement.scrollWidth - document.documentElement.clientWidth)"
QUESTION = "double-hours"
LESSON = "workshop/3-hours.ipynb"


@pytest.fixture
def person(page_of, hall):
    """Function that opens a browser of one's own: a size in, a page at the door out."""

    def come(size, outlives_hall=False):
        screen = page_of(hall, outlives_kernel=outlives_hall)
        screen.page.set_viewport_size(size)
        screen.base = hall.address
        return screen

    return come


@pytest.fixture
def guest(person, hall):
    """Function that lets a guest in by the code."""

    def come(size=PHONE, outlives_hall=False):
        screen = person(size, outlives_hall)
        screen.page.goto(f"{screen.base}/join")
        screen.page.get_by_label("Tonight's code").fill(hall.evening["code"])
        screen.page.get_by_role("button", name="Come in").click()
        screen.page.wait_for_url(f"{screen.base}/")
        return screen

    return come


@pytest.fixture
def leader(person, hall):
    """The leader at the projector, with all pages open."""
    screen = person(WALL)
    screen.page.goto(f"{screen.base}/leader")
    screen.page.get_by_label("The leader's code").fill(hall.evening["leader"])
    screen.page.get_by_role("button", name="Go on").click()
    screen.page.goto(f"{screen.base}/leader?show=laptop")
    screen.page.locator("[data-page]:enabled").first.wait_for()  # until then they don't know how things stand
    for box in screen.page.locator("[data-page]").all():
        box.check()
    screen.wait_until(lambda: set(LESSONS) <= set(hall.evening["opened"]))
    return screen


def live(screen, page):
    screen.page.goto("about:blank")  # the kernel sweeps the last page away, whose scripts may be at work on it
    screen.page.goto(f"{screen.base}/{page}")
    screen.page.locator(".expo-panel").last.wait_for()
    screen.page.locator("#rendered_cells").wait_for(state="visible")


def comes_to_nothing(screen, count, fault):
    """Wait until a page that is still being drawn has none of a fault left."""
    screen.wait_until(lambda: not screen.page.evaluate(count), lambda: f"{fault}: {screen.page.evaluate(count)}")


def box_of(screen, words):
    return screen.page.locator(".expo-guess", has_text=words).locator("input")


def kept(hall):
    """What lies in the guests' folders."""
    files = (hall.folder / "guests").glob("*/workshop/my-answers.json")
    return [json.loads(file.read_text())["guesses"] for file in files]


def test_three_guests_guess_and_the_leader_shows_it(hall, guest, leader):
    guests = [guest() for _ in range(3)]
    for screen, text in zip(guests, ("2", "1,4", "4 times"), strict=True):
        live(screen, LESSON)
        box_of(screen, "double the hours").fill(text)
        box_of(screen, "double the hours").press("Enter")
        screen.page.locator(".expo-guess [role=status]", has_text="Kept").first.wait_for()
    assert sorted(one[QUESTION] for one in kept(hall)) == ["1,4", "2", "4 times"]

    leader.page.goto(f"{leader.base}/leader?show=guesses")
    leader.page.locator("#question").select_option(QUESTION)
    leader.page.get_by_text("3 guesses.").wait_for()
    leader.wait_until(lambda: sum(leader.source("guesses")["count"]) == 3)
    picture = "#picture [role=img]"
    assert "truth" not in leader.page.locator(picture).get_attribute("aria-label")
    leader.page.get_by_role("button", name="Reveal").click()
    leader.page.locator('#picture [aria-label*="The truth: 1.4 times"]').wait_for()
    leader.page.get_by_text("3 at a page").wait_for()

    again = guests[0]
    again.page.reload()
    again.page.locator(".expo-panel").last.wait_for()
    assert box_of(again, "double the hours").input_value() == "2"


@pytest.mark.usefixtures("leader")
def test_a_page_moves_with_the_thumb_and_comes_back_when_its_kernel_dies(hall, guest):
    screen = guest()
    live(screen, "workshop/1-photons.ipynb")
    trial = screen.page.locator(".expo-trial").first
    trial.get_by_role("button", name="Run it").click()
    trial.locator("img").first.wait_for()
    dial = trial.locator(".noUi-handle")
    pictures = trial.locator(".expo-tiles")
    assert dial.bounding_box()["y"] > pictures.bounding_box()["y"], "the control hides under the hand"
    before = trial.locator(".expo-headline").inner_text()
    dial.focus()
    screen.page.keyboard.press("ArrowRight")
    screen.wait_until(lambda: trial.locator(".expo-headline").inner_text() != before)

    kernel = screen.page.evaluate(
        "() => JSON.parse(document.getElementById('jupyter-config-data').textContent).kernelId"
    )
    hall.kill(kernel)
    screen.page.get_by_role("button", name="Wake it").click()
    screen.page.locator(".expo-trial").first.wait_for()


LOOK = "() => document.dispatchEvent(new Event('visibilitychange'))"
"""Has a page ask at once whether the hall is there."""


@pytest.mark.parametrize("telephone", ["new", "old"])
def test_a_page_says_when_the_wifi_is_gone_and_when_it_is_back(guest, telephone):
    screen = guest(outlives_hall=True)
    if telephone == "old":
        screen.page.add_init_script("delete AbortSignal.timeout")
    live(screen, LESSONS[0])
    news = screen.page.locator("#hall-news")
    for _ in range(2):  # one answer that fails is not told yet
        with screen.page.expect_response("**/alive?*"):
            screen.page.evaluate(LOOK)
    assert news.is_hidden()
    screen.page.context.set_offline(True)
    news.get_by_text("can't be reached").wait_for()
    screen.page.context.set_offline(False)
    news.wait_for(state="hidden")
    assert screen.page.locator(".expo-panel").first.is_visible()


@pytest.mark.usefixtures("leader")
def test_a_guess_that_is_typed_while_the_wifi_is_gone_is_kept(hall, guest):
    screen = guest(outlives_hall=True)
    live(screen, LESSON)
    before = kept(hall)
    screen.page.context.set_offline(True)
    screen.page.evaluate("() => { WebSocket.prototype.send = () => {}; }")  # a line that is cut tells nobody
    box_of(screen, "double the hours").fill("1.7")
    box_of(screen, "double the hours").press("Enter")
    for _ in range(6):  # as a minute does it
        with screen.page.expect_event("requestfailed"):
            screen.page.evaluate(LOOK)
    screen.page.locator("#hall-news", has_text="can't be reached").wait_for()
    assert kept(hall) == before
    with screen.page.expect_event("load"):
        screen.page.context.set_offline(False)
        screen.page.evaluate(LOOK)
    screen.wait_until(lambda: any(one.get(QUESTION) == "1.7" for one in kept(hall)))
    assert box_of(screen, "double the hours").input_value() == "1.7"


@pytest.mark.usefixtures("leader")
def test_every_lesson_is_a_page_without_fault(guest):
    screen = guest(PHONE)
    for lesson in LESSONS:
        live(screen, lesson)
        waiting = screen.page.locator(".expo-panel button:text-is('Run it')")
        while left := waiting.count():  # a trial that has run says so on its button
            waiting.first.click()
            screen.wait_until(lambda left=left, waiting=waiting: waiting.count() < left)
        assert not screen.page.locator("pre code, .jp-InputArea-editor:visible").count(), "code is shown"
        for size in (PHONE, DESK, WALL):
            screen.page.set_viewport_size(size)
            comes_to_nothing(screen, WIDER, f"{lesson} is wider than the screen of {size}, by px")
            comes_to_nothing(screen, CUT, f"a box of {lesson} cuts its words off on a screen of {size}")
            if size is PHONE:
                comes_to_nothing(screen, SMALL, f"too small for a thumb in {lesson}")
            faults(screen, "main")
        screen.page.set_viewport_size(PHONE)


@pytest.mark.usefixtures("leader")
def test_the_own_plan_keeps_its_sentence_in_sight_of_the_thumb(guest):
    screen = guest(PHONE)
    live(screen, "workshop/5-your-plan.ipynb")
    panel = screen.page.locator(".expo-own-plan")
    sentence, dial = panel.locator(".expo-headline"), panel.locator(".noUi-handle").nth(8)
    dial.scroll_into_view_if_needed()
    dial.focus()
    before = sentence.inner_text()
    screen.page.keyboard.press("ArrowRight")
    screen.wait_until(lambda: sentence.inner_text() != before)
    seen = sentence.bounding_box()
    assert seen["y"] >= 0
    assert seen["y"] + seen["height"] < min(PHONE["height"] / 2, dial.bounding_box()["y"])
    panel.locator("button[title='Write: Plan file']").click()
    panel.get_by_text("Saved as plans/my-plan.toml.").wait_for()


FIGURES = """() => Bokeh.documents.flatMap(d => [...d._all_models.values()])
  .filter(m => m.type === 'Figure').map(m => [m.inner_width, m.outer_width])"""


@pytest.mark.usefixtures("leader")
def test_on_a_telephone_a_wide_figure_keeps_its_width_and_the_page_does_not_move(guest):
    screen = guest(PHONE)
    for page in ("sub_length.ipynb", "hours.ipynb"):
        live(screen, page)
        screen.wait_until(lambda: [figure for figure in screen.page.evaluate(FIGURES) if figure[0]])
        comes_to_nothing(screen, CUT, "a box cuts its words off")
        assert min(inner for inner, _ in screen.page.evaluate(FIGURES)) > 250, "the curves are squeezed by their names"
        assert screen.page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
        aside = "() => [...document.querySelectorAll('.lm-Widget')].some(e => (e.scrollLeft = 99, e.scrollLeft > 50))"
        assert screen.page.evaluate(aside), "the figure can't be pushed aside"


@pytest.mark.usefixtures("leader")
def test_on_paper_a_chart_is_whole_and_the_guess_stands_there(guest):
    screen = guest(DESK)
    live(screen, LESSON)
    box_of(screen, "double the hours").fill("2")
    box_of(screen, "double the hours").press("Enter")
    screen.page.locator(".expo-panel button:text-is('Run it')").first.click()
    screen.wait_until(lambda: [figure for figure in screen.page.evaluate(FIGURES) if figure[1] > 800])
    screen.page.locator(".expo-views select").select_option(label="Print: no buttons")
    screen.wait_until(lambda: all(outer <= 700 for _, outer in screen.page.evaluate(FIGURES)))
    assert box_of(screen, "double the hours").is_visible()
    assert not screen.page.locator(".expo-panel button:visible").count()


BEYOND = """() => {
  const canvases = root => [...root.querySelectorAll('*')].flatMap(
    e => [...(e.tagName === 'CANVAS' ? [e] : []), ...(e.shadowRoot ? canvases(e.shadowRoot) : [])]);
  return [...document.querySelectorAll('.quiet-figure')].filter(e => e.checkVisibility()).map(figure => {
    const edge = figure.closest('.expo-panel').getBoundingClientRect().right;
    return Math.max(...canvases(figure.shadowRoot).map(e => e.getBoundingClientRect().right)) - edge;
  });
}"""
"""How far each figure reaches over its panel's right end. [px]"""


@pytest.mark.usefixtures("leader")
def test_printed_straight_from_the_screen_charts_and_choices_are_whole(guest):
    screen = guest(DESK)
    live(screen, "workshop/4-sky-filter-moon.ipynb")
    screen.page.locator(".expo-guess select").first.select_option("Longer")
    screen.page.locator(".expo-panel button:text-is('Run it')").first.click()
    screen.wait_until(lambda: screen.page.evaluate(BEYOND))
    wide = screen.page.evaluate("() => document.querySelector('.quiet-figure').getBoundingClientRect().width")
    assert wide > 700
    # as a browser prints: it tells the page first, then asks for its paper's rules
    screen.page.evaluate("() => dispatchEvent(new Event('beforeprint'))")
    screen.page.emulate_media(media="print")
    assert max(screen.page.evaluate(BEYOND)) <= 0
    assert screen.page.locator(".expo-guess select").first.is_visible()
    assert not screen.page.locator(".hall-bar, .expo-panel button:visible").filter(visible=True).count()
    screen.page.emulate_media(media="null")
    screen.page.evaluate("() => dispatchEvent(new Event('afterprint'))")
    assert screen.page.evaluate("() => document.querySelector('.quiet-figure').style.zoom") == ""


WATCHED = """box => {
  const { get, set } = Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, 'checked');
  window.told = [];
  Object.defineProperty(box, 'checked', { get, set(value) { window.told.push(value); set.call(box, value); } });
}"""


def test_an_old_answer_does_not_undo_what_the_leader_pressed(leader):
    """The laptop is slow: the answer to the last look comes after the press."""
    held = []
    leader.page.route("**/leader/state?*", lambda route: held.append((route, route.fetch())))
    leader.wait_until(lambda: held)  # this one says that the page is open
    box = leader.page.locator(f"[data-page='{LESSONS[2]}']")
    before = box.is_checked()
    box.set_checked(not before)
    box.evaluate(WATCHED)
    for route, answer in held:
        route.fulfill(response=answer)
    leader.page.unroute("**/leader/state?*")
    with leader.page.expect_response("**/leader/state?*"):
        pass
    leader.wait_until(lambda: leader.page.evaluate("() => window.told.length"))
    assert set(leader.page.evaluate("() => window.told")) == {not before}
    box.set_checked(before)


@pytest.mark.parametrize("size", [WALL, FINE_WALL], ids=["1280", "1920"])
@pytest.mark.parametrize("show", ["door", "guesses", "eyes", "slips", "laptop"])
def test_the_leaders_page_is_without_fault_and_fits_the_wall(leader, show, size):
    leader.page.set_viewport_size(size)
    leader.page.goto(f"{leader.base}/leader?show={show}")
    leader.page.get_by_text("at a page").wait_for()
    if show in ("guesses", "eyes"):
        leader.page.locator("#picture [role=img]").wait_for()
        leader.page.wait_for_function(DRAWN)
    faults(leader, "body")
    comes_to_nothing(
        leader, "() => Math.max(0, document.documentElement.scrollHeight - innerHeight)", "px below the wall"
    )
    comes_to_nothing(leader, WIDER, "px beside the wall")


DRAWN = "() => Bokeh.documents.length && Bokeh.documents.every(d => d.is_idle)"


def faults(screen, part):
    """No serious finding of axe-core, where it is at hand."""
    place = Path(os.environ.get("AXE_CORE", "/nowhere"))
    if not place.is_file():
        return
    if not screen.page.evaluate("() => !!window.axe"):
        screen.page.evaluate(place.read_text(encoding="utf-8"))
    found = screen.page.evaluate("part => axe.run(part, {resultTypes: ['violations']})", part)["violations"]
    serious = [
        (one["id"], [node["html"][:160] for node in one["nodes"]])
        for one in found
        if one["impact"] in ("serious", "critical")
    ]
    assert not serious, f"{urlsplit(screen.page.url).path}: {serious}"
