"""``python -m workbook pages``: one's own quiet pages, for whoever has their address and for nobody else."""

import re
import subprocess
import sys
import urllib.error
import urllib.request
from http.cookiejar import CookieJar
from urllib.parse import urlsplit

import pytest

from tests.conftest import Lab
from tests.waiting import PATIENCE_S, free_port


class Pages(Lab):
    """One ``python -m workbook pages`` on this machine."""

    def command(self):
        return [sys.executable, "-m", "workbook", "pages", self.folder, "--no-browser", "--port", self.port]


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    home = tmp_path_factory.mktemp("pages")
    running = Pages(home, home / "mine")
    yield running
    assert running.ctrl_c() == 0
    assert len(running.log.splitlines()) <= 4, running.log


def browser():
    """Function that asks for an address, as one browser with its cookies."""
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))

    def ask(address):
        try:
            with opener.open(address, timeout=PATIENCE_S) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.read().decode()

    return ask


def test_the_address_that_was_printed_opens_all_pages(pages):
    ask, base = browser(), f"http://127.0.0.1:{pages.port}"
    status, start = ask(pages.address)
    assert (status, "Which question do you have?" in start) == (200, True)
    status, guide = ask(f"{base}/workshop/guide.ipynb")
    assert status == 200
    assert "import " not in re.sub(r"<script.*?</script>", "", guide, flags=re.S), "code is shown"
    assert (pages.folder / "plans" / "mono-single-lines.toml").is_file()


def test_who_has_no_address_sees_nothing(pages):
    right = urlsplit(pages.address)
    ask = browser()
    for query in ("", "?token=", "?token=wrong", "?token=%C3%BC", f"?{right.query[:-1]}"):
        status, page = ask(f"http://{right.netloc}/{query}")
        assert (status, "Whose pages?" in page) == (403, True)
    for path in ("leader", "join", "leader/state", "api/contents/"):
        assert ask(f"http://{right.netloc}/{path}")[0] == 404
    assert ask(f"http://{right.netloc}/my-evening.zip")[0] in (403, 404)


INTERRUPTED = """
import os, signal, sys, time
from workbook.hall.kernels import Kernels

def amid_its_work(_):
    os.kill(os.getpid(), getattr(signal, sys.argv[1]))
    time.sleep(0.05)
    print("its work is done")

Kernels.keep_filled = amid_its_work
from workbook.__main__ import main
sys.exit(main(["pages", sys.argv[2], "--no-browser", "--port", sys.argv[3]]))
"""


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_signal_lets_the_work_in_hand_end_first(tmp_path, name):
    """Otherwise Ctrl-C may fall amid the event loop's own steps, which are then lost, and waited for in vain."""
    words = [sys.executable, "-c", INTERRUPTED, name, str(tmp_path / "mine"), str(free_port())]
    done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=PATIENCE_S)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines()[-1] == "its work is done"
