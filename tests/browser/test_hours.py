"""The hours panel under a reader's hands."""

import re

import pytest

from expocalc.plan import Plan

pytestmark = pytest.mark.browser

NOTEBOOK = "hours.ipynb"
HEADLINE = ".expo-headline"
WRONG = ".expo-panel .expo-wrong"
RANGE = re.compile(r"takes [\d.]+ \w+ at best; plan for [\d.]+ \w+ of kept subs, [\d.]+ (\w+ )?to [\d.]+ \w+ in eight")


@pytest.fixture
def panel(screen):
    """The notebook's page, its panel live and its range known."""
    screen.open(NOTEBOOK)
    screen.wait_live()
    screen.page.locator(".expo-panel").first.scroll_into_view_if_needed()
    wait_range(screen)
    return screen


def wait_range(screen):
    screen.wait_until(lambda: RANGE.search(headline(screen)))


def headline(screen):
    return screen.said(HEADLINE)


def changed(screen, name, before):
    """What the data source holds once it differs from `before`."""
    screen.wait_until(lambda: screen.source(name) != before)
    return screen.source(name)


def open_group(screen, name):
    screen.page.locator(f".expo-panel button:has-text('▸ {name}')").first.click()
    screen.page.locator(f".expo-panel button:has-text('▾ {name}')").first.wait_for()


def look_at(screen, picture):
    screen.page.locator(f".expo-panel .widget-toggle-buttons button:has-text('{picture}')").first.click()


def seen(screen):
    """Sentences of the figures of the panel that can be seen."""
    figures = screen.page.locator(".expo-panel .quiet-figure").all()
    return [figure.get_attribute("aria-label") for figure in figures if figure.is_visible()]


def test_a_key_on_a_slider_moves_curves_and_words_and_the_range_follows(panel):
    before, said = panel.source("snr"), headline(panel)
    assert len(panel.source("band 0")["low"]) > 10
    for _ in range(8):
        panel.press("Line brightness")
    after = changed(panel, "snr", before)
    assert after["snr_0"] != before["snr_0"]
    panel.wait_until(lambda: headline(panel) != said)
    wait_range(panel)
    assert len(panel.source("band 0")["low"]) > 10


def test_each_picture_shows_itself_alone_with_its_numbers(panel):
    panel.page.locator(".expo-panel button:has-text('Numbers behind the picture')").first.click()
    captions = set()
    for picture, words in (
        ("Noise", "made of"),
        ("How faint", "faintest light"),
        ("What helps", "single choice"),
        ("Share out", "shared out"),
        ("Hours", "Signal over noise"),
    ):
        look_at(panel, picture)
        panel.wait_until(lambda words=words: len(now := seen(panel)) == 1 and words in now[0])
        place = panel.page.locator(".expo-panel .quiet-figure:visible").first.bounding_box()
        assert place["width"] > 500
        assert place["height"] > 120
        caption = panel.page.locator(".expo-panel table caption").first
        panel.wait_until(lambda caption=caption: caption.inner_text() not in captions)
        captions.add(caption.inner_text())


def test_verdict_controls_and_figure_fit_one_look(panel):
    room = panel.page.evaluate("() => document.querySelector('.jp-WindowedPanel-outer').clientHeight")
    top = panel.page.locator(".expo-title").first.bounding_box()["y"]
    for group in ("Goal", "Stack", "Sky and filter", "Target"):
        open_group(panel, group)
        last = (
            panel.page.locator(".expo-panel .quiet-figure").first,
            panel.page.locator(".expo-panel button.expo-fold").last,
        )
        bottoms = [place["y"] + place["height"] for place in (one.bounding_box() for one in last)]
        assert max(bottoms) - top < room, group


def test_keys_reach_every_control_and_each_has_a_name(panel):
    for group in ("Look a brightness up", "Goal", "Stack", "Sky and filter", "Target"):
        open_group(panel, group)
        nameless = panel.page.evaluate("""() => [...document.querySelectorAll(
            '.expo-panel .noUi-handle, .expo-panel input, .expo-panel select, .expo-panel button')]
            .filter(e => e.offsetParent && !(e.tabIndex >= 0 && (e.getAttribute('aria-label') || e.title
                || e.textContent.trim() || e.labels?.[0]?.textContent))).map(e => e.outerHTML)""")
        assert nameless == [], group


def test_a_name_is_looked_up_and_used_and_ones_own_value_wins(panel):
    open_group(panel, "Look a brightness up")
    panel.type_into("Name in the library", "Rosete Nebula")
    panel.page.locator(WRONG, has_text="did you mean").wait_for()
    panel.type_into("Name in the library", "NGC 2237, Rosette Nebula")
    panel.page.locator(".expo-panel p", has_text="Celnik 1985").wait_for()
    before = panel.source("snr")
    panel.page.locator(".expo-panel button:text-is('Use it')").click()
    changed(panel, "snr", before)
    open_group(panel, "Target")
    assert panel.control("Line brightness", "input[type=text]").first.input_value() == "900 R"
    panel.type_into("Line brightness", "30 R")
    panel.page.locator(".expo-panel .expo-origin:text-is('set here')").first.wait_for()


def test_bad_input_shows_a_sentence_and_keeps_the_figure(panel):
    before, said = panel.source("snr"), headline(panel)
    panel.type_into("Side of the patch", "0.2 arcsec")
    panel.page.locator(WRONG, has_text="one pixel").wait_for()
    assert (panel.source("snr"), headline(panel)) == (before, said)
    open_group(panel, "Goal")
    panel.type_into("Goal, SNR", "500")
    panel.wait_until(lambda: "out of reach" in headline(panel))
    assert panel.page.locator(WRONG).count() == 0
    panel.type_into("Goal, SNR", "10")  # what is not saved is kept, and would meet the next test
    wait_range(panel)


def test_the_work_on_the_range_can_be_stopped_and_taken_up(panel):
    many = Plan.read(panel.lab.folder / "plans" / "mono-single-lines.toml")
    band = many.values["filters"][0]["passbands"]
    filters = [{"name": f"H-alpha {number}", "passbands": band} for number in range(30)]
    many.with_values({("filters",): filters}).save(panel.lab.folder / "plans" / "many.toml")
    panel.type_into("Plan file", "plans/many.toml")
    panel.page.locator(".expo-panel button:text-is('Load')").first.click()
    panel.wait_until(lambda: headline(panel).startswith("H-alpha 0: "))
    wait_range(panel)
    panel.press_once_it_stands("Stop")
    panel.press("Line brightness")
    panel.page.locator(".expo-panel", has_text="Range: stopped.").first.wait_for()
    assert headline(panel).endswith("what to plan for follows.")
    panel.page.locator(".expo-panel button:text-is('Go on')").first.click()
    wait_range(panel)


def test_an_exercise_replies(panel):
    box = panel.page.locator(".expo-panel input[placeholder*='12 h']").first
    box.scroll_into_view_if_needed()
    box.fill("3 h")
    box.press("Enter")
    panel.page.locator("p[role=status]", has_text="Not yet").wait_for()


CAPTIONS = ".expo-seen figcaption"
PICTURES_SEEN = "() => [...document.querySelectorAll('.expo-seen img')].map(img => img.src)"


def test_see_it_follows_the_plan_and_is_whole_on_a_narrow_page(panel):
    """Target, light, filter, dark frames, and an aperture of another plan: each draws anew, with the panel's SNR."""
    plans = panel.lab.folder / "plans"
    demo = Plan.read(plans / "mono-single-lines.toml")
    demo.with_values({("telescope", "aperture"): "150 mm"}).save(plans / "wider.toml")
    look_at(panel, "See it")
    panel.page.locator(CAPTIONS).first.wait_for()

    def drawn_anew(act, name):
        before = panel.page.evaluate(PICTURES_SEEN)
        assert len(before) > 1
        act()
        panel.wait_until(lambda: panel.page.evaluate(PICTURES_SEEN) not in (before, []))
        panel.wait_idle()
        assert not panel.page.locator(WRONG).count(), name
        goal = panel.page.locator(CAPTIONS, has_text="the goal").first.inner_text()
        hours, snr = re.fullmatch(r".*the goal's ([\d.]+ \w+): SNR ([\d.]+)", goal).groups()
        panel.wait_until(lambda: f"takes {hours} at best" in headline(panel))
        assert float(snr) == pytest.approx(10, rel=0.02), name

    drawn_anew(lambda: panel.type_into("Line brightness", "20 R"), "target")
    drawn_anew(lambda: panel.control("Filter in view", "select").first.select_option(label="O III 5 nm"), "filter")
    drawn_anew(lambda: panel.type_into("Side of the patch", "20 arcsec"), "patch")
    open_group(panel, "Stack")
    drawn_anew(lambda: panel.type_into("Darks", "20"), "dark frames")

    def load():
        panel.type_into("Plan file", "plans/wider.toml")
        panel.page.locator(".expo-panel button:text-is('Load')").first.click()

    drawn_anew(load, "aperture")
    for width in (560, 390):
        panel.page.set_viewport_size({"width": width, "height": 900})
        panel.page.wait_for_function(
            """() => { const panel = document.querySelector('.expo-panel').getBoundingClientRect();
                return [...document.querySelectorAll('.expo-seen figure')].every(figure => {
                  const box = figure.getBoundingClientRect(), words = figure.querySelector('figcaption');
                  return box.width >= 150 && box.left >= panel.left && box.right <= panel.right + 1
                    && words.scrollWidth <= words.clientWidth + 1; }); }"""
        )
