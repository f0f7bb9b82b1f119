"""Whether this laptop is ready: versions and speed. What the browser can do is asked in :mod:`.check_in`."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, requires, version
from time import perf_counter

import numpy as np
from packaging.requirements import InvalidRequirement, Requirement

__all__ = ["LIMIT_S", "Finding", "check_speed", "check_versions"]

LIMIT_S = 2.0
"""No cell of the workshop may take longer. [s]"""
_SUBS, _SIDE, _MEAN = 20, 256, 100.0
_GOES = 3
"""What else the laptop does in one moment, such as opening this very page, is not its speed."""
OLDEST_PYTHON = (3, 11)


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing that was checked; `good` is None while nobody knows."""

    name: str
    good: bool | None
    words: str


def check_versions() -> Finding:
    """Whether Python and all packages are as new as this workbook asks for."""
    wrong = []
    if sys.version_info < OLDEST_PYTHON:
        wrong.append(f"Python is {sys.version_info[0]}.{sys.version_info[1]}")
    try:
        asked = [Requirement(line) for line in requires("expocalc") or []]
    except (PackageNotFoundError, InvalidRequirement):
        return Finding(name="Versions", good=None, words="can't tell: the workbook was not installed, only copied")
    asked = [one for one in asked if one.marker is None or one.marker.evaluate({"extra": ""})]
    for one in asked:
        try:
            found = version(one.name)
        except PackageNotFoundError:
            wrong.append(f"{one.name} is missing")
        else:
            if not one.specifier.contains(found, prereleases=True):
                wrong.append(f"{one.name} is {found}, needs {one.specifier}")
    words = "; ".join(wrong) if wrong else f"Python and {len(asked)} packages fit"
    return Finding(name="Versions", good=not wrong, words=words)


def check_speed(limit_s: float = LIMIT_S) -> Finding:
    """Shoot and stack twenty small pictures of even light, and look at clock and result.

    Parameters
    ----------
    limit_s : float, optional
        How long it may take. [s]

    Returns
    -------
    Finding
        Not good where it took longer, or where the stack's grain is not the square root of mean over subs: with
        65 536 pixels that is known to 0.3 %, and 2 % are allowed.
    """
    for _ in range(_GOES):
        rng = np.random.default_rng(4)
        start = perf_counter()
        stack = sum(rng.poisson(_MEAN, (_SIDE, _SIDE)) for _ in range(_SUBS)) / _SUBS
        took_s = perf_counter() - start
        if took_s <= limit_s:
            break
    off = abs(float(np.std(stack)) / float(np.sqrt(_MEAN / _SUBS)) - 1)
    words = f"{_SUBS} small subs shot and stacked in {took_s:.2f} s; up to {limit_s:g} s is fine"
    if off > 0.02:
        words += f", but the grain is {100 * off:.0f} % off what theory says"
    return Finding(name="Speed", good=took_s <= limit_s and off <= 0.02, words=words)
