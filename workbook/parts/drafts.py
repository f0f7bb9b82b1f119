"""Changes that nobody saved yet, kept in one small hidden file beside their plan.

Each open page keeps its own version there, so that two of them don't wipe each other out. A page that opens the plan
takes all of them over.
"""

from __future__ import annotations

import contextlib
import json
import secrets
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from expocalc.base.lock import locked
from expocalc.base.textfile import read_text
from expocalc.base.wholefile import write_file
from expocalc.plan import Plan, PlanError

__all__ = ["Draft", "Drafts"]

_LARGEST_BYTES = 5_000_000


@dataclass(frozen=True, kw_only=True)
class Draft:
    """One page's version of a plan, and the version of the file that it started from."""

    base: Plan
    mine: Plan
    at: str


class Drafts:
    """The drafts of one plan.

    Parameters
    ----------
    path : pathlib.Path
        The plan's.
    """

    def __init__(self, path: Path) -> None:
        self.plan_path = path
        self.path = path.with_name(f".{path.name}.unsaved")
        self._me = secrets.token_hex(4)
        self._kept = False

    def keep(self, base: Plan, mine: Plan) -> None:
        """Keep this page's version; OSError where that can't be written."""
        values = {section: value for section, value in mine.values.items() if base.values.get(section) != value}
        gone = [section for section in base.values if section not in mine.values]
        at = f"{datetime.now().astimezone():%H:%M}"
        self._change({self._me: {"base": base.to_toml(), "values": values, "gone": gone, "at": at}})
        self._kept = True

    def drop(self) -> None:
        """Nothing of this page is unsaved any more."""
        if self._kept:
            self._kept = False
            with contextlib.suppress(OSError):
                self._change({self._me: None})

    def take_over(self) -> list[Draft]:
        """Versions that pages left, the oldest first; those that can't be read are passed over, and stay."""
        found = []
        for entry in self._read().values():
            with contextlib.suppress(PlanError, KeyError, TypeError, AttributeError):
                base = Plan.parse(entry["base"], self.plan_path.parent)
                changes = {(str(section),): value for section, value in entry["values"].items()}
                mine = base.with_values(changes | {(section,): None for section in entry["gone"]})
                found.append(Draft(base=base, mine=mine, at=str(entry["at"])))
        return found

    def replace_all(self, base: Plan, mine: Plan) -> None:
        """Keep this page's version in place of all others: it holds them."""
        self._change(dict.fromkeys(self._read()))
        self.keep(base, mine)

    def forget_all(self) -> None:
        """Drop every version."""
        with contextlib.suppress(OSError):
            self.path.unlink(missing_ok=True)

    def _read(self) -> dict[str, Any]:
        try:
            found = json.loads(read_text(self.path, _LARGEST_BYTES))
        except (ValueError, RecursionError):
            return {}
        return found if isinstance(found, dict) else {}

    def _change(self, entries: dict[str, Any]) -> None:
        with locked(self.path.parent):
            kept = {key: entry for key, entry in {**self._read(), **entries}.items() if entry is not None}
            if kept:
                write_file(self.path, json.dumps(kept, default=str).encode())
            else:
                self.path.unlink(missing_ok=True)
