"""Many plans at once: every combination of some values, one table.

What changes an integral over wavelength, such as a filter's width, is solved value by value; readings of the sky, dark
current, read noise, routine and goal are axes of arrays, on which all combinations are solved together.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.quantity import parse_quantity
from expocalc.budget.case import Case
from expocalc.budget.rates import Rates, rates
from expocalc.budget.row import ROW_KEYS
from expocalc.budget.solved import REASONS, Solved, solve
from expocalc.budget.terms import Terms, terms_of
from expocalc.plan import Plan, PlanError, one_sentence

__all__ = ["sweep"]

Where = tuple[str | int, ...]

_READINGS = ("zenith_brightness", "bortle", "luminance", "naked_eye_limit", "gradient", "lamps")
_PACE = ("sub_length", "longest_sub", "dead_time", "dither_time", "lost_per_dither", "lost_per_hour")
_GOAL = ("snr", "noise_growth", "sky_share_of_well")
_DARK = ("temperature", "glow", "dark_current")
_TERMS = {
    "goal": ("snr", "noise_growth", "sky_share"),
    "routine": ("sub_s", "mount_s", "dead_s", "lost_per_hour", "lost_at_dither"),
    "camera": ("read_variance_e2", "quantisation_e2", "saturation_e", "electrons_per_adu", "bias_adu", "frame_gb"),
}
_MOST_CASES = 5_000_000
_SEARCHED, _AT_ONCE = 500, 20_000
"""Cases whose best sub is looked for, and cases solved, at once: they keep memory below some 100 MB."""
_SPREAD = ("hours_p10", "hours_p50", "hours_p90")


def _is_axis(where: Where) -> bool:
    """Whether values at a place can be solved together on an axis of arrays."""
    section, *rest = where
    if section == "camera":
        return rest[0] in _DARK or (rest[0] == "gains" and rest[-1] == "read_noise")
    return rest[0] in {"sky": _READINGS, "routine": _PACE, "goal": _GOAL}.get(str(section), ())


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
    >>> plan = Plan.parse('''
    ... sky.bortle = 6
    ... telescope = { aperture = "80 mm", focal_length = "480 mm" }
    ... [camera]
    ... pixel = "2.9 um"
    ... columns = 3000
    ... rows = 2000
    ... quantum_efficiency = 0.8
    ... dark_current = { rate = "0.002 electron/s", at = "-10 deg_C", doubles_every = "6 K" }
    ... gains.only = { read_noise = "1.4 e-", electrons_per_adu = 0.25, full_well = "15000 e-" }
    ... [[filters]]
    ... name = "H-alpha"
    ... passbands = [{ centre = "656.3 nm", width = "5 nm" }]
    ... [target]
    ... light = [{ line = "H-alpha", brightness = "12 R" }]
    ... ''')
    >>> table = sweep(plan, {"sky.bortle": [4, 6], "routine.sub_length": ["60 s", "300 s"]})
    >>> table["sky.bortle", "routine.sub_length", "clock_h"].colnames, len(table)
    (['sky.bortle', 'routine.sub_length', 'clock_h'], 4)
    >>> bool(table["clock_h"][0] > table["clock_h"][1])
    True
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
    inner = [at for at, axis in enumerate(axes) if _is_axis(axis.where)]
    outer = [at for at in range(len(axes)) if at not in inner]
    searched = [axes[at].where != ("routine", "sub_length") for at in inner]
    grid, done = _Grid(plan, axes, inner), 0
    for places in itertools.product(*(range(shape[at]) for at in outer)):
        chosen = dict(zip(outer, places, strict=True))
        cell = numbers[tuple(chosen.get(at, slice(None)) for at in range(len(axes)))]
        case, terms, delivered = grid.at(chosen)
        for piece in _pieces(cell.shape, searched):
            ids = cell[piece]
            solved = solve(case, _terms_in(terms, piece), [_rates_in(rate, piece) for rate in delivered])
            done += ids.size
            yield done / numbers.size, _rows(case, ids, solved, delivered[0].colours)


def _pieces(shape: tuple[int, ...], searched: Sequence[bool]) -> Iterator[tuple[slice, ...]]:
    """Parts of an array that are small enough: its longest axis is halved until they are."""

    def halved(part: tuple[slice, ...]) -> Iterator[tuple[slice, ...]]:
        sizes = [one.stop - one.start for one in part]
        looked_for = [size if searching else 1 for size, searching in zip(sizes, searched, strict=True)]
        if math.prod(looked_for) > _SEARCHED:
            at = looked_for.index(max(looked_for))
        elif math.prod(sizes) > _AT_ONCE:
            at = sizes.index(max(sizes))
        else:
            yield part
            return
        middle = (part[at].start + part[at].stop) // 2
        for half in (slice(part[at].start, middle), slice(middle, part[at].stop)):
            yield from halved((*part[:at], half, *part[at + 1 :]))

    return halved(tuple(slice(0, size) for size in shape))


class _Grid:
    """Terms and rates on the axes that are solved together, for one choice of the others."""

    def __init__(self, plan: Plan, axes: tuple[_Axis, ...], inner: Sequence[int]) -> None:
        self._plan, self._axes, self._inner = plan, axes, inner
        self._nouns: dict[tuple[Any, ...], list[Any]] = {}

    def at(self, chosen: Mapping[int, int]) -> tuple[Case, Terms, list[Rates]]:
        """Case, terms and the rates of each filter, where each outer axis has the chosen value."""
        base = self._plan.with_values({self._axes[at].where: self._axes[at].values[n] for at, n in chosen.items()})
        case, terms = base.case, terms_of(base.case)
        dark: Any = None
        for section, names in _TERMS.items():
            nouns, shape = self._of_section(base, section, chosen)
            if not nouns:
                continue
            each = [terms_of(dataclasses.replace(case, **{section: noun})) for noun in nouns]
            numbers = {name: np.array([getattr(one, name) for one in each], dtype=float) for name in names}
            terms = dataclasses.replace(terms, **{name: _lean(x.reshape(shape)) for name, x in numbers.items()})
            if section == "camera":
                dark = np.array([camera.dark_e_s for camera in nouns]).reshape(*shape, 1)
        skies, shape = self._of_section(base, "sky", chosen)
        cases = [dataclasses.replace(case, sky=sky) for sky in skies] or [case]
        delivered = []
        for filter_ in case.filters:
            rate = _together([rates(one, filter_) for one in cases], shape)
            delivered.append(rate if dark is None else dataclasses.replace(rate, dark_e_s=dark))
        return case, terms, delivered

    def _of_section(self, base: Plan, section: str, chosen: Mapping[int, int]) -> tuple[list[Any], tuple[int, ...]]:
        """The section for every combination of its inner axes, and the shape of these; none where it has none."""
        own = [at for at in self._inner if self._axes[at].where[0] == section]
        shape = tuple(len(self._axes[at].values) if at in own else 1 for at in self._inner)
        if not own:
            return [], shape
        key = (section, *((at, n) for at, n in chosen.items() if self._axes[at].where[0] == section))
        if key not in self._nouns:
            self._nouns[key] = [
                getattr(
                    base.with_values(dict(zip((self._axes[at].where for at in own), values, strict=True))).case, section
                )
                for values in itertools.product(*(self._axes[at].values for at in own))
            ]
        return self._nouns[key], shape


def _lean(values: Floats) -> Any:
    """An array without the repetition along axes on which nothing changes; a number where nothing changes at all."""
    for axis in range(values.ndim):
        first = values.take([0], axis=axis)
        if np.array_equal(np.broadcast_to(first, values.shape), values, equal_nan=True):
            values = first
    return values if values.size > 1 else values.item()


_COLOURED = ("sky_e_s", "ab_zero_e_s", "bright_star_e_s")


def _together(many: Sequence[Rates], shape: tuple[int, ...]) -> Rates:
    """Rates of one filter under several skies as one, on all axes."""

    def on_axes(parts: Sequence[Floats]) -> Floats:
        return np.array(parts).reshape(*shape, -1)

    first = many[0]
    coloured: dict[str, Any] = {name: on_axes([getattr(rate, name) for rate in many]) for name in _COLOURED}
    return dataclasses.replace(
        first,
        **coloured,
        extended={light: on_axes([rate.extended[light] for rate in many]) for light in first.extended},
        stars={light: on_axes([rate.stars[light] for rate in many]) for light in first.stars},
    )


def _in(values: Any, piece: tuple[slice, ...]) -> Any:
    """Part of an array with all axes; an axis of one value stays."""
    if not np.ndim(values):
        return values
    return values[tuple(one if size > 1 else slice(None) for one, size in zip(piece, values.shape, strict=False))]


def _terms_in(terms: Terms, piece: tuple[slice, ...]) -> Terms:
    names = [field.name for field in dataclasses.fields(terms)]
    return Terms(**{name: _in(getattr(terms, name), piece) for name in names})


def _rates_in(rate: Rates, piece: tuple[slice, ...]) -> Rates:
    return dataclasses.replace(
        rate,
        **{name: _in(getattr(rate, name), piece) for name in (*_COLOURED, "dark_e_s")},
        extended={light: _in(values, piece) for light, values in rate.extended.items()},
        stars={light: _in(values, piece) for light, values in rate.stars.items()},
    )


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
