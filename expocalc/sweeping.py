"""Many plans at once: every combination of some values, one table.

What changes an integral over wavelength, such as a filter's width, is solved value by value; readings of the sky, dark
current, read noise, routine and goal are axes of arrays, on which all combinations are solved together.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from expocalc.base.quantity import parse_quantity
from expocalc.budget.case import Case
from expocalc.budget.row import ROW_KEYS
from expocalc.budget.solved import REASONS, Solved, solve
from expocalc.grid import Grid, Where, is_axis, pieces, rates_in, terms_in
from expocalc.plan import Plan, PlanError, one_sentence

__all__ = ["sweep"]

_MOST_CASES = 5_000_000
_SPREAD = ("hours_p10", "hours_p50", "hours_p90")


@dataclass(frozen=True, eq=False)
class _Axis:
    where: Where
    values: tuple[Any, ...]

    @property
    def name(self) -> str:
        return ".".join(map(str, self.where))

    def column(self) -> Any:
        """Its values as a column: quantities in the unit of the first, numbers, or texts."""
        import astropy.units as u

        try:
            parts = [_quantity(self.name, value) for value in self.values]
            return u.Quantity(parts) if isinstance(parts[0], u.Quantity) else np.array(parts, dtype=float)
        except (TypeError, ValueError, u.UnitsError):
            return np.array([str(value) for value in self.values])


def _quantity(name: str, value: Any) -> Any:
    import astropy.units as u

    if not isinstance(value, str):
        return value if isinstance(value, u.Quantity) else float(value)
    number, unit = parse_quantity(name, value)
    return number if unit is None else u.Quantity(number, unit)


def _read_axes(places: Mapping[str | Where, Sequence[Any]]) -> tuple[_Axis, ...]:
    axes = []
    for place, values in places.items():
        where = place if isinstance(place, tuple) else tuple(int(s) if s.isdigit() else s for s in place.split("."))
        if len(where) < 2:
            msg = f'a place of a sweep names a section and a key, got "{place}"; write it like "sky.zenith_brightness"'
            raise PlanError(msg)
        found = () if isinstance(values, str) else tuple(values)
        if not found:
            msg = f'"{place}" must have a list of one value or more, got {values!r}'
            raise PlanError(msg)
        axes.append(_Axis(where, found))
    if not axes:
        msg = 'a sweep needs one place or more, such as {"sky.zenith_brightness": ["19 mag/arcsec2", "21 mag/arcsec2"]}'
        raise PlanError(msg)
    cases = math.prod(len(axis.values) for axis in axes)
    if cases > _MOST_CASES:
        msg = f"a sweep holds at most {_MOST_CASES:,} combinations, got {cases:,}"
        raise PlanError(msg)
    return tuple(axes)


def sweep(
    plan: Plan, places: Mapping[str | Where, Sequence[Any]], *, progress: Callable[[float], None] | None = None
) -> Any:
    """Answers for every combination of some values of a plan.

    Parameters
    ----------
    plan : Plan
    places : mapping of str or tuple to sequence
        Values by their place in the plan, as a plan holds them: ``{"sky.zenith_brightness": ["19 mag/arcsec2", …]}``.
        A place is the keys with points between them, or a tuple where a key holds a point; the parts of a list are
        counted from 0, such as ``"filters.0.passbands.0.width"``.
    progress : callable, optional
        Called with the share of the work that is done, from above 0 to 1.

    Returns
    -------
    astropy.table.QTable
        One row per combination, filter and light; the last place changes fastest. First a column per place, with its
        name, then the columns of the JSON rows with their units: NaN where a plan's answer has no number, infinite
        where there is no bound, an empty text for no light or colour. The shares of noise are one column each, such as
        "noise_share.sky". What spreads the hours (hours_p10, …) is not in it: that takes thousands of draws a plan.

    Raises
    ------
    PlanError
        With one sentence, if a value is not allowed or a combination does not fit together.

    Examples
    --------
    >>> from expocalc.plan import Plan
    >>> plan = Plan.example()
    >>> table = sweep(plan, {"camera.temperature": ["-10 deg_C"], "routine.sub_length": ["60 s", "300 s"]})
    >>> table["camera.temperature", "routine.sub_length", "filter", "clock_h"].colnames, len(table)
    (['camera.temperature', 'routine.sub_length', 'filter', 'clock_h'], 4)
    >>> table["clock_h"][table["filter"] == "H-alpha"].round(1)
    <Quantity [34.1, 25.7] h>
    """
    axes = _read_axes(places)
    for axis in axes:
        try:
            plan.with_values({axis.where: axis.values[0]})
        except (IndexError, KeyError, TypeError):
            msg = f'the plan has no "{axis.name}"'
            raise PlanError(msg) from None
        except PlanError:
            pass  # such as the reading of a sky of two readings, where another place takes the other out
    blocks: list[dict[str, Any]] = []
    with one_sentence():
        for done, block in _blocks(plan, axes):
            blocks.append(block)
            if progress is not None:
                progress(done)
    return _table(axes, blocks)


def _blocks(plan: Plan, axes: tuple[_Axis, ...]) -> Iterator[tuple[float, dict[str, Any]]]:
    """Share that is done, and the rows of one more block of combinations."""
    shape = tuple(len(axis.values) for axis in axes)
    numbers = np.arange(math.prod(shape)).reshape(shape)
    inner = [at for at, axis in enumerate(axes) if is_axis(axis.where)]
    outer = [at for at in range(len(axes)) if at not in inner]
    searched = [axes[at].where != ("routine", "sub_length") for at in inner]
    grid, done = Grid(plan, axes, inner), 0
    for places in itertools.product(*(range(shape[at]) for at in outer)):
        chosen = dict(zip(outer, places, strict=True))
        cell = numbers[tuple(chosen.get(at, slice(None)) for at in range(len(axes)))]
        case, terms, delivered = grid.at(chosen)
        for piece in pieces(cell.shape, searched):
            ids = cell[piece]
            solved = solve(case, terms_in(terms, piece), [rates_in(rate, piece) for rate in delivered])
            done += ids.size
            yield done / numbers.size, _rows(case, ids, solved, delivered[0].colours)


def _rows(case: Case, ids: Any, solved: Solved, colours: tuple[str, ...]) -> dict[str, Any]:
    """Columns of one block, each one number or text per light and combination."""
    shape = (len(solved.lights), *ids.shape)

    def flat(values: Any) -> Any:
        return np.broadcast_to(values, shape).ravel()

    def of_lights(each: Sequence[Any]) -> Any:
        return flat(np.array(each).reshape(-1, *(1,) * ids.ndim))

    lit = [light is not None and len(colours) > 1 for _, light in solved.lights]
    texts = {
        "filter": of_lights([case.filters[at].name for at, _ in solved.lights]),
        "light": of_lights([light or "" for _, light in solved.lights]),
        "colour": np.where(of_lights(lit), flat(np.array(colours)[solved.colour]), ""),
        "bounded_by": flat(np.array(REASONS)[solved.bounded_by]),
    }
    columns = {_CASE: flat(ids), _LIGHT: of_lights(range(len(solved.lights)))}
    for key, (name, _) in ROW_KEYS.items():
        if key == "noise_share":
            columns |= {f"{key}.{cause}": flat(share) for cause, share in solved.shares.items()}
        elif key not in _SPREAD:
            columns[key] = texts[key] if key in texts else flat(solved.numbers[name])
    return columns


_CASE, _LIGHT = "number of the combination", "number of the light"


def _table(axes: tuple[_Axis, ...], blocks: Sequence[Mapping[str, Any]]) -> Any:
    import astropy.units as u
    from astropy.table import QTable

    columns = {key: np.concatenate([block[key] for block in blocks]) for key in blocks[0]}
    order = np.lexsort((columns.pop(_LIGHT), columns[_CASE]))
    places = np.unravel_index(columns.pop(_CASE)[order], tuple(len(axis.values) for axis in axes))
    table = QTable()
    for axis, at in zip(axes, places, strict=True):
        table[axis.name] = axis.column()[at]
    for key, values in columns.items():
        unit = ROW_KEYS[key][1] if key in ROW_KEYS else ""
        table[key] = u.Quantity(values[order], unit, copy=False) if unit else values[order]
    return table
