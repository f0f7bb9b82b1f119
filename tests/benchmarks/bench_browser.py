"""Speed of the workbook in a real browser, as ratios within one run: ``python tests/benchmarks/bench_browser.py``.

Measured against a bare notebook with one slider and one curve, in the same browser and run: from a key press on a
slider to the curve's new data in the browser, and from the command to the first live plot. The bare slider moves twice:
in JupyterLab as it comes, and in ours, which sends small messages at once.
"""

import importlib.util
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

import nbformat
from playwright.sync_api import sync_playwright

TESTS = Path(__file__).resolve().parents[1]
PRESSES = 60
STARTS = 3

BARE = """
import ipywidgets as W
import numpy as np
from bokeh.io import output_notebook
from bokeh.models import ColumnDataSource
from bokeh.plotting import figure
from bokeh.resources import INLINE
from jupyter_bokeh import BokehModel
import os
if "WORKBOOK_BOKEH" not in os.environ:
    output_notebook(INLINE)
x = np.linspace(0, 10, 200)
source = ColumnDataSource({"x": x, "y": np.sin(x)}, name="bare")
fig = figure(height=320, sizing_mode="stretch_width")
fig.line("x", "y", source=source)
slider = W.FloatSlider(description="Bare", min=0, max=10, step=0.1)
slider.observe(lambda change: source.update(data={"x": x, "y": np.sin(x + change["new"])}), names="value")
W.VBox([slider, BokehModel(fig)], layout=W.Layout(width="100%"))
"""

# When the data of the source of that name changes, the browser notes the time; so does a key that is pressed.
WATCH = """name => {
  for (const d of Bokeh.documents) for (const m of d._all_models.values())
    if (m.type === 'ColumnDataSource' && m.name === name)
      m.properties.data.change.connect(() => { window.arrived = performance.now(); });
  window.addEventListener('keydown', () => { window.pressed = performance.now(); window.arrived = 0; }, true);
}"""


def load(name, path):
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


load("tests.waiting", TESTS / "waiting.py")  # a script finds no folder of tests
shared = load("shared", TESTS / "conftest.py")
browser_side = load("browser_side", TESTS / "browser" / "conftest.py")


class BareLab(shared.Lab):
    """JupyterLab as it comes, on a notebook of the same name."""

    def command(self):
        return [
            sys.executable,
            "-m",
            "jupyterlab",
            "--no-browser",
            "--ServerApp.ip=127.0.0.1",
            f"--port={self.port}",
            f"--ServerApp.root_dir={self.folder}",
            "--LabApp.default_url=/doc/tree/start.ipynb",
            "--allow-root",
        ]


def bare_notebook():
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    return nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(BARE)], metadata={"kernelspec": kernel})


def open_screen(browser, lab):
    page = browser.new_context(viewport={"width": 1366, "height": 768}).new_page()
    return browser_side.Screen(page, lab)


def run_all(screen):
    screen.page.wait_for_function(browser_side.IDLE, timeout=60_000)
    screen.page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")


class Pressed:
    """One slider, and the milliseconds from each key press to the new data of its curve."""

    def __init__(self, screen, source, handle):
        self.page, self.handle, self.took = screen.page, handle, []
        screen.wait_until(lambda: screen.source(source) is not None, timeout=60)
        self.page.wait_for_timeout(1500)
        self.page.evaluate(WATCH, source)

    def press(self, key):
        self.page.bring_to_front()
        self.handle.focus()
        self.page.keyboard.press(key)
        self.page.wait_for_function("() => window.arrived > window.pressed", timeout=10_000)
        self.took.append(self.page.evaluate("() => window.arrived - window.pressed"))
        self.page.wait_for_timeout(1000)  # at rest: what follows a change later must not meet the next press


def say(name, took):
    p95 = statistics.quantiles(took, n=20)[-1]
    print(f"  {name}: median {statistics.median(took):.0f} ms, p95 {p95:.0f} ms")
    return p95


def open_bare(browser, lab):
    nbformat.write(bare_notebook(), lab.folder / "start.ipynb")
    screen = open_screen(browser, lab)
    screen.open(afresh=False)  # the panel of before goes on
    run_all(screen)
    return Pressed(screen, "bare", screen.page.locator(".noUi-handle"))


def slider_ratio(browser, home, notebook, source, label):
    """Presses take turns, so that what else the machine does meets all alike."""
    (home / notebook / "plain").mkdir(parents=True)
    lab = shared.Lab(home / notebook / "ours", home / notebook / "mine")
    plain = BareLab(home / notebook / "theirs", home / notebook / "plain")
    try:
        _ = lab.address, plain.address
        screen = open_screen(browser, lab)
        screen.open(notebook)
        screen.wait_live()
        ours = Pressed(screen, source, screen.control(label, ".noUi-handle"))
        theirs, same = open_bare(browser, plain), open_bare(browser, lab)
        for turn in range(PRESSES):
            for one in (ours, theirs, same):
                one.press("ArrowLeft" if turn % 2 else "ArrowRight")
        took = say(notebook, ours.took)
        bare, here = say("bare, JupyterLab as it comes", theirs.took), say("bare, our JupyterLab", same.took)
        for one in (ours, theirs, same):
            one.page.context.close()
    finally:
        lab.close()
        plain.close()
    print(
        f"slider press to plotted data, {notebook}: p95 {took / bare:.2f} x that of a bare panel in JupyterLab as it "
        f"comes (bar 1.25), {took / here:.2f} x in ours"
    )


def start_ratio(browser, home):
    ours, bare = [], []
    for turn in range(STARTS):
        start = time.perf_counter()
        lab = shared.Lab(home / f"ours{turn}", home / f"ours{turn}" / "mine")
        screen = open_screen(browser, lab)
        screen.open()
        screen.page.wait_for_function(browser_side.LIVE, timeout=60_000)
        ours.append(time.perf_counter() - start)
        screen.page.context.close()
        lab.close()

        folder = home / f"bare{turn}" / "mine"
        folder.mkdir(parents=True)
        nbformat.write(bare_notebook(), folder / "start.ipynb")
        start = time.perf_counter()
        lab = BareLab(home / f"bare{turn}" / "home", folder)
        screen = open_screen(browser, lab)
        screen.open()
        run_all(screen)
        screen.page.wait_for_function(browser_side.LIVE, timeout=60_000)
        bare.append(time.perf_counter() - start)
        screen.page.context.close()
        lab.close()
    first, second = statistics.median(ours), statistics.median(bare)
    ratio = first / second
    print(f"command to first live plot: {first:.1f} s, bare JupyterLab {second:.1f} s, {ratio:.2f} x (bar 1.3)")


def main():
    chromium = next(filter(None, map(shutil.which, browser_side.BROWSERS)), None)
    if chromium is None:
        sys.exit("needs Chromium on the path")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=browser_side.FLAGS)
        home = Path(folder)
        slider_ratio(browser, home, "sub_length.ipynb", "hours", "Sky at the zenith")
        slider_ratio(browser, home, "hours.ipynb", "snr", "Line brightness")
        slider_ratio(browser, home, "night.ipynb", "worth", "Sun below")
        start_ratio(browser, home)
        browser.close()


if __name__ == "__main__":
    main()
