"""How sure the hours are: thousands of draws of everything that is not exactly known, and whose doubt matters most.

Each draw is a plan of its own, with the sub lengths of the plan at hand: they are what the user will set.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.answer import answer
from expocalc.budget.case import Case
from expocalc.budget.doubt import Doubt
from expocalc.budget.drawn import Draws, draw
from expocalc.budget.inputs import inputs_of, normal_draws
from expocalc.budget.moment import Moment, Off
from expocalc.budget.parts import MOST_SUBS
from expocalc.budget.passed import passed
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.ranges import QUANTILES, Range, range_of, shares_of
from expocalc.budget.rates import Rates, rates, rates_at
from expocalc.budget.reach import subs_for_snr
from expocalc.budget.row import Answer
from expocalc.budget.stack import stack_snr2
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.gear.filter import Filter

__all__ = ["DRAWS", "SEED", "RowSpread", "Spread", "spread", "spread_steps"]

DRAWS = 2000
"""Draws where nobody asks for more: the 10th and 90th percentile are then known to some 2 in 100 of the draws."""
SEED = 20_260
"""Where the draws start: any number, the same each time."""
_CHUNK = 5000


@dataclass(frozen=True, eq=False, kw_only=True)
class RowSpread:
    """Spread of one light in one filter.

    Attributes
    ----------
    filter_name, light : str
    sub_s : float
        Length of a sub, the plan's. [s]
    kept_h : ndarray
        Kept hours of each draw, practice and parts of a sub counted, infinite where out of reach; shape (draws,). [h]
    practice : ndarray
        Factor on the hours at best that is in them; shape (draws,). [-]
    range : Range
    shares : mapping of str to float
        Part of the variance of log hours that each input's doubt brings, the largest first; names of
        :data:`expocalc.budget.doubt.INPUTS`. Empty where too few draws reach the goal, or there is no variance. [-]
    patch, habits : Patch, Habits
        What the model of the stack takes, for all draws.
    """

    filter_name: str
    light: str
    sub_s: float
    kept_h: Floats
    practice: Floats
    range: Range
    shares: Mapping[str, float]
    patch: Patch
    habits: Habits

    def snr_at(self, kept_h: npt.ArrayLike) -> Floats:
        """SNR that a tenth, half and nine tenths of the draws stay below after some kept hours.

        Parameters
        ----------
        kept_h : array_like
            Kept hours above 0, shape (n,). [h]

        Returns
        -------
        ndarray
            Shape (3, n). [-]
        """
        subs = np.asarray(kept_h, dtype=float)[:, None] * 3600 / self.sub_s / self.practice
        return np.asarray(np.sqrt(np.quantile(stack_snr2(self.patch, self.habits, subs), QUANTILES, axis=-1)))


@dataclass(frozen=True, eq=False, kw_only=True)
class Spread:
    """Spread of a plan's hours.

    Attributes
    ----------
    draws, seed : int
    rows : tuple of RowSpread
        One per filter and light that it passes.
    filters : mapping of str to Range
        Hours of each filter that passes a light: in each draw the most that one of its lights needs.
    """

    draws: int
    seed: int
    rows: tuple[RowSpread, ...]
    filters: Mapping[str, Range]


def spread(case: Case, doubt: Doubt, draws: int = DRAWS, seed: int = SEED, found: Answer | None = None) -> Spread:
    """Spread of the hours of all filters.

    Parameters
    ----------
    case : Case
    doubt : Doubt
        What the inputs may be off by.
    draws : int, optional
    seed : int, optional
        The same seed draws the same numbers for an input, whatever else the plan holds.
    found : Answer, optional
        The case's answer, where it is at hand.

    Returns
    -------
    Spread

    Examples
    --------
    >>> from expocalc.plan import Plan
    >>> case = Plan.example().case
    >>> row = spread(case, Doubt()).rows[0]
    >>> row.range.p10_h < row.range.p50_h < row.range.p90_h
    True
    >>> list(row.shares)[:2]
    ['practice', 'target']
    >>> sure = spread(case, Doubt(target=1)).rows[0]
    >>> "target" in sure.shares, sure.range.p90_h < row.range.p90_h
    (False, True)
    """
    steps = spread_steps(case, doubt, draws, seed, found)
    while True:
        try:
            next(steps)
        except StopIteration as done:
            return done.value


def spread_steps(
    case: Case, doubt: Doubt, draws: int = DRAWS, seed: int = SEED, found: Answer | None = None
) -> Generator[float, None, Spread]:
    """As :func:`spread`, in steps that a progress bar can follow and that can be left at any of them.

    Yields
    ------
    float
        Share of the work that is done.

    Returns
    -------
    Spread
    """
    if draws < 1:
        msg = f"draws must be at least 1, got {draws}"
        raise ValueError(msg)
    subs_s = {one.filter_name: one.sub_s for one in (found or answer(case)).filters}

    of_all = normal_draws(draws, seed)

    @cache
    def from_start(start: int) -> tuple[Moment, Off]:
        return draw(case, doubt, _part_of(of_all, start))

    rows: list[RowSpread] = []
    starts = range(0, draws, _CHUNK)
    for at, filter_ in enumerate(case.filters):
        rate = rates(case, filter_)
        pieces: list[list[tuple[Patch, Floats]]] = []
        for piece, start in enumerate(starts, start=1):
            drawn = rates_at(passed(case, filter_, doubt), *from_start(start))
            pieces.append(_piece(case, drawn, doubt, _part_of(of_all, start), subs_s[filter_.name]))
            yield (at + piece / len(starts)) / len(case.filters)
        for number, light in enumerate(rate.lights):
            patches, hours = zip(*(piece[number] for piece in pieces), strict=True)
            rows.append(_row(case, filter_, rate, light, doubt, of_all, subs_s[filter_.name], patches, hours))
    return Spread(draws=draws, seed=seed, rows=tuple(rows), filters=MappingProxyType(_of_filters(rows)))


def _part_of(draws: Draws, start: int) -> Draws:
    return lambda name: draws(name)[start : start + _CHUNK]


def _piece(case: Case, rate: Rates, doubt: Doubt, draws: Draws, sub_s: float) -> list[tuple[Patch, Floats]]:
    """Patch and kept hours of each light of a filter, for some draws."""
    setting = case.camera.setting
    louder = np.exp(2 * doubt.log_sd("read_noise") * draws("read_noise"))
    read = float(setting.read_noise.value) ** 2 * louder + setting.quantisation_variance_e2
    habits = habits_of(case, rate.scale_arcsec, _flatness(case, doubt, draws))
    found = []
    for light in rate.lights:
        patch = dataclasses.replace(patch_of(case, rate, light, sub_s), read_variance_e2=read[:, None])
        subs = subs_for_snr(patch, habits, case.goal_of(light))
        found.append((patch, np.where(subs <= MOST_SUBS, subs, np.inf) * sub_s / 3600))
    return found


def _flatness(case: Case, doubt: Doubt, draws: Draws) -> Floats | None:
    """Error of the background of each draw; None where nobody doubts it."""
    log_sd = doubt.log_sd("flatness")
    if not log_sd or case.routine.flatness == 0:
        return None
    return np.asarray(case.routine.flatness * np.exp(log_sd * draws("flatness")))


def _row(
    case: Case,
    filter_: Filter,
    rate: Rates,
    light: str,
    doubt: Doubt,
    draws: Draws,
    sub_s: float,
    patches: Sequence[Patch],
    hours: Sequence[Floats],
) -> RowSpread:
    practice = doubt.practice.factors(draws("practice"))
    kept_h = np.concatenate(hours) * practice
    kept_h.setflags(write=False)
    doubtful = inputs_of(case, filter_, rate, light, draws, doubt)
    return RowSpread(
        filter_name=filter_.name,
        light=light,
        sub_s=sub_s,
        kept_h=kept_h,
        practice=practice,
        range=range_of(kept_h, sub_s),
        shares=MappingProxyType(shares_of(kept_h, doubtful)),
        patch=_joined(patches),
        habits=habits_of(case, rate.scale_arcsec, _flatness(case, doubt, draws)),
    )


def _joined(patches: Sequence[Patch]) -> Patch:
    """One patch of all draws from those of the pieces; what is the same in all stays as it is."""
    if len(patches) == 1:
        return patches[0]
    drawn = ("signal_e_s", "light_e_s", "dark_e_s", "read_variance_e2")
    of_stars = tuple(name for name in ("side_px", "faint_e_s") if np.ndim(getattr(patches[0], name)))
    joined = {name: np.concatenate([getattr(patch, name) for patch in patches]) for name in (*drawn, *of_stars)}
    return dataclasses.replace(patches[0], **joined)


def _of_filters(rows: Sequence[RowSpread]) -> dict[str, Range]:
    by_filter: dict[str, list[RowSpread]] = {}
    for row in rows:
        by_filter.setdefault(row.filter_name, []).append(row)
    return {
        name: lights[0].range
        if len(lights) == 1
        else range_of(np.max([row.kept_h for row in lights], axis=0), lights[0].sub_s)
        for name, lights in by_filter.items()
    }
