"""Every notebook runs from top to bottom; where a cell asks for it, its numbers are the stored ones."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.waiting import PATIENCE_S
from workbook.copies import shipped, shipped_files

ROOT = Path(__file__).resolve().parent.parent
# What differs from run to run: ids of the plot library and of widgets, and addresses in memory.
SANITIZE = r"""
[bokeh]
regex: p\d{4,}
replace: PLOT
[uuid]
regex: [0-9a-f]{8}-?([0-9a-f]{4}-?){3}[0-9a-f]{12}
replace: UUID
[address]
regex: 0x[0-9a-f]{6,}
replace: ADDRESS
"""


def run(path, tmp_path):
    """Run a notebook, or a folder of them, in kernels of this Python; return the finished process."""
    sanitize = tmp_path / "sanitize.cfg"
    sanitize.write_text(SANITIZE)
    command = [
        sys.executable, "-m", "pytest", str(path), "--nbval-lax", "--nbval-current-env",
        f"--nbval-kernel-startup-timeout={PATIENCE_S}", "--nbval-sanitize-with", str(sanitize),
        "-o", "addopts=", "-p", "no:cacheprovider", "-q",
    ]  # fmt: skip
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=1200, check=False)


NOTEBOOKS = [shipped() / path for path in shipped_files(shipped()) if path.suffix == ".ipynb"]


@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_runs(notebook, tmp_path):
    finished = run(notebook, tmp_path)
    assert finished.returncode == 0, finished.stdout + finished.stderr


def test_a_wrong_number_a_warning_and_an_error_are_seen(tmp_path):
    sources = [
        ("# NBVAL_CHECK_OUTPUT\nprint(2)", "3\n"),
        ("import warnings\nwarnings.warn('mind this')", ""),
        ("1 / 0", ""),
        ("# NBVAL_CHECK_OUTPUT\nprint(object())", "<object object at 0x7f0123456789>\n"),
    ]
    cells = [
        {"cell_type": "code", "id": f"cell-{number}", "source": source, "metadata": {}, "execution_count": 1,
         "outputs": [{"output_type": "stream", "name": "stdout", "text": text}] if text else []}
        for number, (source, text) in enumerate(sources)
    ]  # fmt: skip
    planted = tmp_path / "planted.ipynb"
    planted.write_text(json.dumps({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}))
    said = run(planted, tmp_path).stdout
    for number in (0, 1, 2):
        assert f"{planted.name}::Cell {number} " in said, said
    assert "UserWarning: mind this" in re.sub(r"\x1b\[[0-9;]*m", "", said)
    assert "3 failed, 1 passed" in said


def test_live_cells_are_kept_without_outputs():
    for path in NOTEBOOKS:
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            if "live" in cell["metadata"].get("tags", []):
                assert not cell["outputs"], path.name
                assert cell["metadata"]["jupyter"] == {"source_hidden": True}, path.name
