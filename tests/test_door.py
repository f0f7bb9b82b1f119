"""What ``import expocalc`` offers, and that it loads nothing until it is asked."""

import importlib
import importlib.util
import subprocess
import sys
from pathlib import Path

import pytest

import expocalc

ROOT = Path(__file__).resolve().parent.parent
MONO = ROOT / "notebooks" / "plans" / "mono-single-lines.toml"


def loaded(program):
    """Names of the modules that a program has loaded at its end."""
    program += "\nimport sys; print(*sys.modules)"
    return set(
        subprocess.run(
            [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout.split()
    )


def test_the_package_alone_loads_nothing():
    assert loaded("import expocalc; dir(expocalc)") - loaded("") == {"expocalc"}


def test_the_model_loads_no_screen_and_nothing_that_only_saving_needs():
    modules = loaded("import expocalc; expocalc.Plan")
    assert "astropy.units" in modules
    heavy = {"tomlkit", "astropy.table", "scipy", "IPython", "bokeh", "ipywidgets", "pandas", "matplotlib"}
    assert not heavy & modules


def test_the_names_are_shown_and_documented():
    assert {"Plan", "PlanError", "sweep", "__version__"} <= set(dir(expocalc))
    packages = {path.stem for path in Path(expocalc.__path__[0]).iterdir()}
    shown = {name for name in dir(expocalc) if not name.startswith("__")}
    assert shown - packages == set(expocalc.__all__), "what is shown is what one may use"
    assert expocalc.__all__ == ["Plan", "PlanError", "sweep"]
    for name in ("Plan", "PlanError"):
        doc = getattr(expocalc, name).__doc__
        assert len(doc) > 300
        assert ">>> " in doc
        assert getattr(expocalc, name) is getattr(importlib.import_module("expocalc.plan"), name)
        assert f"`{name}`" in expocalc.__doc__


def test_the_names_work_and_are_found_once():
    plan = expocalc.Plan.read(MONO)
    assert plan.solve().rows
    assert vars(expocalc)["Plan"] is expocalc.Plan
    with pytest.raises(expocalc.PlanError):
        expocalc.Plan.parse("")


@pytest.mark.skipif(importlib.util.find_spec("expocalc.sweeping") is None, reason="no sweep in this version")
def test_sweep_is_the_function():
    assert callable(expocalc.sweep)
    assert ">>> " in expocalc.sweep.__doc__
    importlib.import_module("expocalc.sweeping")
    assert callable(expocalc.sweep)


def test_a_name_that_is_not_there_is_an_attribute_error():
    with pytest.raises(AttributeError, match="module 'expocalc' has no attribute 'Plam'"):
        expocalc.Plam  # noqa: B018
    assert not hasattr(expocalc, "__wrapped__")
