"""The night panel under a reader's hands."""

import re

import pytest

pytestmark = pytest.mark.browser

HEADLINE = ".expo-headline"
WRONG = ".expo-panel .expo-wrong"


@pytest.fixture
def panel(screen):
    """The notebook's page, its panel live and its schedule known."""
    screen.open("night.ipynb")
    screen.wait_live()
    screen.page.locator(f"{HEADLINE}:has-text('Start with')").first.wait_for()
    screen.page.locator(".expo-panel").first.scroll_into_view_if_needed()
    return screen


def button(screen, words):
    return screen.page.locator(f".expo-panel button:has-text('{words}')").first


def picture(screen, name):
    return screen.page.locator(f".expo-panel button:text-is('{name}')").first


def test_the_night_is_said_moves_with_a_key_and_refuses_in_a_sentence(panel):
    said = panel.page.locator(HEADLINE).first.inner_text()
    assert re.fullmatch(r"Start with .* at \d\d:\d\d, switch to .* at \d\d:\d\d; stop at \d\d:\d\d\.", said)
    before = panel.source("blocks")
    for _ in range(6):
        panel.press("Sun below")
    panel.wait_until(lambda: panel.source("blocks")["begin"] not in ([], before["begin"]))  # gone while they are unsure
    assert min(panel.source("blocks")["begin"]) < min(before["begin"])  # with twilight one begins earlier
    panel.type_into("Evening of", "someday")
    panel.page.locator(WRONG).first.wait_for()
    assert "must be a date" in panel.page.locator(WRONG).first.inner_text()


def test_pictures_fit_one_look_and_are_described(panel):
    room = panel.page.evaluate("() => document.querySelector('.jp-WindowedPanel-outer').clientHeight")
    for name, source in (
        ("Season", "season"),
        ("Nights", "schedule"),
        ("Losses, dither", "cadence 1"),
        ("Tonight", "tonight"),
    ):
        picture(panel, name).click()
        panel.wait_until(lambda source=source: panel.source(source) is not None)
        panel.wait_live()
        top = panel.page.locator(".expo-title").first.bounding_box()["y"]
        figures = panel.page.locator(".expo-panel .quiet-figure:visible")
        for figure in figures.all():
            place = figure.bounding_box()
            assert place["y"] + place["height"] - top < room
            assert place["x"] + place["width"] < 1366
            assert figure.get_attribute("role") == "img"
            assert figure.get_attribute("aria-label").endswith(".")


def test_keys_reach_every_control_and_each_has_a_name(panel):
    for group in ("Place and target", "What takes time", "Losses and dither", "What to shoot"):
        button(panel, f"▸ {group}").focus()
        panel.page.keyboard.press("Enter")
        button(panel, f"▾ {group}").wait_for()
        nameless = panel.page.evaluate("""() => [...document.querySelectorAll(
            '.expo-panel .noUi-handle, .expo-panel input, .expo-panel select, .expo-panel button')]
            .filter(e => e.offsetParent && !e.disabled && !(e.tabIndex >= 0 && (e.getAttribute('aria-label') || e.title
                || e.textContent.trim() || e.labels?.[0]?.textContent))).map(e => e.outerHTML)""")
        assert nameless == []


def test_the_list_is_ranked_and_one_comes_into_the_plan(panel):
    picture(panel, "What to shoot").click()
    panel.wait_until(lambda: len((panel.source("ranked") or {"row": []})["row"]) > 5, timeout=60)
    panel.wait_live()
    button(panel, "Bring into the plan").click()
    panel.page.locator(f"{HEADLINE}:has-text('Start with')").first.wait_for()
    panel.wait_until(lambda: panel.source("blocks")["begin"])


def test_the_start_leads_here(screen):
    screen.open()
    screen.wait_live()
    screen.page.locator(".jp-RenderedMarkdown a[href*='night']").first.click()
    screen.page.wait_for_url("**/night.ipynb*")
    screen.page.locator(".expo-panel:visible").first.wait_for()
