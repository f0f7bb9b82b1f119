"""The house's style, types and one-way layout hold; part of the tests, so that one command checks all."""

import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import grimp
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


def test_no_module_of_the_library_imports_itself_by_way_of_others():
    graph = grimp.build_graph("expocalc", exclude_type_checking_imports=True, cache_dir=None)
    imports = {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    assert len(imports) > 150
    TopologicalSorter(imports).prepare()  # raises CycleError
