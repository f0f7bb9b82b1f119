"""A real browser on a running workbook."""

import os
import re
import runpy
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Error, TimeoutError, sync_playwright

from tests.waiting import PATIENCE_S, wait_for

PLAIN = runpy.run_path(str(Path(__file__).parents[1] / "on_screen.py"))["plain"]
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",  # as on a machine without a network
]
MILLI = 1000  # Playwright counts milliseconds
LIVE = "() => (window.Bokeh?.documents ?? []).some(d => d.roots().length && d.is_idle)"
# A cell that ran again leaves a dead document behind, so of each name the last source counts.
SOURCES = """() => Object.fromEntries((window.Bokeh?.documents ?? [])
  .flatMap(d => [...d._all_models.values()])
  .filter(m => m.type === 'ColumnDataSource' && m.name)
  .map(m => [m.name, Object.fromEntries(
    [...(m.data instanceof Map ? m.data : Object.entries(m.data))].map(([k, v]) => [k, Array.from(v)]))]))"""
# An answer of the kernel comes after all that was asked before; its state alone may be from before a key was heard.
IDLE = """async () => {
  const kernel = window.jupyterapp?.shell?.currentWidget?.sessionContext?.session?.kernel;
  if (kernel?.status !== 'idle' || kernel.connectionStatus !== 'connected') return false;
  const heard = kernel.requestCommInfo({ target_name: 'nothing' }).then(() => true, () => false);
  return Promise.race([heard, new Promise(late => setTimeout(late, 10000, false))]);
}"""
PRESS_ONCE = """words => {
  const look = () => {
    const button = [...document.querySelectorAll('.expo-panel button')]
      .find(e => e.textContent.trim() === words && e.checkVisibility({ visibilityProperty: true }));
    if (button) button.click();
    else requestAnimationFrame(look);
  };
  look();
}"""
CELLS = """() => window.jupyterapp.shell.currentWidget.content.widgets
  .map(cell => [cell.model.type, cell.model.sharedModel.getSource()])"""


class Screen:
    """One browser page on a workbook, and what a reader does there."""

    def __init__(self, page, lab):
        self.page = page
        self.lab = lab

    def open(self, notebook="start.ipynb", afresh=True):
        """Open a notebook in the single-document view; afresh is without what an earlier test left unsaved."""
        left = ("plans/.*.unsaved", "plans/.*.sketch", ".expocalc-at-hand.json") if afresh else ()
        if afresh:
            self.page.goto("about:blank")  # a page that is open would miss its kernel
            self.lab.end_kernels()  # a panel of an earlier test may be about to keep its changes
        for kept in [path for pattern in left for path in self.lab.folder.glob(pattern)]:
            kept.unlink(missing_ok=True)
        self.page.goto(self.lab.address.replace("start.ipynb", notebook))

    def wait_live(self):
        """Wait until a plot stands on the page and the kernel rests."""
        try:
            self.page.wait_for_function(LIVE)
        except TimeoutError as late:
            stands = self.page.locator(".jp-Cell, .jp-Dialog").all_inner_texts()
            msg = f"no live plot; on the page stands {stands}"
            raise AssertionError(msg) from late
        self.wait_idle()

    def wait_idle(self):
        """Wait until the kernel has heard all that was done and rests, whatever stands on the page."""
        self.wait_until(self._rests, "the kernel does not rest")

    def _rests(self):
        try:
            return self.page.evaluate(IDLE)
        except Error:  # the page was being loaded
            return False

    def wait_until(self, true, why="it is still not so"):
        """Wait until `true()` is, and return what it gave; `why` may tell how things stand."""
        return wait_for(true, why, rest=lambda: self.page.wait_for_timeout(50))

    def sources(self):
        """Named data sources of the figures on the page: name to columns."""
        return self.page.evaluate(SOURCES)

    def source(self, name):
        """Columns of the data source of that name; None where there is none."""
        return self.sources().get(name)

    def control(self, label, part):
        """Part (a CSS selector) of the control with that label."""
        named = self.page.locator(f".widget-label:text-is('{label}')")
        return self.page.locator(".jupyter-widgets", has=named).last.locator(part)

    def press(self, label, key="ArrowRight"):
        """Press a key on the slider with that label."""
        self.control(label, ".noUi-handle").focus()
        self.page.keyboard.press(key)

    def press_once_it_stands(self, words):
        """Have the page itself press a button once it can be seen: work may be shorter than a look from outside."""
        self.page.evaluate(PRESS_ONCE, words)

    def type_into(self, label, text):
        """Type into the box with that label, and Enter."""
        box = self.control(label, "input[type=text]")
        box.fill(text)
        box.press("Enter")

    def said(self, selector):
        """Text of the first such place on the page, with plain spaces where its lines may not end."""
        return PLAIN(self.page.locator(selector).first.inner_text())

    def cells(self):
        """Cells of the open notebook, as JupyterLab holds them: kind and text."""
        return self.page.evaluate(CELLS)

    def save(self):
        """Save the open notebook."""
        self.page.evaluate("() => window.jupyterapp.commands.execute('docmanager:save')")


@pytest.fixture(scope="session")
def chromium_path():
    """The machine's Chromium. Its absence skips the test here, and fails it where CI is set."""
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        (pytest.fail if "CI" in os.environ else pytest.skip)(f"needs one of {', '.join(BROWSERS)}")
    return found


@pytest.fixture(scope="module")
def browser(chromium_path):
    """Chromium, for one module only: Playwright keeps an event loop running while it is open."""
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium_path, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def page_of(browser):
    """Function that opens a page on a workbook; it stays on this machine and reports no error."""
    opened, strays, errors = [], [], []

    def leaves(url):
        return not re.match(r"(https?|wss?)://127\.0\.0\.1:|data:|blob:|about:|chrome:", url)

    def open_page(lab, *, outlives_kernel=False):
        context = browser.new_context(viewport={"width": 1366, "height": 768})
        context.set_default_timeout(PATIENCE_S * MILLI)
        opened.append(context)
        context.on("request", lambda request: leaves(request.url) and strays.append(request.url))
        page = context.new_page()
        page.on("websocket", lambda socket: leaves(socket.url) and strays.append(socket.url))
        if not outlives_kernel:  # a page whose kernel went away says so, at length
            page.on("console", lambda said: said.type == "error" and errors.append(f"{said.text} {said.location}"))
            page.on("pageerror", lambda error: errors.append(str(error)))
        return Screen(page, lab)

    yield open_page
    for context in opened:
        context.close()
    assert not strays, "requests left this machine"
    assert not errors, "the browser's console reports errors"


@pytest.fixture
def screen(page_of, lab):
    """A page on the module's workbook."""
    return page_of(lab)
