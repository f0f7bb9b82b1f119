"""The workbook opens live, runs no stranger's code, keeps keys to itself and leaves nothing behind."""

import json
import shutil
import sys

import psutil
import pytest

from tests.waiting import PATIENCE_S

pytestmark = pytest.mark.browser

PANEL = "sub_length.ipynb"
HANDLE = ".expo-panel .noUi-handle"
COUNTS = """() => window.jupyterapp.shell.currentWidget.content.widgets
  .filter(cell => cell.model.type === 'code').map(cell => cell.model.executionCount)"""
CONTROLS = {"slider": HANDLE, "box": ".expo-panel input[type=text]"}


def shipped_cell(folder):
    """Source of a live cell that we ship."""
    cells = json.loads((folder / "start.ipynb").read_text(encoding="utf-8"))["cells"]
    return next("".join(cell["source"]) for cell in cells if "live" in cell["metadata"].get("tags", []))


def counts(screen):
    """How often each code cell ran; None for one that never did."""
    return screen.page.evaluate(COUNTS)


def plant(path, *sources, kernel="python3"):
    """Write a stranger's notebook that asks to be run as ours does."""
    cells = [
        {"cell_type": "code", "id": f"cell-{number}", "source": source, "metadata": {"tags": ["live"]},
         "outputs": [], "execution_count": None}
        for number, source in enumerate(sources)
    ]  # fmt: skip
    kernel = {"name": kernel, "display_name": "Python 3", "language": "python"}
    metadata = {"workbook": {"run_on_open": True}, "kernelspec": kernel}
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps({"cells": cells, "metadata": metadata, "nbformat": 4, "nbformat_minor": 5}))


def test_the_start_notebook_is_live_without_a_click(screen):
    screen.open()
    screen.wait_live()
    assert screen.page.locator(".expo-panel").first.is_visible()
    assert not screen.page.locator(".Toastify__toast").count(), "a news pop-up stands on the page"


@pytest.mark.parametrize("notebook", ["start.ipynb", PANEL])
def test_every_code_cell_runs_and_the_focus_stays(screen, notebook):
    screen.open(notebook)
    screen.page.locator(".expo-panel :is(input, button, .noUi-handle)").first.focus()
    focused = screen.page.evaluate_handle("document.activeElement")
    screen.wait_until(lambda: None not in counts(screen))
    assert focused.evaluate("control => document.activeElement === control")


def test_a_link_leads_to_a_notebook_that_is_live_too(screen):
    screen.open()
    screen.wait_live()
    screen.page.locator(".jp-RenderedMarkdown a[href*='sub_length']").first.click()
    screen.page.wait_for_url("**/sub_length.ipynb*")
    screen.page.locator(".expo-panel:visible").first.wait_for()


def test_the_browsers_back_leads_to_the_page_before(screen):
    screen.open()
    screen.wait_live()
    screen.page.locator(".jp-RenderedMarkdown a[href*='sub_length']").first.click()
    screen.page.wait_for_url("**/sub_length.ipynb*")
    screen.wait_live()
    screen.page.go_back()
    screen.page.wait_for_function("() => window.jupyterapp?.shell?.currentWidget?.context?.path === 'start.ipynb'")
    screen.wait_live()
    assert screen.page.url.endswith("/doc/tree/start.ipynb")


def test_a_moved_slider_moves_the_figure(screen):
    screen.open(PANEL)
    screen.wait_live()
    before = screen.sources()
    assert before
    screen.page.locator(HANDLE).first.focus()
    screen.page.keyboard.press("ArrowRight")
    screen.wait_until(lambda: screen.sources() != before)


def test_a_strangers_cell_does_not_run(screen, tmp_path):
    ran = tmp_path / "ran"
    name = "compare.ipynb"  # even where it stands in for a notebook of ours
    plant(screen.lab.folder / name, f"open({str(ran)!r}, 'w')", shipped_cell(screen.lab.folder))
    for _ in range(2):  # the first save signs it, so it would count as trusted the second time
        screen.open(name)
        screen.wait_live()  # the cell that we ship runs, and it stands behind the stranger's
        assert not ran.exists()
        screen.save()


def test_in_a_strangers_notebook_no_cell_runs_by_itself(screen):
    plant(screen.lab.folder / "stranger.ipynb", "1", shipped_cell(screen.lab.folder))
    screen.open("stranger.ipynb")
    screen.wait_idle()
    screen.page.wait_for_timeout(1500)
    assert counts(screen) == [None, None]


def test_a_strangers_kernel_runs_nothing_by_itself(start_lab, page_of, tmp_path):
    """A kernel as ``ipykernel install`` makes it imports from the notebook's folder, so from the stranger's."""
    spec = tmp_path / "home0/data/kernels/theirs/kernel.json"
    spec.parent.mkdir(parents=True)
    argv = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"]
    spec.write_text(json.dumps({"argv": argv, "display_name": "Theirs", "language": "python"}))
    lab = start_lab(tmp_path / "mine")
    screen = page_of(lab)
    assert lab.address
    ran = tmp_path / "ran"
    plant(lab.folder / PANEL, shipped_cell(lab.folder), kernel="theirs")
    (lab.folder / "workbook.py").write_text(f"open({str(ran)!r}, 'w')")
    screen.open(PANEL)
    screen.wait_idle()
    screen.page.wait_for_timeout(1500)
    assert counts(screen) == [None]
    assert not ran.exists()


def test_a_strangers_module_is_not_imported(screen, tmp_path):
    ran = tmp_path / "ran"
    folder = screen.lab.folder / "theirs"
    plant(folder / "stranger.ipynb", shipped_cell(screen.lab.folder))
    shutil.copytree(screen.lab.folder / "plans", folder / "plans")
    for name in ("workbook", "expocalc", "bokeh", "ipykernel_launcher"):
        (folder / f"{name}.py").write_text(f"open({str(ran)!r}, 'w')")
    screen.open("theirs/stranger.ipynb")
    screen.wait_idle()
    screen.page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
    screen.wait_live()
    assert not ran.exists()


@pytest.mark.parametrize("control", CONTROLS)
def test_keys_on_a_control_do_not_reach_the_notebook(screen, control):
    screen.open(PANEL)
    screen.wait_live()
    before = screen.cells()
    screen.page.locator(CONTROLS[control]).first.focus()
    for key in ("x", "b", "a", "d", "d", "m", "y", "z", "1", "Shift+M", "ArrowDown", "ArrowUp"):
        screen.page.keyboard.press(key)
    screen.page.wait_for_timeout(300)
    assert screen.cells() == before


def test_the_notebooks_own_keys_work_elsewhere(screen):
    screen.open()
    screen.wait_live()
    before = len(screen.cells())
    screen.page.locator(".jp-RenderedMarkdown h1").first.click()
    screen.page.keyboard.press("b")
    screen.wait_until(lambda: len(screen.cells()) == before + 1)


def test_every_slider_handle_has_a_name(screen):
    screen.open(PANEL)
    screen.wait_live()
    handles = screen.page.locator(HANDLE)
    names = [handles.nth(index).get_attribute("aria-label") for index in range(handles.count())]
    assert names
    assert all(names)


def test_ctrl_c_leaves_nothing_running_and_the_readers_changes_stay(start_lab, page_of, tmp_path):
    lab = start_lab(tmp_path / "mine", TMPDIR=str(tmp_path))
    screen = page_of(lab, outlives_kernel=True)
    screen.open()
    screen.wait_live()
    assert f":{lab.port}/" in lab.address
    screen.page.evaluate(
        "() => window.jupyterapp.shell.currentWidget.content.widgets[0].model.sharedModel.setSource('mine')"
    )
    screen.save()
    running = lab.descendants()
    assert running, "the notebook has no kernel"
    assert lab.ctrl_c() == 0
    assert not psutil.wait_procs(running, timeout=PATIENCE_S)[1]
    assert "Traceback" not in lab.log
    assert not list(tmp_path.glob("workbook-*")), "a temporary folder was left"

    start = lab.folder / "start.ipynb"
    saved = json.loads(start.read_text(encoding="utf-8"))["cells"]
    assert "".join(saved[0]["source"]) == "mine"
    assert not any(cell["outputs"] for cell in saved if "live" in cell["metadata"].get("tags", []))
    before = start.read_bytes()
    assert start_lab(lab.folder).address
    assert start.read_bytes() == before
