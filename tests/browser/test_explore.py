"""Maps of hours, narrow pages, and pages without code and tool bars, in a real browser."""

import pytest

pytestmark = pytest.mark.browser

TOOLS = ".jp-NotebookPanel:visible .jp-NotebookPanel-toolbar"
SIDES = """() => Object.fromEntries(['controls', 'pictures'].map(name => {
  const {left, top, right, bottom} = document.querySelector(`.expo-split > .expo-${name}`).getBoundingClientRect();
  return [name, {left, top, right, bottom}]; }))"""


def stacked(sides):
    return sides["pictures"]["bottom"] <= sides["controls"]["top"] + 1


@pytest.fixture
def panel(screen):
    screen.open("sub_length.ipynb")
    screen.wait_live()
    screen.page.locator(".expo-panel").first.scroll_into_view_if_needed()
    return screen


def test_a_map_follows_the_sky_and_keeps_the_plans_place(panel):
    panel.page.locator(".expo-panel button:text-is('Map by sky')").click()
    panel.wait_until(lambda: panel.source("sky here"))
    assert panel.source("sky here")["up"] == [19.1]
    kinds = panel.source("sky labels")["kind"]
    assert kinds.count("hours") >= 3
    assert "here" in kinds
    panel.type_into("Sky at the zenith", "20,5 mag/arcsec2")
    panel.wait_until(lambda: panel.source("sky here")["up"][0] == pytest.approx(20.5))
    words = panel.source("sky labels")["words"]
    assert any(word.startswith("your plan: 5 min") for word in words)


def test_a_page_shows_neither_code_nor_tools_until_it_is_asked(panel):
    tools, code = panel.page.locator(TOOLS), panel.page.locator(".jp-InputPlaceholder").first
    assert not tools.is_visible()
    assert not code.is_visible()
    panel.page.keyboard.press("Alt+Shift+C")
    tools.wait_for(state="visible")
    code.wait_for(state="visible")
    panel.page.locator("button:text-is('Hide code and tools')").click()
    tools.wait_for(state="hidden")


def test_on_a_narrow_page_pictures_stand_above_the_controls(panel):
    wide = panel.page.evaluate(SIDES)
    assert wide["pictures"]["left"] >= wide["controls"]["right"]
    panel.page.set_viewport_size({"width": 560, "height": 900})
    panel.wait_until(lambda: stacked(panel.page.evaluate(SIDES)))
    assert panel.page.evaluate(SIDES)["pictures"]["right"] <= 560


TOP = """button => { const {left, top, width, height} = button.getBoundingClientRect();
  return button.contains(document.elementFromPoint(left + width / 2, top + height / 2)); }"""


def test_nothing_lies_over_the_buttons_of_the_plan(panel):
    for width in (1920, 1366, 560):
        panel.page.set_viewport_size({"width": width, "height": 768})
        for word in ("Load", "Save", "Undo", "Plans"):
            button = panel.page.locator(f".expo-plan button:text-is('{word}')").first
            button.scroll_into_view_if_needed()
            panel.wait_until(lambda button=button: button.evaluate(TOP), f"{word} is covered at {width} px")
