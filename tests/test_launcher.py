"""The launcher: what it refuses, what it serves, and that a wheel holds all it needs."""

import hashlib
import json
import os
import subprocess
import sys
import urllib.error
import urllib.request
import zipfile
from pathlib import Path
from urllib.parse import urlsplit

import psutil
import pytest
from hatchling.build import build_wheel
from jupyter_client.kernelspec import KernelSpecManager
from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
from jupyter_server.services.kernels.websocket import KernelWebsocketHandler

from tests.waiting import PATIENCE_S, listens, wait_for
from workbook.__main__ import LAB, main, our_kernel, write_known
from workbook.copies import lay, shipped
from workbook.lab.save import strip_live
from workbook.lab.wire import PromptConnection

ROOT = Path(__file__).resolve().parent.parent
EXTENSION = LAB / "labextensions" / "expocalc-lab"
(EXTENSION_CODE,) = EXTENSION.glob("static/*.js")


def fetch(lab, path):
    """Answer of a running workbook to a request for `path`."""
    address = urlsplit(lab.address)
    with urllib.request.urlopen(
        f"{address.scheme}://{address.netloc}{path}?{address.query}", timeout=PATIENCE_S
    ) as answer:
        return answer.read()


def assert_serves_the_workbook(lab):
    names = {entry["name"] for entry in json.loads(fetch(lab, "/api/contents/"))["content"]}
    assert {"start.ipynb", "sub_length.ipynb", "plans"} <= names
    page = fetch(lab, "/doc/tree/start.ipynb").decode()
    script = f"static/{EXTENSION_CODE.name}"
    assert script in page
    assert fetch(lab, f"/lab/extensions/expocalc-lab/{script}") == EXTENSION_CODE.read_bytes()
    assert json.loads(fetch(lab, "/static/known.json"))
    assert b"Bokeh" in fetch(lab, "/static/js/bokeh.min.js")


def test_it_serves_the_workbook_on_this_machine_only(lab):
    assert_serves_the_workbook(lab)
    listening = [
        connection.laddr
        for connection in psutil.Process(lab.process.pid).net_connections("inet")
        if connection.status == psutil.CONN_LISTEN
    ]
    assert ("127.0.0.1", lab.port) in listening
    assert {address.ip for address in listening} == {"127.0.0.1"}


def test_without_the_token_nobody_is_served(lab):
    address = urlsplit(lab.address)
    with pytest.raises(urllib.error.HTTPError, match="403"):
        urllib.request.urlopen(f"{address.scheme}://{address.netloc}/api/contents/")


def test_a_taken_port_makes_way_for_the_next(lab, start_lab, tmp_path):
    assert lab.address
    second = start_lab(tmp_path / "mine", port=lab.port)
    assert urlsplit(second.address).port not in (None, lab.port)


def test_in_place_opens_the_originals(start_lab, tmp_path):
    lab = start_lab(tmp_path / "mine", "--in-place")
    assert_serves_the_workbook(lab)
    assert not (tmp_path / "mine").exists()


def test_a_wheel_holds_all_that_it_needs(start_lab, tmp_path, monkeypatch):
    monkeypatch.chdir(ROOT)
    wheel = tmp_path / build_wheel(str(tmp_path))
    unpacked = tmp_path / "unpacked"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(unpacked)
    lab = start_lab(tmp_path / "mine", PYTHONPATH=str(unpacked))
    assert_serves_the_workbook(lab)
    mine = {path.relative_to(lab.folder) for path in lab.folder.rglob("*")}
    assert {path.relative_to(ROOT / "notebooks") for path in (ROOT / "notebooks").glob("plans/*.toml")} <= mine
    where = [sys.executable, "-P", "-c", "import workbook.copies as c; print(c.shipped())"]
    environment = {"PYTHONPATH": str(unpacked)}
    found = subprocess.run(where, env=environment, capture_output=True, text=True, check=True, timeout=PATIENCE_S)
    assert Path(found.stdout.strip()) == unpacked / "workbook" / "notebooks"


def test_a_folder_that_cannot_be_used_is_refused_in_a_sentence(tmp_path, capsys):
    (tmp_path / "file").write_text("")
    assert main([str(tmp_path / "file" / "mine"), "--no-browser"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("workbook: can't lay the notebooks in ")
    assert str(tmp_path) in said
    assert said.count("\n") == 1


@pytest.mark.skipif(os.name == "nt", reason="links need rights")
def test_an_unknown_user_and_a_circle_of_links_are_refused_in_a_sentence(tmp_path, capsys):
    (tmp_path / "circle").symlink_to("circle")
    for folder in ("~nosuchuser/mine", str(tmp_path / "circle"), str(tmp_path / "circle/mine")):
        assert main([folder, "--no-browser"]) == 2
        said = capsys.readouterr().err
        assert said.startswith("workbook: ")
        assert said.count("\n") == 1


def test_the_originals_are_not_taken_for_copies(capsys):
    assert main([str(shipped()), "--no-browser"]) == 2
    assert "--in-place" in capsys.readouterr().err


@pytest.mark.parametrize("port", ["0", "-1", "65536", "abc", "8e3", "", "nan"])
def test_a_wrong_port_is_refused_in_a_sentence(port, capsys):
    with pytest.raises(SystemExit, match="2"):
        main([f"--port={port}"])
    assert f"must be a whole number from 1 to 65535, got {port!r}" in capsys.readouterr().err


def test_ctrl_c_before_the_server_listens_is_quiet(monkeypatch, tmp_path):
    def interrupt(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("workbook.__main__.serve", interrupt)
    assert main([str(tmp_path / "mine")]) == 0


def test_known_holds_the_code_of_our_notebooks_and_no_prose(tmp_path):
    cells = [
        {"cell_type": "code", "source": ["a = 1\n", "a"]},
        {"cell_type": "markdown", "source": "# prose"},
    ]
    (tmp_path / "one.ipynb").write_text(json.dumps({"cells": cells}))
    lay(tmp_path, tmp_path / "mine")
    (tmp_path / "mine/two.ipynb").write_text(json.dumps({"cells": cells}))
    write_known(tmp_path, tmp_path, tmp_path / "mine", "python3")
    known = json.loads((tmp_path / "known.json").read_text())
    assert known == {"kernel": "python3", "notebooks": ["one.ipynb"], "code": ["a = 1\na"]}


def kernel_specs(*folders):
    return KernelSpecManager(kernel_dirs=[str(folder) for folder in folders], ensure_native_kernel=False)


def test_only_our_own_kernel_is_ours(tmp_path):
    other = tmp_path / "python3"
    other.mkdir()
    (other / "kernel.json").write_text('{"argv": ["python"], "display_name": "", "language": "python"}')
    assert our_kernel(kernel_specs(LAB / "kernels", tmp_path)) == "python3"
    assert our_kernel(kernel_specs(tmp_path, LAB / "kernels")) == ""
    assert our_kernel(kernel_specs(tmp_path / "none")) == ""


def test_a_users_empty_token_does_not_open_our_server(start_lab, tmp_path):
    config = tmp_path / "home0/config"
    config.mkdir(parents=True)
    (config / "jupyter_server_config.py").write_text("c.IdentityProvider.token = c.ServerApp.token = ''")
    lab = start_lab(tmp_path / "mine", JUPYTER_TOKEN="")
    assert fetch(lab, "/api/contents/")
    test_without_the_token_nobody_is_served(lab)


@pytest.mark.skipif(os.name == "nt", reason="needs a home that can't be")
def test_a_home_that_cannot_be_written_is_done_without(start_lab, tmp_path):
    nowhere = {f"JUPYTER_{name}_DIR": "/dev/null/none" for name in ("CONFIG", "DATA", "RUNTIME")}
    lab = start_lab(tmp_path / "mine", HOME="/dev/null", IPYTHONDIR="", TMPDIR=str(tmp_path), **nowhere)
    assert_serves_the_workbook(lab)
    assert "Traceback" not in lab.log
    assert lab.ctrl_c() == 0
    assert not list(tmp_path.glob("workbook-*"))


def test_a_users_own_token_counts(start_lab, tmp_path):
    lab = start_lab(tmp_path / "mine", JUPYTER_TOKEN="mine")
    # it prints no address: who set the token knows it
    wait_for(lambda: lab.process.poll() is not None or listens(lab.port))
    assert lab.process.poll() is None, lab.log
    with urllib.request.urlopen(f"http://127.0.0.1:{lab.port}/api/contents/?token=mine") as answer:
        assert answer.status == 200


def test_saving_empties_live_cells_and_keeps_the_readers_outputs():
    def cell(*tags):
        return {"metadata": {"tags": list(tags)}, "outputs": ["seen"], "execution_count": 1}

    content = {"metadata": {"workbook": {}}, "cells": [cell("live"), cell(), {"metadata": {}}]}
    strip_live({"type": "notebook", "content": content}, path="start.ipynb")
    assert content["cells"] == [cell("live") | {"outputs": [], "execution_count": None}, cell(), {"metadata": {}}]
    stranger = {"metadata": {}, "cells": [cell("live")]}
    strip_live({"type": "notebook", "content": stranger})
    assert stranger["cells"] == [cell("live")]
    strip_live({"type": "file", "content": "text"})


def test_small_messages_to_the_browser_do_not_wait_for_each_other(monkeypatch):
    said = []
    monkeypatch.setattr(ZMQChannelsWebsocketConnection, "connect", lambda _: "connected")
    monkeypatch.setattr(KernelWebsocketHandler, "set_nodelay", lambda _, value: said.append(value))
    line = PromptConnection(parent=None, websocket_handler=KernelWebsocketHandler.__new__(KernelWebsocketHandler))
    assert line.connect() == "connected"
    assert said == [True]


def test_the_extension_is_named_after_what_it_holds():
    # Browsers keep the file for a year under its name, so changed code needs a changed name.
    code = EXTENSION_CODE.read_bytes().replace(b"\r\n", b"\n")
    wanted = f"remoteEntry.{hashlib.sha256(code).hexdigest()[:12]}.js"
    assert EXTENSION_CODE.name == wanted, "rename it, in package.json too"
    package = json.loads((EXTENSION / "package.json").read_text())
    assert package["jupyterlab"]["_build"]["load"] == f"static/{EXTENSION_CODE.name}"


def test_the_help_names_what_it_takes(capsys):
    with pytest.raises(SystemExit, match="0"):
        main(["--help"])
    said = capsys.readouterr().out
    for word in ("folder", "--no-browser", "--port", "--in-place"):
        assert word in said
