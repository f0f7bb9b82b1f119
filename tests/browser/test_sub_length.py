"""The sub-length panel under a reader's hands."""

import re
import tomllib

import pytest

from expocalc.base.words import say_duration
from expocalc.plan import Plan
from workbook.parts.figures import SAY_TIME
from workbook.sub_length.knobs import KNOBS
from workbook.sub_length.model import Picture

pytestmark = pytest.mark.browser

NOTEBOOK = "sub_length.ipynb"
HEADLINE = ".expo-headline"
WRONG = ".expo-panel .expo-wrong"
MARKUP = "<img src=x onerror=alert(1)><b>shell</b>"


@pytest.fixture
def panel(screen):
    """The notebook's page, its panel live."""
    screen.open(NOTEBOOK)
    screen.wait_live()
    screen.page.locator(".expo-panel").first.scroll_into_view_if_needed()
    return screen


def changed(screen, name, before):
    """What the data source holds once it differs from `before`."""
    screen.wait_until(lambda: screen.source(name) != before)
    return screen.source(name)


def least(hours):
    """Fewest hours of the first filter; there are none where a sub is too short for any number of them."""
    return min(value for value in hours["hours_0"] if value == value)  # not NaN


def open_group(screen, name):
    head = screen.page.locator(f".expo-panel button:has-text('▸ {name}')").first
    head.focus()
    screen.page.keyboard.press("Enter")
    screen.page.locator(f".expo-panel button:has-text('▾ {name}')").first.wait_for()


def click(screen, word):
    screen.page.locator(f".expo-panel button:text-is('{word}')").first.click()


def test_a_key_on_a_slider_moves_figures_and_words(panel):
    before, said = panel.source("hours"), panel.page.locator(HEADLINE).first.inner_text()
    after = before
    for _ in range(8):  # each is waited for, so that none is still on its way at the next step
        panel.press("Sky at the zenith", "ArrowLeft")
        after = changed(panel, "hours", after)
    panel.wait_live()
    assert least(after) > least(before)  # a brighter sky costs hours
    panel.page.wait_for_function("s => document.querySelector('.expo-headline').innerText !== s", arg=said)
    open_group(panel, "Telescope")
    before = panel.source("hours")
    panel.press("Aperture")
    after = changed(panel, "hours", before)
    assert least(after) < least(before)  # a wider telescope saves some


def test_a_hand_that_does_not_stop_ends_at_the_right_answer(panel):
    slider = panel.control("Sky at the zenith", ".noUi-handle")
    slider.focus()
    for _ in range(20):
        panel.page.keyboard.press("ArrowRight")
    plan = Plan.read(panel.lab.folder / "plans" / "mono-single-lines.toml")
    darker = float(plan.case.sky.zenith_brightness.value) + 20 * KNOBS["sky"].step
    end = plan.with_values({("sky", "zenith_brightness"): f"{darker:.2f} mag/arcsec2"})
    picture = Picture(end, end.case.filters[0].name)
    panel.wait_until(lambda: panel.source("ends")["label"] == [end.label for end in picture.ends])
    assert panel.source("hours")["hours_1"][-1] == pytest.approx(float(picture.curves[1][-1]))
    panel.page.locator(HEADLINE).first.filter(has_text=picture.words.headline).wait_for()
    assert panel.control("Sky at the zenith", "input[type=text]").input_value() == KNOBS["sky"].say(darker)


def test_bad_input_shows_a_sentence_and_keeps_the_figure(panel):
    open_group(panel, "Telescope")
    before, said = panel.source("hours"), panel.page.locator(HEADLINE).first.inner_text()
    panel.type_into("Aperture", "102 s")
    panel.page.locator(WRONG).first.wait_for()
    assert "convertible to mm" in panel.page.locator(WRONG).first.inner_text()
    panel.wait_live()
    assert panel.source("hours") == before
    assert panel.page.locator(HEADLINE).first.inner_text() == said
    panel.type_into("Aperture", "15,3 cm")
    changed(panel, "hours", before)
    panel.page.locator(WRONG).first.wait_for(state="detached")
    panel.wait_until(lambda: panel.control("Aperture", "input[type=text]").input_value() == "153 mm")


def test_a_plan_is_saved_and_loaded_and_its_title_is_only_text(panel):
    open_group(panel, "Telescope")
    before = panel.source("hours")
    panel.type_into("Aperture", "80 mm")
    changed(panel, "hours", before)
    panel.type_into("Plan file", "plans/mine.toml")
    click(panel, "Save")
    panel.page.locator(".expo-done:text-is('Saved as plans/mine.toml.')").wait_for()
    mine = panel.lab.folder / "plans" / "mine.toml"
    text = mine.read_text(encoding="utf-8")
    assert tomllib.loads(text)["telescope"]["aperture"] == "80 mm"

    mine.write_text(text.replace("Faint shell from a town garden, mono camera", MARKUP), encoding="utf-8")
    click(panel, "Load")
    panel.page.locator(f".expo-title:text-is('{MARKUP}')").wait_for()
    assert panel.page.locator(".expo-panel img").count() == 0

    panel.type_into("Plan file", "plans/none.toml")
    click(panel, "Load")
    panel.page.locator(WRONG, has_text="can't be read").wait_for()

    bars = panel.source("noise bars")
    panel.type_into("Plan file", "plans/colour-dual-band.toml")
    click(panel, "Load")
    assert changed(panel, "noise bars", bars)["words"] == ["Dual 6 nm for H-alpha in red pixels, 3 min"]
    panel.page.locator(f"{HEADLINE}:has-text('Dual 6 nm: take')").wait_for()


def test_verdict_controls_and_both_figures_fit_one_look(panel):
    room = panel.page.evaluate("() => document.querySelector('.jp-WindowedPanel-outer').clientHeight")
    top = panel.page.locator(".expo-title").first.bounding_box()["y"]
    figures = panel.page.locator(".expo-panel .quiet-figure")
    assert figures.count() == 2
    folds = panel.page.locator(".expo-panel button.expo-fold")
    bottoms = [place["y"] + place["height"] for place in (figures.last.bounding_box(), folds.last.bounding_box())]
    assert max(bottoms) - top < room
    for described in figures.all():
        assert described.get_attribute("role") == "img"
        assert described.get_attribute("aria-label").endswith(".")


def test_keys_reach_every_control_and_each_has_a_name(panel):
    for group in ("Target", "Telescope", "Camera", "Filter", "Mount and pauses", "Sky"):
        open_group(panel, group)
        nameless = panel.page.evaluate("""() => [...document.querySelectorAll(
            '.expo-panel .noUi-handle, .expo-panel input, .expo-panel select, .expo-panel button')]
            .filter(e => e.offsetParent && !(e.tabIndex >= 0 && (e.getAttribute('aria-label') || e.title
                || e.textContent.trim() || e.labels?.[0]?.textContent))).map(e => e.outerHTML)""")
        assert nameless == []


def test_numbers_stand_behind_the_figures_in_both_themes(panel):
    panel.page.locator(".expo-panel button:has-text('Hours in numbers')").first.click()
    panel.page.locator(".expo-panel table caption").first.wait_for()
    filters = "() => getComputedStyle(document.querySelector('.expo-panel .quiet-figure')).filter"
    assert panel.page.evaluate(filters) == "none"
    panel.page.evaluate("() => jupyterapp.commands.execute('apputils:change-theme', {theme: 'JupyterLab Dark'})")
    panel.page.wait_for_function("() => document.body.dataset.jpThemeLight === 'false'")
    assert "invert" in panel.page.evaluate(filters)


def test_a_pointer_shows_the_value_of_every_curve(panel):
    figure = panel.page.locator(".expo-panel .quiet-figure").first
    place = figure.bounding_box()
    panel.page.mouse.move(place["x"] + place["width"] * 0.55, place["y"] + place["height"] * 0.5)
    tip = panel.page.locator(".bk-Tooltip").first
    tip.wait_for()
    said = tip.evaluate("tip => tip.shadowRoot.textContent")
    assert re.search(r"sub: [\d.]+ min\s*H-alpha 5 nm: [\d.]+ h\s*O III 5 nm: [\d.]+ h", said)


def test_the_pointer_says_a_time_as_all_else_does(page_of, lab):
    times = [1.04, 3.26, 45.2, 98.7, 113, 119.4, 119.6, 250, 300, 5300, 5500, 27000, 359_000, 361_000, 3.6e6]
    said = page_of(lab).page.evaluate(f"times => times.map(value => {{ const unit_s = 1; {SAY_TIME} }})", times)
    assert said == [say_duration(time) for time in times]


def test_an_exercise_replies(panel):
    box = panel.page.locator(".expo-panel input[placeholder*='4 min']").first
    box.scroll_into_view_if_needed()
    box.fill("3 s")
    box.press("Enter")
    panel.page.locator("p[role=status]", has_text="Not yet").wait_for()
