"""The night panel under a reader's hands."""

import itertools
import os
import re
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

HEADLINE = ".expo-headline"
SIDES = """() => Object.fromEntries(['controls', 'pictures'].map(name => {
  const side = document.querySelector('.expo-panel .expo-' + name).getBoundingClientRect();
  return [name, {left: side.left, right: side.right, top: side.top, bottom: side.bottom}]; }))"""
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
    for group in ("Place and target", "What takes time", "Mount and focus", "Losses and dither", "What to shoot"):
        button(panel, f"▸ {group}").focus()
        panel.page.keyboard.press("Enter")
        button(panel, f"▾ {group}").wait_for()
        nameless = panel.page.evaluate("""() => [...document.querySelectorAll(
            '.expo-panel .noUi-handle, .expo-panel input, .expo-panel select, .expo-panel button')]
            .filter(e => e.offsetParent && !e.disabled && !(e.tabIndex >= 0 && (e.getAttribute('aria-label') || e.title
                || e.textContent.trim() || e.labels?.[0]?.textContent))).map(e => e.outerHTML)""")
        assert nameless == []


def test_what_the_mount_holds_and_a_cloudy_start_are_said(panel):
    panel.type_into("If cloudy until", "23:00")
    said = panel.page.locator(".expo-verdict .expo-small:has-text('If it is cloudy until 23:00: start with')")
    said.first.wait_for()
    button(panel, "▸ Mount and focus").click()
    panel.type_into("Polar error", "90 arcmin")
    panel.page.locator("td:text-is('3.2 min')").first.wait_for()
    panel.type_into("Your longest sub", "no limit")
    panel.page.locator(".expo-small:has-text('corners turn too far about the guide star')").first.wait_for()


def test_a_picture_first_seen_with_its_schedule_has_its_blocks(panel):
    picture(panel, "Losses, dither").click()
    panel.wait_until(lambda: panel.source("cadence 1") is not None)
    button(panel, "Load").click()
    panel.page.locator(".expo-panel :text('Loaded plans')").first.wait_for()
    panel.wait_idle()
    picture(panel, "Nights").click()
    panel.wait_until(lambda: (panel.source("schedule") or {"row": []})["row"])
    picture(panel, "Tonight").click()
    panel.wait_until(lambda: (panel.source("blocks") or {"begin": []})["begin"])


RIGHTS = "figures => figures.map(figure => figure.getBoundingClientRect().right)"
"""Right edges of pictures; 0 of one that is hidden."""


TITLES = """() => {
  const pen = document.createElement('canvas').getContext('2d');
  return Bokeh.documents.flatMap(d => [...d._all_models.values()])
    .filter(m => m.type === 'Figure' && m.inner_width > 0 && m.title?.text).map(m => {
      pen.font = `bold ${m.title.text_font_size} ${m.title.text_font}`;
      const left = m.outer_width - m.inner_width - m.min_border_right;
      return [m.title.text, left + pen.measureText(m.title.text).width - m.outer_width, m.outer_width];
    });
}"""
"""Titles of the drawn figures, by how much each is wider than its room, and how wide its figure is. [px]"""


def test_no_title_is_cut(panel):
    for name, source in (
        ("Season", "season"),
        ("Nights", "schedule"),
        ("Losses, dither", "cadence 1"),
        ("Tonight", "tonight"),
    ):
        picture(panel, name).click()
        panel.wait_until(lambda source=source: panel.source(source) is not None)
        for narrower, width in itertools.pairwise((0, 390, 560, 1366)):
            panel.page.set_viewport_size({"width": width, "height": 800})
            panel.wait_live()
            # its figures have this page's width, and not any more that of the page before
            panel.wait_until(lambda low=narrower, high=width: fill(panel.page.evaluate(TITLES), low, high))
            panel.wait_until(lambda: all(over <= 0 for _, over, _ in panel.page.evaluate(TITLES)), lambda: cut(panel))


def fill(titles, low, high):
    return titles and all(low < drawn <= high for _, _, drawn in titles)


def cut(panel):
    """Titles that are wider than their room, and by how much."""
    return [(title, over) for title, over, _ in panel.page.evaluate(TITLES) if over > 0]


def test_on_a_narrow_page_pictures_stand_above_the_controls(panel):
    panel.page.set_viewport_size({"width": 560, "height": 900})
    panel.wait_until(
        lambda: (lambda s: s["pictures"]["bottom"] <= s["controls"]["top"] + 1)(panel.page.evaluate(SIDES))
    )
    for name in ("Season", "Nights", "Losses, dither", "Tonight"):
        picture(panel, name).click()
        panel.wait_live()
        assert panel.page.evaluate(SIDES)["pictures"]["right"] <= 560
        pictures = panel.page.locator(".expo-panel .quiet-figure")
        pictures.locator("visible=true").first.wait_for()
        assert 0 < max(pictures.evaluate_all(RIGHTS)) <= 560


def test_every_picture_passes_axe_in_both_themes(panel):
    script = os.environ.get("AXE_CORE", "")
    if not Path(script).is_file():
        (pytest.fail if "CI" in os.environ else pytest.skip)("needs axe-core: set AXE_CORE to its axe.min.js")
    panel.page.evaluate(Path(script).read_text(encoding="utf-8"))
    for theme in ("JupyterLab Light", "JupyterLab Dark"):
        panel.page.evaluate("theme => window.jupyterapp.commands.execute('apputils:change-theme', {theme})", theme)
        panel.wait_until(lambda theme=theme: panel.page.evaluate("() => document.body.dataset.jpThemeName") == theme)
        for name in ("Season", "Nights", "Losses, dither", "Tonight"):
            picture(panel, name).click()
            panel.wait_live()
            found = panel.page.evaluate("() => axe.run('.expo-panel')")
            assert found["passes"]
            faults = [
                (fault["id"], [node["html"] for node in fault["nodes"]])
                for fault in found["violations"]
                if fault["impact"] in ("serious", "critical")
            ]
            assert not faults, (theme, name)
    panel.page.evaluate(
        "() => window.jupyterapp.commands.execute('apputils:change-theme', {theme: 'JupyterLab Light'})"
    )


def test_the_list_is_ranked_and_one_comes_into_the_plan(panel):
    picture(panel, "What to shoot").click()
    panel.wait_until(lambda: len((panel.source("ranked") or {"row": []})["row"]) > 5)
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
