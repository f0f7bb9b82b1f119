"""A guest's own kernel behind the fence, with every page in it, and a guest who types and presses everything."""

import json
import os
import time
from pathlib import Path

import pytest
from jupyter_client.manager import KernelManager

from tests.waiting import PATIENCE_S
from workbook.hall.evening import LESSONS, PANELS, START, Evening
from workbook.hall.pages import page_notebook
from workbook.hall.serve import HERE

PRESS_ALL = """
import json, logging
from ipywidgets import Button, Dropdown, Text, ToggleButtons
from ipywidgets.widgets import widget as _widget

trouble = []
def attempt(what, do):
    try:
        do()
    except Exception as error:
        trouble.append(f"{what}: {type(error).__name__}: {error}")

def all_of(kind):
    return [one for one in list(_widget._instances.values()) if isinstance(one, kind)]

for path in PATHS:
    for box in all_of(Text):
        attempt(f"{path} into {box.placeholder or box.tooltip or box.value!r}", lambda: setattr(box, "value", path))
    for button in all_of(Button):
        if not button.disabled:
            attempt(f"press {button.description!r}", button.click)
for menu in all_of((Dropdown, ToggleButtons)):
    for index in range(len(menu.options)):
        attempt(f"choose {index} of {menu.tooltip or menu.description!r}", lambda: setattr(menu, "index", index))
"""
SHOWN = """
print(json.dumps([str(one.value) for one in list(_widget._instances.values()) if hasattr(one, "value")]))
print(json.dumps(trouble))
"""
SECRET = "secret-of-another"


class Seat:
    """One guest's kernel, as the hall starts it."""

    def __init__(self, evening):
        self.home = evening.folder(evening.join())
        self.manager = KernelManager(kernel_name="guest")
        self.manager.start_kernel(cwd=str(evening.home), env=os.environ | {"WORKBOOK_BOKEH": "1"})
        self.client = self.manager.client()
        self.client.start_channels()
        self.client.wait_for_ready(PATIENCE_S)
        self.evening = evening
        self.said = []

    def run(self, code):
        """Run code of ours; what it prints is returned, and whatever fails is in `said`."""
        printed = []

        def heard(message):
            content = message["content"]
            if message["msg_type"] == "stream":
                (printed if content["name"] == "stdout" else self.said).append(content["text"])
            elif message["msg_type"] == "error":
                self.said.append("\n".join(content["traceback"]))

        self.client.execute_interactive(code, store_history=False, output_hook=heard, timeout=PATIENCE_S)
        return "".join(printed)

    def draw(self, name):
        """Draw a page in it."""
        places = ", ".join(repr(str(one)) for one in (self.home, (self.home / name).parent, self.evening.home))
        self.run(f"from workbook.hall.seat import take_seat; take_seat({places})")
        for cell in page_notebook(name).cells:
            if "live" in cell.metadata.get("tags", []):
                self.run(cell.source)

    def rest(self):
        """Wait until what follows a press is worked out."""
        tasks = "import asyncio; print(sum(not one.done() for one in asyncio.all_tasks()))"
        least = int(self.run(tasks))
        for _ in range(100):
            time.sleep(0.1)
            left = int(self.run(tasks))
            if left >= least:
                return
            least = left

    def close(self):
        self.client.stop_channels()
        self.manager.shutdown_kernel(now=True)


@pytest.fixture(scope="module")
def seat(tmp_path_factory):
    evening = Evening.at(tmp_path_factory.mktemp("evening"))
    other = evening.folder(evening.join())
    plan = (other / "plans" / "mono-single-lines.toml").read_text()
    (other / "plans" / "theirs.toml").write_text(plan.replace("title = ", f'title = "{SECRET}" # ', 1))
    (other / "frames.csv").write_text(f"name\n{SECRET}\n")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JUPYTER_PATH", str(HERE / "jupyter"))
        taken = Seat(evening)
    taken.other = other
    taken.run("from workbook.hall.seat import warm_up; warm_up()")
    yield taken
    taken.close()


def everything(folder, spared):
    """All files below a folder but one guest's: name, size and time."""
    return {
        (str(path), path.stat().st_size, path.stat().st_mtime_ns)
        for path in folder.rglob("*")
        if path.is_file() and not path.is_relative_to(spared)
    }


def test_a_guests_kernel_has_no_debugger(seat):
    said = seat.run("import sys; print(*(name for name in sys.modules if 'pydevd' in name or 'debugpy' in name))")
    assert said.split() == ["debugpy"], "it is shut out, and nothing of it is loaded"


@pytest.mark.parametrize("name", [START, *LESSONS, *PANELS])
def test_a_guest_who_types_and_presses_everything_breaks_nothing_and_reaches_nobody(seat, name):
    theirs = seat.other / "plans" / "theirs.toml"
    paths = [str(theirs), os.path.relpath(theirs, (seat.home / name).parent), "/etc/passwd", str(seat.evening.home)]
    if name in LESSONS[:-2]:  # no file is named there
        paths = paths[:1]
    before = everything(seat.evening.home, seat.home)
    seat.said.clear()
    seat.draw(name)
    seat.run(f"PATHS = {paths!r}\n{PRESS_ALL}")
    seat.rest()
    shown, trouble = (json.loads(line) for line in seat.run(SHOWN).splitlines())
    text = " ".join(shown)
    assert len(shown) > 3, "nothing was drawn"
    for secret in (SECRET, "root:", seat.evening.leader, seat.evening.secret):
        assert secret not in text
    assert everything(seat.evening.home, seat.home) == before, "something was written outside the guest's folder"
    assert not [one for one in trouble if not one.startswith("choose")], trouble
    assert not seat.said
    assert (seat.home / Path(name)).parent.is_dir()
