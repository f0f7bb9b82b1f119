"""One plan, one file: read it, check it, change it, solve it, save it.

A plan is TOML; quantities are texts such as "102 mm". Every mistake gives one sentence that names the section, the
field, what is allowed and what arrived. Saving keeps the comments and writes the whole file or nothing.
"""

from __future__ import annotations

import copy
import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from expocalc.base.field import place_of
from expocalc.base.table import DATA
from expocalc.base.textfile import read_text
from expocalc.budget.answer import answer
from expocalc.budget.case import Case
from expocalc.budget.row import Answer
from expocalc.plan.error import PlanError, Where, one_sentence
from expocalc.plan.nouns import read_case, relative_tables, tables_moved
from expocalc.plan.toml import check_signs, dump, load
from expocalc.plan.whole import write_whole

if TYPE_CHECKING:
    from expocalc.budget.spread import Spread

__all__ = ["Plan"]

LARGEST_BYTES = 1_000_000


@dataclass(frozen=True, repr=False, eq=False)
class Plan:
    """A plan: the file's text, its values and the case they make.

    Attributes
    ----------
    case : Case
        What the answer is computed from.
    values : mapping
        The plan's values as the file would say them.
    text : str
        The file as it was read; its comments are kept when the plan is saved.
    folder : pathlib.Path
        Where relative paths of tables start.
    changes : mapping
        Values that were changed since, by their place.

    Examples
    --------
    >>> plan = Plan.example()
    >>> warmer = plan.with_values({("camera", "temperature"): "2 deg_C"})  # two doublings, nearly
    >>> round(warmer.solve().rows[0].dark_e_s / plan.solve().rows[0].dark_e_s, 1)
    3.8
    """

    case: Case
    values: Mapping[str, Any]
    text: str
    folder: Path
    changes: Mapping[Where, Any] = field(default_factory=dict)

    @classmethod
    def read(cls, path: str | Path) -> Plan:
        """Read a plan file.

        Parameters
        ----------
        path : str or pathlib.Path

        Returns
        -------
        Plan

        Raises
        ------
        PlanError
            With one sentence, if the file can't be read or a value is not allowed.
        """
        path = Path(path)
        try:
            text = read_text(path, LARGEST_BYTES)
        except ValueError as error:
            raise PlanError(str(error)) from None
        return cls.parse(text, path.parent)

    @classmethod
    def example(cls) -> Plan:
        """Invented plan that the examples of the documentation solve; its `text` shows how one is written."""
        return cls.read(DATA / "example.toml")

    @classmethod
    def parse(cls, text: str, folder: str | Path = ".") -> Plan:
        """Read a plan from its text; `folder` is where relative paths start. Raises PlanError as :meth:`read`."""
        if not text.strip():
            msg = "the plan is empty; it needs sections [sky], [telescope], [camera], [[filters]] and [target]"
            raise PlanError(msg)
        values = load(text)
        folder = Path(folder)
        try:
            case = read_case(values, folder)
        except PlanError as error:
            from expocalc.plan.lines import line_of

            line = line_of(text, place_of(error))
            if line is None:
                raise
            msg = f"{error} (line {line})"
            raise PlanError(msg, place_of(error)) from None
        return cls(case, MappingProxyType(values), text, folder)

    def with_values(self, changes: Mapping[Where, Any]) -> Plan:
        """Plan with some values changed; None takes a value out.

        Parameters
        ----------
        changes : mapping of tuple to value
            Places such as ("sky", "zenith_brightness") or ("filters", 0, "name"), values as the file would hold them.

        Returns
        -------
        Plan
            Only the sections named are read again.

        Raises
        ------
        PlanError
            If a value is not allowed; the plan at hand stays as it was.
        """
        check_signs(list(changes.values()))
        values = {**self.values}
        for where, value in changes.items():
            values = _put(values, where, value)
        case = read_case(values, self.folder, (self.case, self.values), {str(where[0]) for where in changes})
        return dataclasses.replace(
            self, case=case, values=MappingProxyType(values), changes={**self.changes, **changes}
        )

    def solve(self) -> Answer:
        """Answer for every filter and light.

        Raises
        ------
        PlanError
            If parts of the plan do not fit together, such as a filter wider than the camera's curve.
        """
        with one_sentence():
            return answer(self.case)

    def spread(self, found: Answer | None = None) -> Spread:
        """Spread of the hours by all that is not exactly known, as the plan's section [doubt] says or by its defaults.

        Parameters
        ----------
        found : Answer, optional
            What :meth:`solve` gave, if it is at hand.

        Raises
        ------
        PlanError
            As :meth:`solve`.
        """
        from expocalc.budget.spread import spread

        with one_sentence():
            return spread(self.case, self.case.doubt, found=found)

    @property
    def tables(self) -> tuple[str, ...]:
        """Paths of the tables that it names relative to its own folder."""
        return relative_tables(self.values)

    def moved(self, folder: str | Path) -> Plan:
        """The same plan for another folder: its relative paths lead from there to the same tables.

        No table is copied, so that there stays one of each.

        Parameters
        ----------
        folder : str or pathlib.Path
        """
        folder = Path(folder)
        values = tables_moved(self.values, self.folder, folder)
        if values is self.values and folder == self.folder:
            return self
        return dataclasses.replace(self, values=MappingProxyType({**values}), folder=folder)

    def to_toml(self) -> str:
        """The plan as text, with the comments of the file that it came from."""
        return dump(self.text, self.values)

    def save(self, path: str | Path) -> None:
        """Write the plan: the whole file or nothing.

        In another folder than its own it names its tables from there, as :meth:`moved` says.

        Raises
        ------
        PlanError
            If the file can't be written; what was there stays.
        """
        path = Path(path)
        write_whole(path, self.moved(path.parent).to_toml())


def _put(values: Any, where: Where, value: Any) -> Any:
    """Values with another one in their midst: the tables and lists around it are new, all others the very same."""
    step, *inward = where
    put: Any = [*values] if isinstance(values, list) else {**values}
    if inward:
        missing: Any = [] if isinstance(inward[0], int) else {}
        inside = missing if isinstance(step, str) and step not in put else put[step]
        put[step] = _put(inside, tuple(inward), value)
    elif value is not None:
        put[step] = copy.deepcopy(value) if isinstance(value, dict | list) else value  # whatever its owner does later
    elif isinstance(step, int) or step in put:
        del put[step]
    return put
