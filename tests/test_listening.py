"""Whoever is told an address finds the server there: it listens before it says so and before it opens a browser."""

import subprocess
import sys

import pytest

from tests.waiting import free_port

WATCHED = """
import os, signal, socket, sys, threading, webbrowser
from jupyter_server.serverapp import ServerApp

port = int(sys.argv[1])
out = sys.stdout

def found():
    with socket.socket() as probe:
        return "nobody there" if probe.connect_ex(("127.0.0.1", port)) else "listens"

class Window:
    def write(self, text):
        if f":{port}/" in text:
            print("told:", found(), file=out, flush=True)
        return len(text)

    def flush(self):
        pass

def opened(address):
    print("opened:", found(), file=out, flush=True)
    os.kill(os.getpid(), signal.SIGINT)

sys.stdout = Window()
webbrowser.open = opened
ServerApp.start = lambda _: print("told:", found(), file=out, flush=True)  # the rest is Jupyter's own
from workbook.__main__ import main
sys.exit(main(sys.argv[2:]))
"""


@pytest.mark.parametrize(
    ("words", "seen"),
    [
        (["hall", "FOLDER", "--address", "127.0.0.1", "--ready", "3", "--port"], ["told: listens", "opened: listens"]),
        (["pages", "FOLDER", "--port"], ["told: listens", "opened: listens"]),
        (["FOLDER", "--port"], ["told: listens"]),
    ],
    ids=["hall", "pages", "JupyterLab"],
)
def test_it_listens_before_it_tells_its_address_and_opens_a_browser(tmp_path, words, seen):
    port = str(free_port())
    asked = [str(tmp_path / "folder") if word == "FOLDER" else word for word in words]
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, port, *asked, port], capture_output=True, text=True, check=False
    )
    assert list(dict.fromkeys(done.stdout.splitlines())) == seen, done.stderr
    # Ctrl-C, pressed while the first kernels start, is no error
    assert (done.returncode, done.stderr) == (0, "")
