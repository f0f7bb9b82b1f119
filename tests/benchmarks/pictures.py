"""The pictures of the README, taken anew in a real browser: ``python tests/benchmarks/pictures.py``.

Each is a panel as it opens on the demo plan, small enough for a repository: 256 colours.
"""

import importlib.util
import io
import shutil
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

TESTS = Path(__file__).resolve().parents[1]
PICTURES = TESTS.parent / "notebooks/pictures"
SHOTS = {
    "sub_length": ("sub_length.ipynb", "Curves"),
    "map": ("sub_length.ipynb", "Map by sky"),
    "hours": ("hours.ipynb", "Hours"),
    "see_it": ("hours.ipynb", "See it"),
}
"""Of each picture the notebook, and what is chosen on it."""
WIDTH, HEIGHT = 1200, 1080


def load(name, path):
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


load("tests.waiting", TESTS / "waiting.py")  # a script finds no folder of tests
shared = load("shared", TESTS / "conftest.py")
browser_side = load("browser_side", TESTS / "browser" / "conftest.py")


def take(screen, name, notebook, choice):
    screen.open(notebook)
    screen.wait_live()
    panel = screen.page.locator(".expo-panel").first
    panel.locator(f"button:text-is('{choice}')").first.click()
    screen.page.wait_for_timeout(6000)  # the range and the pictures come when the hand rests
    screen.wait_live()
    panel.scroll_into_view_if_needed()
    shot = Image.open(io.BytesIO(panel.screenshot()))
    path = PICTURES / f"{name}.png"
    shot.convert("RGB").quantize(256, dither=Image.Dither.NONE).save(path, optimize=True)
    print(f"{path.name}: {shot.width} x {shot.height}, {path.stat().st_size / 1000:.0f} kB")


def main():
    chromium = next(filter(None, map(shutil.which, browser_side.BROWSERS)), None)
    if chromium is None:
        sys.exit("needs Chromium on the path")
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        lab = shared.Lab(Path(folder) / "home", Path(folder) / "mine")
        browser = playwright.chromium.launch(executable_path=chromium, args=browser_side.FLAGS)
        page = browser.new_context(viewport={"width": WIDTH, "height": HEIGHT}).new_page()
        screen = browser_side.Screen(page, lab)
        try:
            for name, (notebook, choice) in SHOTS.items():
                take(screen, name, notebook, choice)
        finally:
            browser.close()
            lab.close()


if __name__ == "__main__":
    main()
