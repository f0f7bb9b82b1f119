"""A cell that runs again closes what it showed before, in a real kernel."""

import pytest
from jupyter_client.manager import start_new_kernel

from tests.waiting import PATIENCE_S, wait_for

COUNT = "import gc; from ipywidgets.widgets.widget import _instances; gc.collect(); print(len(_instances))"
FOLLOW = "import gc, weakref; from workbook.hours.view import HoursPanel; panels = weakref.WeakSet()"
DRAW = "panel = HoursPanel(); panels.add(panel); box = panel.widget; del panel; box"


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """Function that runs code as a certain cell, and gives what it printed."""
    folder = tmp_path_factory.mktemp("kernel")
    manager, client = start_new_kernel(kernel_name="python3", cwd=str(folder), startup_timeout=PATIENCE_S)

    def execute(code, cell):
        said = []
        message = client.session.msg("execute_request", {"code": code, "silent": False, "store_history": True})
        message["metadata"] = {"cellId": cell}
        client.shell_channel.send(message)
        while True:
            heard = client.get_iopub_msg(timeout=PATIENCE_S)
            if heard["parent_header"].get("msg_id") != message["header"]["msg_id"]:
                continue
            assert heard["msg_type"] != "error", heard["content"]
            said.append(heard["content"].get("text", ""))
            if heard["content"].get("execution_state") == "idle":
                return "".join(said)

    yield execute
    client.stop_channels()
    manager.shutdown_kernel(now=True)


def test_widgets_and_panels_of_an_earlier_run_are_gone(run):
    run(FOLLOW, "first")
    counts = []
    for _ in range(4):
        run(DRAW, "panel")
        counts.append(int(run(COUNT, "count")))
    assert counts[0] > 100
    assert counts == [counts[0]] * 4
    left = "gc.unfreeze(); gc.collect(); print(len(panels))"
    wait_for(lambda: int(run(left, "count")) == 1)  # slow work sees after a while that its panel is closed


def test_another_cell_keeps_its_own(run):
    run("import ipywidgets as w; from workbook.parts.frame import frame; one = frame(w.Label()); one", "a")
    run("other = frame(w.Label()), frame(w.Label()); other", "b")
    assert run("print(one.comm is not None, all(box.comm is not None for box in other))", "c") == "True True\n"
    run("other = frame(w.Label()); other", "b")
    assert run("print(one.comm is not None, other.comm is not None)", "c") == "True True\n"
    run("two = frame(w.Label()); two", "a")
    assert run("print(one.comm is None, two.comm is not None)", "c") == "True True\n"


def test_without_widgets_a_kind_sentence_stands_there(run):
    assert "can't show the live panel" in run("print(frame(w.Label())._repr_mimebundle_()['text/plain'])", "d")
