"""No panel of any notebook has a serious fault of access, by axe-core's rules."""

import os
from pathlib import Path

import pytest

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
NAMES = sorted(path.relative_to(NOTEBOOKS).as_posix() for path in NOTEBOOKS.rglob("*.ipynb"))
# A page of prose alone has no panel.
WITH_PANELS = [name for name in NAMES if '"live"' in (NOTEBOOKS / name).read_text(encoding="utf-8")]
READY = """() => {
  const open = window.jupyterapp?.shell?.currentWidget?.content;
  const live = [...(open?.widgets ?? [])].filter(cell => cell.model.getMetadata('tags')?.includes('live'));
  return live.length && live.every(cell => cell.model.executionCount) && document.querySelector('.expo-panel');
}"""


@pytest.fixture(scope="module")
def axe():
    script = os.environ.get("AXE_CORE", "")
    if not Path(script).is_file():
        (pytest.fail if "CI" in os.environ else pytest.skip)("needs axe-core: set AXE_CORE to its axe.min.js")
    return Path(script).read_text(encoding="utf-8")


def test_there_are_panels_to_look_at():
    assert {"start.ipynb", "sub_length.ipynb", "hours.ipynb", "compare.ipynb"} < set(WITH_PANELS)


@pytest.mark.parametrize("notebook", WITH_PANELS)
def test_a_panel_has_no_serious_fault_of_access(screen, axe, notebook):
    screen.open(notebook)
    screen.page.wait_for_function(READY)
    waiting = screen.page.locator(".expo-panel button:text-is('Run it')")
    while left := waiting.count():  # a trial that has run says so on its button
        waiting.first.click()
        screen.wait_until(lambda left=left: waiting.count() < left)
    screen.page.evaluate(axe)
    found = screen.page.evaluate("() => axe.run('.expo-panel')")
    assert found["passes"]
    faults = [
        (fault["id"], [node["html"] for node in fault["nodes"]])
        for fault in found["violations"]
        if fault["impact"] in ("serious", "critical")
    ]
    assert not faults
