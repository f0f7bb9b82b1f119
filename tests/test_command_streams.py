"""The command where its output is full, closed or not wanted any more, and after Ctrl-C: no traceback, right code."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from expocalc.__main__ import main
from expocalc.plan import keys_text

ROOT = Path(__file__).resolve().parent.parent
MONO = ROOT / "notebooks" / "plans" / "mono-single-lines.toml"
pytestmark = pytest.mark.skipif(os.name == "nt", reason="streams of a shell")


def shell(words, **kwargs):
    command = f"{sys.executable} -m expocalc {words}"
    return subprocess.run(
        command, shell=True, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False, **kwargs
    )


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device that is always full")
@pytest.mark.parametrize("words", ["--keys", f"{MONO}", f"{MONO} --json"])
def test_a_full_output_is_one_sentence_and_code_1(words):
    done = shell(f"{words} >/dev/full")
    assert done.stderr == "expocalc: the answer can't be printed: No space left on device\n"
    assert done.returncode == 1


def test_a_closed_output_is_one_sentence_and_code_1():
    done = shell("--keys >&-")
    assert done.stderr == "expocalc: the answer can't be printed: the standard output is closed\n"
    assert done.returncode == 1


@pytest.mark.parametrize("end", ["2>&-", "2>/dev/full", ">&- 2>&-"])
def test_a_bad_plan_is_code_2_even_where_nobody_can_be_told(end):
    done = shell(f"none.toml {end}")
    assert (done.returncode, done.stdout, done.stderr) == (2, "", "")


@pytest.mark.parametrize("end", [">&- 2>&-", ">/dev/full 2>/dev/full", ">/dev/full 2>&-"])
def test_an_answer_that_nobody_gets_is_code_1(end):
    done = shell(f"--keys {end}")
    assert (done.returncode, done.stdout, done.stderr) == (1, "", "")


def test_a_reader_that_goes_away_is_code_0():
    done = shell('--keys | head -n 1; exit "${PIPESTATUS[0]}"', executable="/bin/bash")
    assert (done.returncode, done.stderr) == (0, "")


INTERRUPTED = """
import os, signal, sys

class Interrupt:
    def find_spec(self, name, path=None, target=None):
        if name == sys.argv[1]:
            os.kill(os.getpid(), signal.SIGINT)

sys.meta_path.insert(0, Interrupt())
from expocalc.__main__ import main
sys.exit(main([sys.argv[2]]))
"""


@pytest.mark.parametrize("module", ["expocalc.plan", "astropy.units", "expocalc.budget.spread", "expocalc.report"])
def test_an_interrupt_while_the_model_loads_is_code_130(module):
    command = [sys.executable, "-c", INTERRUPTED, module, MONO]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, timeout=60, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (130, b"", b"")


def test_an_interrupt_at_any_moment_of_the_work_is_code_130(monkeypatch, capsys):
    def interrupted(*_):
        raise KeyboardInterrupt

    for where in (
        "expocalc.plan.Plan.read",
        "expocalc.plan.Plan.solve",
        "expocalc.plan.Plan.spread",
        "expocalc.report.report",
    ):
        with monkeypatch.context() as patch:
            patch.setattr(where, interrupted)
            assert main([str(MONO)]) == 130
            assert capsys.readouterr() == ("", "")


def test_keys_are_printed(capsys):
    assert main(["--keys"]) == 0
    assert capsys.readouterr().out == keys_text() + "\n"
