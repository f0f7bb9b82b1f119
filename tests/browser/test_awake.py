"""A panel is live or says that it is not; what was set is back after a reload, and reloads pile nothing up."""

import psutil
import pytest

pytestmark = pytest.mark.browser

PANEL = "sub_length.ipynb"
WIDGETS = """async () => {
  const { kernel } = window.jupyterapp.shell.currentWidget.sessionContext.session;
  return Object.keys((await kernel.requestCommInfo({})).content.comms).length;
}"""
FIGURES = "() => window.Bokeh.documents.length"
LIVE_AGAIN = """() => !document.querySelector('.expo-asleep') && !document.querySelector('.expo-note')"""


def aperture(screen):
    return screen.control("Aperture", "input[type=text]").input_value()


def open_fold(screen):
    screen.page.locator(".expo-panel button.expo-fold", has_text="Telescope").first.click()


def test_after_a_restart_the_panel_is_live_again_and_its_changes_are_back(page_of, lab):
    screen = page_of(lab, outlives_kernel=True)
    screen.open(PANEL)
    screen.wait_live()
    open_fold(screen)
    screen.type_into("Aperture", "111 mm")
    screen.wait_until(lambda: list((screen.lab.folder / "plans").glob(".*.unsaved")))
    old = screen.page.locator(".expo-panel").first.element_handle()
    screen.page.evaluate("() => window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.restart()")
    screen.wait_until(lambda: not old.evaluate("panel => panel.isConnected"))
    screen.page.wait_for_function(LIVE_AGAIN)
    screen.wait_live()
    assert screen.page.locator(".expo-plan", has_text="Unsaved changes of").first.is_visible()
    open_fold(screen)
    assert aperture(screen) == "111 mm"
    before = screen.sources()
    screen.press("Aperture")
    screen.wait_until(lambda: screen.sources() != before)
    screen.page.locator(".expo-plan button:text-is('Load')").first.click()
    screen.page.locator(".expo-plan", has_text="as it was saved").first.wait_for()


def test_after_the_kernel_was_killed_the_panel_is_live_again(page_of, lab):
    screen = page_of(lab, outlives_kernel=True)
    screen.open(PANEL)
    screen.wait_live()
    old = screen.page.locator(".expo-panel").first.element_handle()
    lab.kill("ipykernel")
    screen.page.locator(".expo-note[role=alert]", has_text="the numbers below are from before").wait_for()
    screen.wait_until(lambda: not old.evaluate("panel => panel.isConnected"))
    screen.page.wait_for_function(LIVE_AGAIN)
    screen.page.locator(".jp-Dialog button").last.click()  # JupyterLab tells of the death too
    open_fold(screen)
    before = screen.sources()
    screen.press("Aperture")
    screen.wait_until(lambda: screen.sources() != before)


def test_ten_reloads_pile_nothing_up(start_lab, page_of, tmp_path):
    lab = start_lab(tmp_path / "mine")
    screen = page_of(lab)
    widgets = []
    for _ in range(10):
        screen.open("hours.ipynb", afresh=not widgets)  # the same kernel all the time
        screen.wait_live()
        screen.wait_until(lambda: screen.page.locator(".expo-plan").count() == 1)
        before = screen.source("snr lines") or screen.sources()
        screen.page.locator(".expo-panel .noUi-handle:visible").first.focus()
        screen.page.keyboard.press("ArrowRight")
        screen.wait_until(lambda before=before: (screen.source("snr lines") or screen.sources()) != before)
        screen.wait_idle()
        widgets.append(screen.page.evaluate(WIDGETS))
        screen.page.locator(".expo-plan button:text-is('Load')").first.click()
        screen.page.locator(".expo-plan", has_text="as it was saved").first.wait_for()
    assert max(widgets[1:]) <= widgets[1] * 1.05 + 5, widgets


def test_a_cell_that_runs_again_leaves_no_dead_figure(screen):
    screen.open(PANEL)
    screen.wait_live()
    before = screen.page.evaluate(FIGURES)
    for _ in range(3):
        old = screen.page.locator(".expo-panel").first.element_handle()
        screen.page.evaluate("""async () => {
          const panel = window.jupyterapp.shell.currentWidget;
          const cell = panel.content.widgets.find(one => one.node.querySelector('.expo-panel'));
          await cell.constructor.execute(cell, panel.sessionContext);
        }""")
        screen.wait_until(lambda old=old: not old.evaluate("panel => panel.isConnected"))
        screen.wait_live()
    assert screen.page.evaluate(FIGURES) <= before + 1


def test_a_closed_workbook_is_told(start_lab, page_of, tmp_path):
    lab = start_lab(tmp_path / "mine")
    screen = page_of(lab, outlives_kernel=True)
    screen.open(PANEL)
    screen.wait_live()
    assert lab.ctrl_c() == 0
    assert not psutil.pid_exists(lab.process.pid) or lab.process.poll() == 0
    screen.page.locator(".expo-note", has_text="Asleep").wait_for()


def test_without_a_canvas_a_sentence_says_so(page_of, lab):
    screen = page_of(lab, outlives_kernel=True)  # what the plot library says then is no matter
    screen.page.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    screen.open(PANEL)
    screen.page.locator(".expo-note", has_text="canvas is switched off").wait_for()
    screen.page.locator(".expo-verdict").first.wait_for()


def test_a_plan_is_dropped_in_and_taken_home(screen, tmp_path):
    screen.open(PANEL)
    screen.wait_live()
    text = (screen.lab.folder / "plans/colour-dual-band.toml").read_text(encoding="utf-8")
    drop = """([name, text]) => {
      const data = new DataTransfer();
      data.items.add(new File([text], name));
      for (const type of ['dragover', 'drop']) {
        document.querySelector('.expo-verdict').dispatchEvent(
          new DragEvent(type, { dataTransfer: data, bubbles: true, cancelable: true }));
      }
    }"""
    for name in ("dropped.toml", "dropped-2.toml"):
        screen.page.evaluate(drop, ["dropped.toml", text])
        screen.page.locator(".expo-plan", has_text=f"Loaded plans/{name}").wait_for()
        assert (screen.lab.folder / "plans" / name).read_text(encoding="utf-8") == text
    screen.page.locator(".expo-plan button:text-is('Plans')").click()
    with screen.page.expect_download() as taken:
        screen.page.locator(".expo-plan a[download]").click()
    taken.value.save_as(tmp_path / "home.toml")
    assert taken.value.suggested_filename == "dropped-2.toml"
    assert (tmp_path / "home.toml").read_text(encoding="utf-8") == text


def test_a_second_tab_takes_the_panel_and_the_first_one_says_so_and_takes_it_back(page_of, lab):
    def unsaved():
        return (lab.folder / "plans").glob(".*.unsaved")

    first, second = page_of(lab), page_of(lab)
    first.open(PANEL)
    first.wait_live()
    open_fold(first)
    first.type_into("Aperture", "112 mm")
    first.wait_until(lambda: any("112 mm" in kept.read_text() for kept in unsaved()))
    second.open(PANEL, afresh=False)
    second.wait_live()
    open_fold(second)
    assert aperture(second) == "112 mm"
    for asleep, live, text in ((first, second, "113 mm"), (second, first, "114 mm")):
        asleep.page.locator(".expo-note", has_text="open in another tab").wait_for()
        live.type_into("Aperture", text)
        live.page.locator(".expo-verdict", has_text=f"{text} at f/").wait_for()  # so its kernel heard it
        assert not live.page.locator(".expo-note").count()
        live.wait_until(lambda text=text: any(text in kept.read_text() for kept in unsaved()))
        asleep.page.locator(".expo-note button").click()
        asleep.page.wait_for_function(LIVE_AGAIN)
        asleep.wait_live()
        asleep.page.locator(".expo-verdict", has_text=f"{text} at f/").wait_for()
        open_fold(asleep)
        asleep.page.locator(".widget-label:text-is('Aperture')").wait_for()
