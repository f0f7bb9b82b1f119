"""The README says what the code does."""

import doctest
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
README = ROOT / "README.md"


def test_library_example_gives_the_output_shown(monkeypatch):
    monkeypatch.chdir(ROOT)
    found = doctest.testfile(str(README), module_relative=False)
    assert found.attempted >= 7
    assert found.failed == 0


def test_command_prints_what_is_shown():
    shown = re.search(r"```console\n\$ python -m (expocalc) (\S+)\n(.*?)```", README.read_text(encoding="utf-8"), re.S)
    done = subprocess.run(
        [sys.executable, "-m", shown[1], shown[2]],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        check=True,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )
    assert done.stdout.rstrip() == shown[3].rstrip()


@pytest.mark.parametrize("link", re.findall(r"\]\((?!http)([^)#]+)\)", README.read_text(encoding="utf-8")))
def test_every_link_leads_to_a_file(link):
    assert (ROOT / link).exists()
