"""The comparison panel under a reader's hands."""

import re
import runpy
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

plain = runpy.run_path(str(Path(__file__).parents[1] / "on_screen.py"))["plain"]
HEADLINE = ".expo-headline"
WRONG = ".expo-panel .expo-wrong"


@pytest.fixture
def panel(screen):
    """The notebook's page, its panel live."""
    screen.open("compare.ipynb")
    screen.wait_live()
    screen.page.locator(".expo-panel").first.scroll_into_view_if_needed()
    return screen


def changed(screen, name, before):
    screen.wait_until(lambda: screen.source(name) != before)
    return screen.source(name)


def button(screen, words):
    return screen.page.locator(f".expo-panel button:has-text('{words}')").first


def open_group(screen, name):
    button(screen, f"▸ {name}").focus()
    screen.page.keyboard.press("Enter")
    button(screen, f"▾ {name}").wait_for()


def test_it_opens_with_a_winner_and_a_key_on_a_slider_moves_both_figures(panel):
    said = panel.page.locator(HEADLINE).first.inner_text()
    assert re.fullmatch(
        r"Right wins: .* on the clock instead of .* times fewer hours, because .* times darker\.", plain(said)
    )
    before, reasons = panel.source("right hours"), panel.source("reasons")
    left = panel.source("left hours")
    for _ in range(4):
        panel.press("Sky at the zenith", "ArrowLeft")
    after = changed(panel, "right hours", before)
    panel.wait_until(lambda: panel.source("reasons") != reasons)
    panel.wait_live()
    assert min(after["hours"]) > min(before["hours"])  # a brighter sky costs hours
    assert panel.source("left hours")["hours"] == left["hours"]
    panel.page.wait_for_function("s => document.querySelector('.expo-headline').innerText !== s", arg=said)


def test_another_difference_becomes_a_reason_and_bad_input_keeps_the_figure(panel):
    open_group(panel, "Telescope")
    before = panel.source("reasons")
    panel.type_into("Aperture", "153 mm")
    assert [words.split()[0] for words in changed(panel, "reasons", before)["words"]] == ["sky", "telescope"]
    panel.wait_live()
    before, said = panel.source("right hours"), panel.page.locator(HEADLINE).first.inner_text()
    panel.type_into("Aperture", "153 s")
    panel.page.locator(WRONG).first.wait_for()
    assert "convertible to mm" in panel.page.locator(WRONG).first.inner_text()
    panel.wait_live()
    assert panel.source("right hours") == before
    assert panel.page.locator(HEADLINE).first.inner_text() == said


def test_another_plan_loads_on_the_right(panel):
    before = panel.source("pair labels")
    panel.type_into("Right plan file", "plans/colour-dual-band.toml")
    panel.page.locator(".expo-panel button:text-is('Load')").nth(1).click()
    labels = changed(panel, "pair labels", before)["label"]
    assert labels[0] == "H-alpha (H-alpha 5 nm and Dual 6 nm)"
    panel.page.locator(f"{HEADLINE}:has-text('wins')").wait_for()
    button(panel, "Make right as left").click()
    panel.page.locator(f"{HEADLINE}:has-text('Both sides are the same')").wait_for()


def test_verdict_controls_facts_and_figures_fit_one_look(panel):
    open_group(panel, "Camera")  # the longest group
    room = panel.page.evaluate("() => document.querySelector('.jp-WindowedPanel-outer').clientHeight")
    top = panel.page.locator(".expo-title").first.bounding_box()["y"]
    figures = panel.page.locator(".expo-panel .quiet-figure")
    assert figures.count() == 2
    lowest = [figures.last, panel.page.locator(".expo-panel table tr").last, button(panel, "Reasons in numbers")]
    for place in (part.bounding_box() for part in lowest):
        assert place["y"] + place["height"] - top < room
        assert place["x"] + place["width"] < 1366
    for described in figures.all():
        assert described.get_attribute("role") == "img"
        assert described.get_attribute("aria-label").endswith(".")


def test_keys_reach_every_control_and_each_has_a_name(panel):
    for group in ("Telescope", "Camera", "Filter", "Sky"):
        open_group(panel, group)
        nameless = panel.page.evaluate("""() => [...document.querySelectorAll(
            '.expo-panel .noUi-handle, .expo-panel input, .expo-panel select, .expo-panel button')]
            .filter(e => e.offsetParent && !(e.tabIndex >= 0 && (e.getAttribute('aria-label') || e.title
                || e.textContent.trim() || e.labels?.[0]?.textContent))).map(e => e.outerHTML)""")
        assert nameless == []


def test_numbers_stand_behind_the_figures_in_both_themes(panel):
    for name, caption in (("Hours", "Each light on both sides"), ("Reasons", "Hours of right with one thing")):
        button(panel, f"{name} in numbers").click()
        panel.page.locator(f".expo-panel table caption:has-text('{caption}')").wait_for()
    panel.page.evaluate("() => jupyterapp.commands.execute('apputils:change-theme', {theme: 'JupyterLab Dark'})")
    panel.page.wait_for_function("() => document.body.dataset.jpThemeLight === 'false'")
    filters = "() => getComputedStyle(document.querySelector('.expo-panel .quiet-figure')).filter"
    assert "invert" in panel.page.evaluate(filters)


def test_the_start_leads_here(screen):
    screen.open()
    screen.wait_live()
    screen.page.locator(".jp-RenderedMarkdown a[href*='compare']").first.click()
    screen.page.wait_for_url("**/compare.ipynb*")
    screen.page.locator(".expo-panel:visible").first.wait_for()
