"""Plans that are not complete yet, kept in a small hidden file each, beside where the plan will lie."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from expocalc.base.textfile import read_text
from expocalc.base.wholefile import write_file
from expocalc.plan import PlanError
from workbook.parts.plan_files import AT_HAND, PLANS, PlanFiles

__all__ = ["drop_sketch", "keep_sketch", "last_sketch", "read_sketch", "sketch_names"]

_SUFFIX = ".sketch"
_LARGEST_BYTES = 1_000_000


def _path(plan: Path) -> Path:
    return plan.with_name(f".{plan.name}{_SUFFIX}")


def keep_sketch(plan: Path, values: Mapping[str, Any], base: Mapping[str, Any]) -> None:
    """Keep the sections that differ from those of the plan's file; OSError where that fails."""
    sections = {section: value for section, value in values.items() if base.get(section) != value}
    kept = {"sections": sections, "gone": [section for section in base if section not in values]}
    write_file(_path(plan), json.dumps(kept, default=str).encode())


def read_sketch(plan: Path, base: Mapping[str, Any]) -> dict[str, Any] | None:
    """Values of the sketch of a plan, on top of those of its file; None where there is none."""
    try:
        kept = json.loads(read_text(_path(plan), _LARGEST_BYTES))
        gone = set(kept["gone"])
        return {section: value for section, value in base.items() if section not in gone} | dict(kept["sections"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return None


def drop_sketch(plan: Path) -> None:
    """The plan is complete, or the sketch is not wanted any more."""
    with contextlib.suppress(OSError):
        _path(plan).unlink(missing_ok=True)


def sketch_names(files: PlanFiles) -> list[str]:
    """Names of plans that have a sketch and no file yet."""
    found = (files.root / PLANS).glob(f".*.toml{_SUFFIX}")
    plans = (path.with_name(path.name[1:].removesuffix(_SUFFIX)) for path in found)
    return sorted(files.name(path) for path in plans if not path.exists())


def last_sketch(files: PlanFiles) -> str:
    """Name of the plan that was used last, where it is only a sketch; "" where it has a file."""
    try:
        path = files.path(json.loads(read_text(files.root / AT_HAND, 10_000))["plan"])
    except (PlanError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return ""
    return files.name(path) if _path(path).is_file() and not path.exists() else ""
