"""One plan, one file: read it, check it, change it, solve it, save it.

A plan is TOML; quantities are texts such as "102 mm". Every mistake gives one sentence that names the section, the
field, what is allowed and what arrived. Saving keeps the comments and writes the whole file or nothing.
"""

from __future__ import annotations

import contextlib
import copy
import dataclasses
import math
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from expocalc.base.noun import suggest
from expocalc.base.textfile import read_text
from expocalc.base.wholefile import write_file
from expocalc.budget.answer import Answer, FilterAnswer, Row, answer
from expocalc.budget.case import Case
from expocalc.budget.doubt import Doubt
from expocalc.budget.night import Night
from expocalc.budget.routine import Goal, Routine
from expocalc.budget.spread import Range, Spread, spread
from expocalc.gear.camera import Camera
from expocalc.gear.passband import Filter, Passband
from expocalc.gear.telescope import Telescope
from expocalc.light.moon import Moon
from expocalc.light.site import Site
from expocalc.light.sky import Sky
from expocalc.light.target import Target

__all__ = ["Plan", "PlanError", "as_json", "one_sentence"]

Where = tuple[str | int, ...]
"""Place of a value in a plan: ("sky", "zenith_brightness"), ("filters", 0, "name")."""

_SECTIONS: Mapping[str, type] = MappingProxyType(
    {
        "site": Site,
        "sky": Sky,
        "telescope": Telescope,
        "camera": Camera,
        "target": Target,
        "routine": Routine,
        "goal": Goal,
        "doubt": Doubt,
        "moon": Moon,
        "night": Night,
    }
)
_REQUIRED = ("sky", "telescope", "camera", "filters", "target")
_LARGEST_BYTES = 1_000_000
_MOST_ENTRIES = 100
_LONGEST_MESSAGE = 600
_DEEPEST = 32
# A key of thousands of parts would keep the TOML reader busy for hours.
_DEEP_KEY = re.compile(r"""(?<![\w"'-])(?:[\w"'-]+[ \t]*\.[ \t]*)""" + f"{{{_DEEPEST}}}")


class PlanError(ValueError):
    """A plan that can't be read, with the one sentence that says why.

    What the sentence quotes of the plan can't break its line or command a terminal.
    """

    def __init__(self, message: str) -> None:
        shown = "".join(c if c.isprintable() else ascii(c)[1:-1] for c in message)
        if len(shown) > _LONGEST_MESSAGE:
            shown = f"{shown[: _LONGEST_MESSAGE // 2]} … {shown[-_LONGEST_MESSAGE // 2 :]}"
        super().__init__(shown)


def _build(cls: type, values: Any, where: str) -> Any:
    """Noun of `cls` from a table of the file; unknown and missing keys are named."""
    if not isinstance(values, Mapping):
        msg = f"{where} must be a table of keys and values, got {values!r}"
        raise PlanError(msg)
    known = {f.name: f for f in dataclasses.fields(cls)}
    for key in values:
        if key not in known:
            msg = f'{where} has no key "{key}"{suggest(key, known) or "; it knows " + ", ".join(known)}'
            raise PlanError(msg)
    for name, f in known.items():
        required = f.default is dataclasses.MISSING and f.default_factory is dataclasses.MISSING
        if required and name not in values:
            msg = f'{where} needs the key "{name}"'
            raise PlanError(msg)
    try:
        return cls(**values)
    except (TypeError, ValueError) as error:
        msg = f"{where} {error}"
        raise PlanError(msg) from None


def _read_filters(values: Any, folder: Path) -> tuple[Filter, ...]:
    if not isinstance(values, Sequence) or isinstance(values, str) or not values:
        msg = "[[filters]] must be one table or more, each with a name and passbands"
        raise PlanError(msg)
    _check_count("filters", values)
    found = []
    for place, entry in enumerate(values, start=1):
        where = f"[[filters]] number {place}"
        if not isinstance(entry, Mapping):
            msg = f"{where} must be a table with a name and passbands, got {entry!r}"
            raise PlanError(msg)
        bands = entry.get("passbands", ())
        if not isinstance(bands, Sequence) or isinstance(bands, str) or not bands:
            msg = f'{where} needs "passbands", for example [{{ centre = "656.3 nm", width = "5 nm" }}]'
            raise PlanError(msg)
        _check_count(f"passbands of {where}", bands)
        passbands = tuple(_build(Passband, _resolve(band, folder), f"{where} passband") for band in bands)
        found.append(_build(Filter, {**entry, "passbands": passbands}, where))
    return tuple(found)


def _check_count(name: str, values: Sequence[Any]) -> None:
    if len(values) > _MOST_ENTRIES:
        msg = f"a plan holds at most {_MOST_ENTRIES} {name}, got {len(values)}"
        raise PlanError(msg)


def _resolve(band: Any, folder: Path) -> Any:
    """The passband's table as a full path, since the file names it relative to itself."""
    if isinstance(band, Mapping) and isinstance(band.get("table"), str):
        return {**band, "table": folder / band["table"]}
    return band


def _case(values: Mapping[str, Any], folder: Path, old: Case | None = None, changed: Set[str] = frozenset()) -> Case:
    """Case from the values of a plan; sections that did not change are taken from the `old` case."""
    known = ("title", *_SECTIONS, "filters")
    for key in values:
        if key not in known:
            msg = f"a plan has no section [{key}]{suggest(key, known) or '; it knows ' + ', '.join(known)}"
            raise PlanError(msg)
    for key in _REQUIRED:
        if key not in values:
            brackets = "[[filters]]" if key == "filters" else f"[{key}]"
            msg = f"the plan needs a section {brackets}"
            raise PlanError(msg)
    parts: dict[str, Any] = {}
    for name, cls in _SECTIONS.items():
        if old is not None and name not in changed:
            parts[name] = getattr(old, name)
        elif name in values:
            if name == "target" and isinstance(values[name], Mapping):
                lights = values[name].get("light")
                _check_count("lights", lights if isinstance(lights, list) else ())
            parts[name] = _build(cls, values[name], f"[{name}]")
    if old is not None and "filters" not in changed:
        parts["filters"] = old.filters
    else:
        parts["filters"] = _read_filters(values["filters"], folder)
    if "title" in values:
        parts["title"] = values["title"]
    case = _build(Case, parts, "the plan:")
    _check_measured(case)
    return case


def _check_measured(case: Case) -> None:
    names = [f.name for f in case.filters]
    for name in case.sky.measured or ():
        if name not in names:
            msg = f'[sky.measured] has no filter "{name}"{suggest(name, names) or "; the plan has " + ", ".join(names)}'
            raise PlanError(msg)


@dataclass(frozen=True, eq=False)
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
    >>> plan = Plan.parse('''
    ... sky.bortle = 6
    ... telescope = { aperture = "80 mm", focal_length = "480 mm" }
    ... [camera]
    ... pixel = "2.9 um"
    ... columns = 3000
    ... rows = 2000
    ... quantum_efficiency = 0.8
    ... dark_current = { rate = "0.002 electron/s", at = "-10 deg_C", doubles_every = "6 K" }
    ... gains.only = { read_noise = "1,4 e-", electrons_per_adu = 0.25, full_well = "15000 e-" }
    ... [[filters]]
    ... name = "H-alpha"
    ... passbands = [{ centre = "656.3 nm", width = "5 nm" }]
    ... [target]
    ... light = [{ line = "H-alpha", brightness = "12 R" }]
    ... ''')
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
            text = read_text(path, _LARGEST_BYTES)
        except ValueError as error:
            raise PlanError(str(error)) from None
        return cls.parse(text, path.parent)

    @classmethod
    def parse(cls, text: str, folder: str | Path = ".") -> Plan:
        """Read a plan from its text; `folder` is where relative paths start. Raises PlanError as :meth:`read`."""
        if not text.strip():
            msg = "the plan is empty; it needs sections [sky], [telescope], [camera], [[filters]] and [target]"
            raise PlanError(msg)
        values = _load(text)
        folder = Path(folder)
        return cls(_case(values, folder), MappingProxyType(values), text, folder)

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
        values = {**self.values}
        for section in {where[0] for where in changes}:
            values[str(section)] = copy.deepcopy(values.get(str(section), {}))
        for where, value in changes.items():
            _put(values, where, value)
        case = _case(values, self.folder, self.case, {str(where[0]) for where in changes})
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
        with one_sentence():
            return spread(self.case, self.case.doubt, found=found)

    def to_toml(self) -> str:
        """The plan as text, with the comments of the file that it came from."""
        import tomlkit  # half of the time of a command that saves nothing

        document = tomlkit.parse(self.text)
        _bring(document, self.values)
        return tomlkit.dumps(document)

    def save(self, path: str | Path) -> None:
        """Write the plan: the whole file or nothing.

        Raises
        ------
        PlanError
            If the file can't be written; what was there stays.
        """
        write_whole(Path(path), self.to_toml())


@contextlib.contextmanager
def one_sentence() -> Iterator[None]:
    """Whatever the numbers of a plan lead to inside this context, it is said in one sentence, a PlanError's."""
    try:
        with np.errstate(over="raise", invalid="raise", divide="raise"):
            yield
    except ValueError as error:
        msg = f"the plan: {error}"
        raise PlanError(msg) from None
    except ArithmeticError:
        msg = "the plan's numbers are too large or too small to compute with; is one of them in a wrong unit?"
        raise PlanError(msg) from None


def _put(values: Any, where: Where, value: Any) -> None:
    for step, following in pairwise(where):
        if isinstance(step, str) and step not in values:
            values[step] = [] if isinstance(following, int) else {}
        values = values[step]
    last = where[-1]
    if value is None:
        if isinstance(last, int) or last in values:
            del values[last]
    else:
        values[last] = value


def _bring(document: Any, values: Mapping[str, Any]) -> None:
    """Bring a table of a TOML document to `values`, touching only what differs, so that comments stay."""
    for key in [key for key in document if key not in values]:
        del document[key]
    for key, value in values.items():
        if key not in document:
            document[key] = value
        elif isinstance(value, Mapping) and isinstance(document[key], Mapping):
            _bring(document[key], value)
        elif _are_tables(value) and _are_tables(document[key]):
            _bring_list(document[key], value)
        elif document[key] != value:
            document[key] = value


def _are_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(entry, Mapping) for entry in value)


def _bring_list(document: Any, values: Sequence[Mapping[str, Any]]) -> None:
    for at, value in enumerate(values):
        while len(document) > len(values) and document[at] != value:  # taken out
            del document[at]
        if at < len(document):
            _bring(document[at], value)
        else:
            document.append(value)
    del document[len(values) :]


def _load(text: str) -> dict[str, Any]:
    """Values of a plan's text; PlanError with line and column where it is no TOML."""
    too_deep = f"the plan is not valid: its tables are nested more than {_DEEPEST} deep"
    too_large = "the plan is not valid TOML: whole numbers have at most 64 bits"
    if _DEEP_KEY.search(text):
        raise PlanError(too_deep)
    try:
        values = tomllib.loads(text)
        fits = all(-(2**63) <= leaf < 2**63 for leaf in _leaves(values, _DEEPEST) if isinstance(leaf, int))
    except tomllib.TOMLDecodeError as error:
        msg = f"the plan is not valid TOML: {error}"
        raise PlanError(msg) from None
    except RecursionError:
        raise PlanError(too_deep) from None
    except ValueError:  # Python reads no number of thousands of digits
        fits = False
    if not fits:
        raise PlanError(too_large)
    return values


def _leaves(value: Any, deepest: int) -> Iterator[Any]:
    """Every value in tables and arrays within each other; RecursionError below `deepest` of them."""
    if not isinstance(value, dict | list):
        yield value
        return
    if deepest == 0:
        raise RecursionError
    for entry in value.values() if isinstance(value, dict) else value:
        yield from _leaves(entry, deepest - 1)


def write_whole(path: Path, text: str) -> None:
    """Write a text file whole or not at all; PlanError with one sentence if that fails."""
    try:
        write_file(path, text.encode())
    except (OSError, ValueError) as error:
        msg = f"{path} can't be written: {getattr(error, 'strerror', None) or error}; nothing was changed"
        raise PlanError(msg) from None


# From the names in the code to the keys that others script against.
_ROW_KEYS = MappingProxyType(
    {
        "filter": "filter_name",
        "light": "light",
        "colour": "colour",
        "pixel_scale_arcsec": "scale_arcsec_px",
        "target_electron_s": "target_e_s",
        "sky_electron_s": "sky_e_s",
        "dark_electron_s": "dark_e_s",
        "sky_mag_arcsec2_ab": "sky_mag_ab",
        "sub_shortest_s": "sub_shortest_s",
        "sub_best_s": "sub_best_s",
        "sub_longest_s": "sub_longest_s",
        "sub_s": "sub_s",
        "subs_to_shoot": "shot",
        "subs_kept": "kept",
        "exposed_h": "exposed_h",
        "kept_h": "kept_h",
        "clock_h": "clock_h",
        "hours_p10": "p10_h",
        "hours_p50": "p50_h",
        "hours_p90": "p90_h",
        "snr_pixel_one_sub": "snr_one_sub",
        "snr_patch": "snr_patch",
        "snr_ceiling": "snr_ceiling",
        "noise_share": "noise_share",
        "bounded_by": "bounded_by",
        "expected_median_adu": "median_adu",
        "expected_median_adu_above_bias": "median_adu_above_bias",
        "storage_gb": "storage_gb",
    }
)
_FILTER_KEYS = MappingProxyType(
    {
        "filter": "filter_name",
        "sub_s": "sub_s",
        "subs_to_shoot": "shot",
        "kept_h": "kept_h",
        "exposed_h": "exposed_h",
        "clock_h": "clock_h",
        "storage_gb": "storage_gb",
        "verdict": "verdict",
    }
)


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(entry) for key, entry in value.items()}
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _keyed(thing: Row | FilterAnswer, keys: Mapping[str, str], hours: Range | None = None) -> dict[str, Any]:
    return {key: _plain(getattr(thing, name, getattr(hours, name, None))) for key, name in keys.items()}


def as_json(found: Answer, hours: Spread | None = None) -> dict[str, Any]:
    """An answer as plain data: `title`, `filters` and `rows`, with infinite and missing numbers as None.

    Parameters
    ----------
    found : Answer
    hours : Spread, optional
        Of the same plan; without it the p10, p50 and p90 of the hours are None.

    Returns
    -------
    dict
        Ready for ``json.dumps(..., allow_nan=False)``; units stand in the keys.
    """
    ranges = {(row.filter_name, row.light): row.range for row in hours.rows} if hours else {}
    return {
        "title": found.title,
        "filters": [_keyed(one, _FILTER_KEYS) for one in found.filters],
        "rows": [_keyed(row, _ROW_KEYS, ranges.get((row.filter_name, row.light or ""))) for row in found.rows],
    }
