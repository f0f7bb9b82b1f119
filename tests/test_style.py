"""The house's style, types and one-way layout hold; part of the tests, so that one command checks all."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
CHECKS = {
    "ruff": ["-m", "ruff", "check", "--no-cache", "."],
    "format": ["-m", "ruff", "format", "--no-cache", "--check", "."],
    "mypy": ["-m", "mypy", "--no-error-summary"],
    "layers": ["-c", "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))"],
}


@pytest.mark.parametrize("check", CHECKS)
def test_style(check):
    command = [sys.executable, *CHECKS[check]]
    finished = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=300, check=False)
    assert finished.returncode == 0, finished.stdout + finished.stderr
