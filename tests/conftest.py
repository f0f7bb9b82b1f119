"""Settings that every test shares, and a running workbook."""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import urlsplit
from urllib.request import Request, urlopen

import psutil
import pytest
from _pytest.runner import runtestprotocol
from hypothesis import settings

from tests.waiting import PATIENCE_S, free_port, wait_for

# Runs must not differ from one machine, or one day, to the next.
settings.register_profile("ci", deadline=None, derandomize=True)
settings.register_profile("here", deadline=None)
settings.load_profile("ci" if "CI" in os.environ else "here")

# A job in the background is started deaf to Ctrl-C, and so would be all that it starts.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

SILENT = ("no live plot", "the kernel does not rest", "Timeout waiting for output")
"""What a test says whose kernel did not answer at all."""


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item, nextitem):
    """Try a test once more whose kernel did not answer, and say so.

    A kernel may leave a request lying until the next one wakes it (ipython/ipykernel, issue 1554, open): a reader
    presses once more. Seen twice in 9,000 tests; with a fault of ours the second go fails too.
    """
    item.ihook.pytest_runtest_logstart(nodeid=item.nodeid, location=item.location)
    reports = runtestprotocol(item, nextitem=nextitem, log=False)
    said = [one.longreprtext for one in reports if one.failed]
    if any(words in text for words in SILENT for text in said):
        print(f"\nonce more, since its kernel did not answer: {item.nodeid}", file=sys.__stderr__, flush=True)
        reports = runtestprotocol(item, nextitem=nextitem, log=False)
    for report in reports:
        item.ihook.pytest_runtest_logreport(report=report)
    item.ihook.pytest_runtest_logfinish(nodeid=item.nodeid, location=item.location)
    return True


# pytest's own filter doesn't reach the notebooks' kernels.
WARNINGS_ARE_ERRORS = r"""
import warnings

warnings.filterwarnings("error", module=r"(expocalc|workbook|__main__)(\.|$)")
"""


@pytest.fixture(scope="session", autouse=True)
def strict_kernels(tmp_path_factory):
    """In every kernel that a test starts, a warning of our code is an error."""
    folder: Path = tmp_path_factory.mktemp("ipython")
    startup = folder / "profile_default" / "startup"
    startup.mkdir(parents=True)
    (startup / "00-warnings.py").write_text(WARNINGS_ARE_ERRORS, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("IPYTHONDIR", str(folder))
        yield


@pytest.fixture
def demo_folder(tmp_path):
    """A folder with the demo plans, as a reader has it."""
    plans = Path(__file__).parents[1] / "notebooks" / "plans"
    shutil.copytree(plans, tmp_path / "plans", ignore=shutil.ignore_patterns(".*"))  # sketches of whoever worked there
    return tmp_path


class Lab:
    """One ``python -m workbook``, started as a reader starts it, with a home of its own."""

    def __init__(self, home, folder, *words, port=None, **environment):
        self.folder = Path(folder)
        self.home = Path(home)
        self.port = port or free_port()
        config = self.home / "config"
        config.mkdir(parents=True, exist_ok=True)
        # Lets a test ask JupyterLab itself how its notebook stands.
        (config / "jupyter_lab_config.py").write_text("c.LabApp.expose_app_in_browser = True")
        places = {"CONFIG": config, "DATA": self.home / "data", "RUNTIME": self.home / "runtime"}
        with (self.home / "log").open("wb") as log:
            self.process = subprocess.Popen(
                [str(word) for word in (*self.command(), *words)],
                cwd=self.home,
                env=os.environ | {f"JUPYTER_{name}_DIR": str(place) for name, place in places.items()} | environment,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def command(self):
        return [sys.executable, "-m", "workbook", self.folder, "--no-browser", "--port", self.port]

    @property
    def log(self):
        return (self.home / "log").read_text(encoding="utf-8", errors="replace")

    @property
    def address(self):
        """First page, with its token, as the launcher prints it; from then on it listens."""
        return self.printed(r"(http://127\.0\.0\.1:\d+/\S*\?token=\w+)\s")[1]

    def printed(self, words):
        """Wait until its window shows what the pattern `words` asks for, and return the match."""

        def look():
            assert self.process.poll() is None, self.log
            return re.search(words, self.log)

        return wait_for(look, lambda: f"its window does not show {words}:\n{self.log}")

    def end_kernels(self):
        """End all kernels, as JupyterLab's own menu does."""
        address = urlsplit(self.address)
        sessions = f"{address.scheme}://{address.netloc}/api/sessions"
        said = {"Authorization": f"token {address.query.removeprefix('token=')}"}
        with urlopen(Request(sessions, headers=said), timeout=PATIENCE_S) as answer:
            running = json.load(answer)
        for session in running:
            asked = Request(f"{sessions}/{session['id']}", headers=said, method="DELETE")
            try:
                urlopen(asked, timeout=PATIENCE_S).close()
            except HTTPError as error:
                error.close()
                if error.code != 404:  # a page that was left has ended it already
                    raise

    def descendants(self):
        """Processes that it started, kernels among them."""
        return psutil.Process(self.process.pid).children(recursive=True)

    def kill(self, words):
        """Kill the one process below it in whose command `words` stand."""
        (found,) = [one for one in self.descendants() if words in " ".join(self._command_of(one))]
        found.kill()

    @staticmethod
    def _command_of(process):
        try:
            return process.cmdline()
        except psutil.Error:  # it ended meanwhile
            return []

    def ctrl_c(self):
        """Press Ctrl-C in its window; return the exit code."""
        self.process.send_signal(signal.SIGINT)
        try:
            return self.process.wait(timeout=PATIENCE_S)
        except subprocess.TimeoutExpired:
            for one in (*self.descendants(), self.process):  # its kernels would slow the tests that follow
                one.kill()
            pytest.fail(f"the workbook did not end on Ctrl-C:\n{self.log}")

    def close(self):
        if self.process.poll() is None:
            self.ctrl_c()


class Hall(Lab):
    """One ``python -m workbook hall`` on this machine."""

    def command(self):
        words = ["hall", self.folder, "--no-browser", "--address", "127.0.0.1", "--port", self.port, "--ready", "1"]
        return [sys.executable, "-m", "workbook", *words]

    @property
    def address(self):
        """Where it is served; from then on it listens."""
        return self.printed(r"Your page: (\S+)/leader")[1]

    @property
    def evening(self):
        """What the hall keeps: codes and guests."""
        return json.loads((self.folder / "evening.json").read_text())


@pytest.fixture(scope="module")
def hall(tmp_path_factory):
    """A running hall on a fresh folder, for all tests of a module."""
    home = tmp_path_factory.mktemp("hall")
    running = Hall(home, home / "evening")
    yield running
    running.close()


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """A running workbook on a fresh folder, for all tests of a module."""
    home = tmp_path_factory.mktemp("lab")
    running = Lab(home, home / "mine")
    yield running
    running.close()


@pytest.fixture
def start_lab(tmp_path):
    """Function that starts a workbook of the test's own; it takes what Lab takes, but the home."""
    running = []

    def start(folder, *words, port=None, **environment):
        running.append(Lab(tmp_path / f"home{len(running)}", folder, *words, port=port, **environment))
        return running[-1]

    yield start
    for one in running:
        one.close()
