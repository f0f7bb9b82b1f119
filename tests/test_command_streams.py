"""The command where its output is full, closed or not wanted any more, and after Ctrl-C: no traceback, right code."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from expocalc.__main__ import main
from expocalc.plan.keys import keys_text
from tests.waiting import PATIENCE_S

ROOT = Path(__file__).resolve().parent.parent
MONO = ROOT / "notebooks" / "plans" / "mono-single-lines.toml"
pytestmark = pytest.mark.skipif(os.name == "nt", reason="streams of a shell")


def shell(words, module="expocalc", **kwargs):
    command = f"{sys.executable} -m {module} {words}"
    return subprocess.run(
        command, shell=True, cwd=ROOT, capture_output=True, text=True, timeout=PATIENCE_S, check=False, **kwargs
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


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device that is always full")
@pytest.mark.parametrize(
    ("module", "words"),
    [
        ("expocalc.night", f"{MONO} --date 2026-10-10"),
        ("expocalc.frames", "simulate {0} {1} --seed 1 --size 64 64 --biases 1"),
    ],
)
def test_the_other_commands_have_the_same_frame(module, words, tmp_path):
    words = words.format(MONO, tmp_path / "out")
    done = shell(f"{words} >/dev/full", module)
    said = f"{module}: the answer can't be printed: No space left on device\n"
    assert (done.returncode, done.stderr) == (1, said)
    wrong = shell("sub none.fits 2>/dev/full" if "frames" in module else "none.toml 2>/dev/full", module)
    assert (wrong.returncode, wrong.stdout, wrong.stderr) == (2, "", "")


@pytest.mark.parametrize("module", ["expocalc", "expocalc.night", "expocalc.frames"])
def test_a_help_that_nobody_gets_is_no_fault(module):
    for end in ["2>/dev/null >&-", "| true"] + ([">/dev/full"] if os.path.exists("/dev/full") else []):
        done = shell(f"--help {end}", module)
        assert (done.returncode, done.stderr) == (0, ""), end


INTERRUPTED = """
import importlib, os, signal, sys

class Interrupt:
    def find_spec(self, name, path=None, target=None):
        if name == sys.argv[2]:
            os.kill(os.getpid(), signal.SIGINT)

signal.signal(signal.SIGINT, signal.default_int_handler)  # a job in the background is started without
sys.meta_path.insert(0, Interrupt())
main = importlib.import_module(sys.argv[1] + ".__main__").main
sys.exit(main(sys.argv[3:]))
"""


@pytest.mark.parametrize(
    ("command", "module", "words"),
    [
        ("expocalc", "expocalc.plan", [MONO]),
        ("expocalc", "astropy.units", [MONO]),
        ("expocalc", "expocalc.budget.spread", [MONO]),
        ("expocalc", "expocalc.report", [MONO]),
        ("expocalc.night", "expocalc.plan", [MONO]),
        ("expocalc.night", "expocalc.night.almanac", [MONO]),
        ("expocalc.frames", "numpy", ["sub", "none.fits"]),
        ("expocalc.frames", "expocalc.frames.read.fits", ["sub", "none.fits"]),
    ],
)
def test_an_interrupt_while_the_model_loads_is_code_130(command, module, words):
    started = [sys.executable, "-c", INTERRUPTED, command, module, *map(str, words)]
    done = subprocess.run(started, cwd=ROOT, capture_output=True, timeout=PATIENCE_S, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (130, b"", b"")


def test_an_interrupt_at_any_moment_of_the_work_is_code_130(monkeypatch, capsys):
    def interrupted(*_):
        raise KeyboardInterrupt

    for where in (
        "expocalc.plan.Plan.read",
        "expocalc.plan.Plan.solve",
        "expocalc.plan.Plan.spread",
        "expocalc.report.report",
        "expocalc.base.command._print_answer",
    ):
        with monkeypatch.context() as patch:
            patch.setattr(where, interrupted)
            assert main([str(MONO)]) == 130
            assert capsys.readouterr() == ("", "")


def test_keys_are_printed(capsys):
    assert main(["--keys"]) == 0
    assert capsys.readouterr().out == keys_text() + "\n"
