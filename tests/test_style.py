"""The house's style, types and one-way layout hold; part of the tests, so that one command checks all."""

import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).resolve().parent.parent
MOST_LINES = 300
"""Of a module; a longer one has a second idea, which gets a module of its own."""
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


def test_no_module_is_too_long_for_one_idea():
    modules = [path for folder in ("expocalc", "workbook") for path in ROOT.glob(f"{folder}/**/*.py")]
    assert len(modules) > 300
    lines = {str(path.relative_to(ROOT)): len(path.read_text("utf-8").splitlines()) for path in modules}
    assert not {name: count for name, count in lines.items() if count > MOST_LINES}
