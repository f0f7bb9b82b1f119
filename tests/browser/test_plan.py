"""The page of gear and targets under a reader's hands, by keyboard alone."""

import pytest

from expocalc.plan import Plan

pytestmark = pytest.mark.browser

NOTEBOOK = "plan.ipynb"
HEADLINE = ".expo-headline"
NAME = """() => {
  const one = document.activeElement;
  if (!one?.closest('.expo-panel')) return '';
  return one.labels?.[0]?.textContent || one.textContent.trim() || one.getAttribute('aria-label') || one.title || '';
}"""
WIDGETS = """async () => {
  const { kernel } = window.jupyterapp.shell.currentWidget.sessionContext.session;
  return Object.keys((await kernel.requestCommInfo({})).content.comms).length;
}"""


STROKE_S, THINKS_S = 0.28, 1.35
"""Of an average typist, and before each act: Card, Moran and Newell 1980, Communications of the ACM 23, 396."""


class Keys:
    """A reader who has a keyboard and no mouse; acts are boxes filled, choices made and buttons pressed."""

    def __init__(self, screen):
        self.screen, self.page = screen, screen.page
        self.acts = self.strokes = 0

    @property
    def seconds(self):
        """Time that the acts so far take one who knows what to type."""
        return self.acts * THINKS_S + self.strokes * STROKE_S

    def tab_to(self, name, key="Tab"):
        """Press Tab until what has that name has the focus."""
        seen = []
        for _ in range(120):
            self.page.keyboard.press(key)
            self.strokes += 1
            seen.append(self.page.evaluate(NAME))
            if seen[-1] == name or (name.startswith("▸") and seen[-1].startswith(name)):
                return
        pytest.fail(f"no Tab reaches {name!r}; it passed {seen}")

    def enter(self, name, key="Tab"):
        self.tab_to(name, key)
        self.page.keyboard.press("Enter")
        self.acts, self.strokes = self.acts + 1, self.strokes + 1
        self.screen.wait_idle()

    def fill(self, **given):
        for name, text in given.items():
            self.tab_to(name.replace("_", " "))
            self.page.keyboard.press("Control+A")
            self.page.keyboard.type(text)
            self.page.keyboard.press("Enter")
            self.acts, self.strokes = self.acts + 1, self.strokes + len(text) + 2
            self.screen.wait_idle()

    def choose(self, name, letters):
        """Choose by the first letters of an option."""
        self.tab_to(name)
        self.page.keyboard.type(letters)
        self.acts, self.strokes = self.acts + 1, self.strokes + len(letters)
        self.screen.wait_idle()


def headline(screen):
    return screen.said(HEADLINE)


def open_page(screen, afresh=True):
    screen.open(NOTEBOOK, afresh)
    screen.page.locator(HEADLINE).first.wait_for()
    screen.wait_idle()


def test_two_projects_from_an_empty_folder_by_keyboard(start_lab, page_of, tmp_path, record_property):
    lab = start_lab(tmp_path / "mine")
    screen = page_of(lab)
    open_page(screen)
    keys = Keys(screen)
    screen.page.locator(".expo-panel button:text-is('Load')").focus()
    keys.enter("From nothing")
    screen.wait_until(lambda: "things are missing" in headline(screen))
    keys.fill(Bortle_class="7")
    keys.enter("▸ Telescope", "Tab")
    keys.fill(Aperture="81 mm", Focal_length="478", Reducer_or_extender="0,8")
    keys.enter("▸ Camera")
    keys.fill(Pixel="3.76", Columns="6248", Rows="4176")
    keys.choose("Mono or colour", "colour")
    keys.fill(Dark_current="0.002", At_a_sensor_of="-10")  # efficiency and doubling stand there by then, as usual
    keys.enter("Add a gain")
    keys.tab_to("▾ gain 1", "Shift+Tab")
    keys.fill(Read_noise="1.5", Electrons_per_ADU="0,25", Full_well="16000")
    keys.enter("▸ Filters")
    keys.choose("Kind of filter", "Dual band, H")
    keys.enter("Add this filter")
    keys.enter("▸ Target and its light")
    keys.enter("Add a line")
    keys.tab_to("▾ Light 1", "Shift+Tab")
    keys.fill(Brightness="15")
    screen.wait_until(lambda: headline(screen).startswith("SNR 10 takes "))
    record_property("acts", keys.acts)
    record_property("strokes", keys.strokes)
    record_property("seconds", keys.seconds)
    print(f"to the first answer: {keys.acts} acts, {keys.strokes} strokes, {keys.seconds:.0f} s")
    assert keys.acts <= 27
    assert keys.seconds < 180, "under three minutes"
    plan = Plan.read(lab.folder / "plans/my-plan.toml")
    camera = plan.values["camera"]
    assert (camera["quantum_efficiency"], camera["dark_current"]["doubles_every"]) == ("back-lit mono", "6 K")
    assert plan.values["telescope"] == {"aperture": "81 mm", "focal_length": "382.4 mm", "reducer": 0.8}
    assert [f.name for f in plan.case.filters] == ["Dual 7 nm"]

    keys.enter("▸ Filters", "Shift+Tab")
    keys.choose("Kind of filter", "Lum")
    keys.enter("Add this filter")
    keys.enter("▸ Target and its light")
    keys.enter("Add a galaxy's or dust's light")
    keys.tab_to("▾ Light 2", "Shift+Tab")
    keys.fill(Continuum="25,5")
    screen.wait_until(lambda: "Luminance" in headline(screen))
    assert "Dual 7 nm" in headline(screen)
    screen.page.locator(".expo-panel button:text-is('Save')").focus()
    screen.page.keyboard.press("Enter")
    screen.page.locator(".expo-plan", has_text="Saved as plans/my-plan.toml").first.wait_for()
    plan = Plan.read(lab.folder / "plans/my-plan.toml")
    assert [f.name for f in plan.case.filters] == ["Dual 7 nm", "Luminance"]

    screen.open("hours.ipynb", afresh=False)  # every page opens the plan last used
    screen.wait_live()
    assert screen.page.locator(".expo-plan input").first.input_value() == "plans/my-plan.toml"


def test_a_plan_that_lacks_something_is_back_after_a_reload(screen):
    open_page(screen)
    screen.page.locator(".expo-panel button:text-is('From nothing')").click()
    screen.wait_until(lambda: "things are missing" in headline(screen))
    screen.type_into("Bortle class", "6-7")
    screen.wait_until(lambda: "12 things" in headline(screen))
    open_page(screen, afresh=False)
    screen.wait_until(lambda: "12 things" in headline(screen))
    screen.page.locator(".expo-plan", has_text="What you typed is back").first.wait_for()
    screen.page.locator(".expo-panel button:has-text('▸ Sky and place')").first.click()
    screen.page.locator(".widget-label:text-is('Bortle class')").wait_for()
    assert screen.control("Bortle class", "input").input_value() == "6-7"


def test_bad_input_names_the_box_and_stays_in_it(screen):
    open_page(screen)
    if screen.page.locator(".expo-panel button:has-text('▸ Telescope')").count():
        screen.page.locator(".expo-panel button:has-text('▸ Telescope')").first.click()
    screen.page.locator(".widget-label:text-is('Aperture')").wait_for()
    before = headline(screen)
    screen.type_into("Aperture", "<b>wide</b>")
    said = screen.page.locator(".expo-panel .expo-wrong").first
    said.wait_for()
    assert "Aperture" in said.inner_text()
    assert "<b>wide</b>" in said.inner_text()
    assert screen.control("Aperture", "input").input_value() == "<b>wide</b>"
    assert headline(screen) == before


def test_ten_reloads_pile_nothing_up(start_lab, page_of, tmp_path):
    lab = start_lab(tmp_path / "mine")
    screen = page_of(lab)
    widgets = []
    for number in range(10):
        open_page(screen, afresh=False)
        screen.wait_until(lambda: screen.page.locator(".expo-plan").count() == 1)
        screen.page.locator(".expo-panel button:has-text('▸ Telescope')").first.click()
        screen.page.locator(".widget-label:text-is('Aperture')").wait_for()
        screen.wait_idle()
        before = headline(screen)
        screen.type_into("Aperture", f"{120 + 10 * number} mm")
        screen.wait_until(lambda before=before: headline(screen) != before)
        screen.wait_idle()
        widgets.append(screen.page.evaluate(WIDGETS))
    assert max(widgets[1:]) <= widgets[1] * 1.05 + 5, widgets


def test_two_pages_on_one_plan(start_lab, page_of, tmp_path):
    lab = start_lab(tmp_path / "mine")
    one, two = page_of(lab), page_of(lab)
    open_page(one)
    one.page.locator(".expo-panel button:text-is('From a copy of this demo')").click()
    one.page.locator(".expo-plan", has_text="A copy of").first.wait_for()
    two.open("sub_length.ipynb", afresh=False)
    two.wait_live()
    assert two.page.locator(".expo-plan input").first.input_value() == "plans/mono-single-lines-copy.toml"
    one.page.locator(".expo-panel button:has-text('▸ Telescope')").first.click()
    one.type_into("Aperture", "130")
    two.type_into("Sky at the zenith", "20 mag/arcsec2")
    two.wait_idle()
    for page in (two, one):
        page.page.locator(".expo-plan button:text-is('Save')").first.click()
        page.page.locator(".expo-plan", has_text="Saved as").first.wait_for()
    plan = Plan.read(lab.folder / "plans/mono-single-lines-copy.toml")
    assert plan.values["telescope"]["aperture"] == "130 mm"
    assert plan.case.sky.zenith_brightness.value == 20
