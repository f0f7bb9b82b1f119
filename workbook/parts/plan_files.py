"""Where the plans of a workbook lie, which of them are demos, and which one was used last."""

from __future__ import annotations

import contextlib
import itertools
import json
from functools import cache
from pathlib import Path

from expocalc.base.textfile import read_text
from expocalc.base.wholefile import write_file
from expocalc.plan import PlanError
from workbook.copies import shipped
from workbook.parts.file_names import checked_stem, write_free

__all__ = ["DEMO", "PlanFiles", "brought_text"]

DEMO = "plans/mono-single-lines.toml"
"""The plan that opens where none was used yet."""
PLANS = "plans"
AT_HAND = ".expocalc-at-hand.json"
_LARGEST_BYTES = 1_000_000


@cache
def _demos() -> frozenset[str]:
    return frozenset(path.name for path in (shipped() / PLANS).glob("[!.]*.toml"))


class PlanFiles:
    """The plans of one workbook.

    Parameters
    ----------
    folder : str or pathlib.Path
        A notebook's folder; the workshop's, which has no plans of its own, uses those beside it.

    Attributes
    ----------
    root : pathlib.Path
        From where plans are named: "plans/tonight.toml".
    up : str
        Way from the notebook to there: "" or "../".
    """

    def __init__(self, folder: str | Path) -> None:
        folder = Path(folder).resolve()
        beside = not (folder / PLANS).is_dir() and (folder.parent / PLANS).is_dir()
        self.root = folder.parent if beside else folder
        self.up = "../" if beside else ""

    def path(self, name: str) -> Path:
        """Path of the plan that a person named; a name without a folder is one of the folder of plans.

        Raises
        ------
        PlanError
            If the name leads out of the workbook or can't be a plan's: a slip must not overwrite a notebook.
        """
        name = name.strip()
        if not name.endswith(".toml") and Path(name).suffix in (".ipynb", ".py", ".json", ".csv", ".html", ".txt"):
            msg = f'Plan file must be a name that ends in .toml, got {name[:60]!r}; write it like "tonight"'
            raise PlanError(msg)
        stem = checked_stem(self.root, name, ".toml", "Plan file")
        if "/" not in stem and not (self.root / f"{stem}.toml").is_file() and (self.root / PLANS).is_dir():
            stem = f"{PLANS}/{stem}"
        return self.root / f"{stem}.toml"

    def name(self, path: Path) -> str:
        """Name of a plan in this workbook."""
        return path.relative_to(self.root).as_posix()

    def is_demo(self, path: Path) -> bool:
        """Whether a plan came with the workbook: it stays as it is, so that the lessons' numbers hold."""
        return path.parent == self.root / PLANS and path.name in _demos()

    def free_path(self, stem: str) -> Path:
        """Path of a plan that is not there yet; nothing is written."""
        marks = itertools.chain([""], (f"-{number}" for number in itertools.count(2)))
        paths = (self.root / PLANS / f"{stem}{mark}.toml" for mark in marks)
        return next(path for path in paths if not path.exists())

    def write(self, stem: str, text: str) -> Path:
        """Write a plan's text under that name, or one that is free, and tell where it lies."""
        folder = self.root / PLANS
        with contextlib.suppress(OSError):
            folder.mkdir(exist_ok=True)
        return write_free(folder, stem, ".toml", text)

    def names(self) -> list[str]:
        """Plans of the workbook, the one that was written last first, the demos at the end."""
        found = []
        for path in (self.root / PLANS).glob("[!.]*.toml"):
            with contextlib.suppress(OSError):
                found.append((self.is_demo(path), -path.stat().st_mtime, self.name(path)))
        return [name for _, _, name in sorted(found)]

    def last_used(self) -> str:
        """Name of the plan that was used last, or the demo's."""
        try:
            name = json.loads(read_text(self.root / AT_HAND, 10_000))["plan"]
            return self.name(self.path(name)) if self.path(name).is_file() else DEMO
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
            return DEMO

    def use(self, path: Path) -> None:
        """Remember a plan for the other pages; a folder that can't be written forgets it."""
        name = self.name(path)
        if name != self.last_used():
            with contextlib.suppress(OSError):
                write_file(self.root / AT_HAND, json.dumps({"plan": name}).encode())


def brought_text(name: str, data: bytes) -> str:
    """Text of a plan's file that a person brought.

    Raises
    ------
    PlanError
        If it is too large for a plan, or no text.
    """
    if len(data) > _LARGEST_BYTES:
        msg = f"{name[:60]} is {len(data) / 1e6:.2g} MB; a plan is a text of at most {_LARGEST_BYTES / 1e6:g} MB"
        raise PlanError(msg)
    try:
        text = bytes(data).decode("utf-8-sig")
    except UnicodeDecodeError:
        msg = f"{name[:60]} is not a text file; a plan is text in UTF-8"
        raise PlanError(msg) from None
    return text
