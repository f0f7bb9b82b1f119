"""A blind test: which of six pictures hides a patch? From the answers, the SNR at which these eyes begin to see.

An eye that uses all the light picks the brightest of six patches: the chance that one normal number of mean d is the
largest of six [green]_. A person uses less of it, as if the SNR were smaller; that share is what the answers tell. Now
and then a finger slips: without a share for that, one slip at a strong patch would spoil the whole answer [wichmann]_.

References
----------
.. [green] Green, D. M. & Swets, J. A. 1966, Signal Detection Theory and Psychophysics, ch. 3: forced choice of m (from
   memory).
.. [wichmann] Wichmann, F. A. & Hill, N. J. 2001, Perception & Psychophysics 63, 1293: lapses of a few in a hundred
   (from memory).
"""

from __future__ import annotations

import json
import math
import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.reach import signal_for_snr
from expocalc.frames.measure.picture import stretch
from expocalc.frames.simulate.scene import Mask, even_scene
from expocalc.frames.simulate.stack import stack_of
from workbook.workshop.experiments.rig import PERFECT, SIDE_PX, Rig, rig_of
from workbook.workshop.experiments.shell import detector_of

__all__ = [
    "FILE",
    "SNRS",
    "TILES",
    "Answer",
    "Round",
    "Threshold",
    "chance_right",
    "collected",
    "fresh_seed",
    "patch_ring",
    "pictures",
    "read_answers",
    "rounds_of",
    "threshold",
]

TILES = 6
SNRS = (1, 2, 3, 5, 10)
FILE = "my-blind-test.json"
PATTERN = "*blind-test*.json"
LARGEST = 100_000
"""A larger file holds no answers of this test. [byte]"""
LAPSE = 0.03
"""Share of the picks that are a slip of the finger."""
ROUNDS = 2 * len(SNRS)
_PIXELS, _SUB_S, _SUBS = 48, 300.0, 12
_SEED = 116
_MOST_SEED = 10**6
_STRETCH = 3.0
_RING_PX = 3


@dataclass(frozen=True, kw_only=True)
class Round:
    """One question: how strong the patch is, and which tile, counted from 1, hides it."""

    snr: float
    hidden: int


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What was picked, and whether it was right."""

    snr: float
    right: bool


def fresh_seed() -> int:
    """A number from which a new test draws its places and its order."""
    return secrets.randbelow(_MOST_SEED)


@lru_cache(maxsize=256)
def rounds_of(seed: int) -> tuple[Round, ...]:
    """Rounds of one test: each strength twice in a mixed order, the strongest first, no strength twice in a row.

    Parameters
    ----------
    seed : int
        Each test has its own.
    """
    rng = np.random.default_rng((_SEED, seed))
    order = [float(SNRS[-1])]
    left = [float(snr) for snr in (*SNRS, *SNRS[:-1])]
    while left:
        # what there is most of goes first where it would else be left to the end, twice in a row
        pool = [snr for snr in left if snr != order[-1]] or left
        pressing = [snr for snr in pool if 2 * left.count(snr) > len(left)]
        order.append(float(rng.choice(pressing or pool)))
        left.remove(order[-1])
    hidden = rng.integers(1, TILES + 1, size=ROUNDS)
    return tuple(Round(snr=snr, hidden=int(at)) for snr, at in zip(order, hidden, strict=True))


@cache
def _patch_rig(snr: float) -> Rig:
    """The demo rig with the patch as bright as this SNR asks for."""
    rig = rig_of()
    return rig.with_target(rig.target_e_s * float(signal_for_snr(rig.patch(_SUB_S), PERFECT, _SUBS, snr)))


def pictures(seed: int, number: int) -> list[Floats]:
    """The six pictures of a round, brightness 0 to 1, at one stretch.

    Parameters
    ----------
    seed : int
        Of the test.
    number : int
        From 0.
    """
    asked = rounds_of(seed)[number]
    rig = _patch_rig(asked.snr)
    rng = np.random.default_rng((_SEED, seed, number))
    shape = (_PIXELS, _PIXELS)
    empty = even_scene(rig.sky_e_s, shape)
    with_patch = empty.with_patch(rig.target_e_s, SIDE_PX)
    detector = detector_of(rig, _PIXELS)
    sky_e, grain_e = rig.sky_e_s * _SUB_S, rig.grain_e(_SUB_S, _SUBS)
    return [
        stretch(
            stack_of(with_patch if tile == asked.hidden else empty, detector, _SUB_S, _SUBS, rng),
            sky_e - _STRETCH * grain_e,
            sky_e + _STRETCH * grain_e,
        )
        for tile in range(1, TILES + 1)
    ]


def patch_ring() -> Mask:
    """Pixels of a frame around the place where the patch hides, so that it can be shown."""
    from_middle = np.abs(np.arange(_PIXELS) - (_PIXELS - 1) / 2)
    square = np.maximum(*np.meshgrid(from_middle, from_middle))
    return (square > SIDE_PX / 2) & (square < SIDE_PX / 2 + _RING_PX)


def chance_right(snr: float, share: float = 1.0) -> float:
    r"""Chance to pick the right one of six [green]_.

    .. math:: P = \int \varphi(x - d)\,\Phi(x)^5\,dx, \qquad d = \mathrm{share} \times \mathrm{SNR}

    Parameters
    ----------
    snr : float
    share : float, optional
        Of the SNR that the eye makes use of. [-]

    Examples
    --------
    Without a signal one guess in six is right:

    >>> round(chance_right(0.0), 4), round(chance_right(3.0), 2)
    (0.1667, 0.94)
    """
    x, below = _normal()
    d = share * snr
    density = np.exp(-((x - d) ** 2) / 2) / math.sqrt(2 * math.pi)
    return float(np.sum(density * below ** (TILES - 1)) * (x[1] - x[0]))


@cache
def _normal() -> tuple[Floats, Floats]:
    x = np.linspace(-8, 20, 1401)
    return x, np.array([0.5 * math.erfc(-one / math.sqrt(2)) for one in x])


HALF_WAY = (1 + 1 / TILES) / 2
"""Chance half way from blind guessing to always right."""
_SHARES = np.geomspace(0.05, 1.5, 120)


@cache
def _table() -> Floats:
    """Chance to be right for each share and each SNR of the test, slips included."""
    seen = np.array([[chance_right(snr, share) for snr in SNRS] for share in _SHARES])
    return (1 - LAPSE) * seen + LAPSE / TILES


@cache
def _half_way_snr() -> float:
    """SNR at which an eye that uses all the light is right half way."""
    snrs = np.linspace(0, 5, 501)
    return float(np.interp(HALF_WAY, [chance_right(float(snr)) for snr in snrs], snrs))


@dataclass(frozen=True, kw_only=True)
class Threshold:
    """SNR at which eyes begin to see: the likeliest, and the range that the answers leave."""

    snr: float
    low: float
    high: float


def threshold(answers: Sequence[Answer]) -> Threshold | None:
    """SNR at which the eyes behind these answers are right half way between guessing and always.

    Parameters
    ----------
    answers : sequence of Answer
        One person's, or a whole class's.

    Returns
    -------
    Threshold or None
        Of the share that makes the answers likeliest, with the shares whose log-likelihood is within one half of the
        best (68 % of many tests hold the truth); None without answers. [-]

    Examples
    --------
    >>> found = threshold([Answer(snr=snr, right=snr >= 5) for snr in SNRS for _ in range(10)])
    >>> 3 < found.low < found.snr < found.high < 6
    True
    """
    if not answers:
        return None
    column = {float(snr): at for at, snr in enumerate(SNRS)}
    right, wrong = np.zeros(len(SNRS)), np.zeros(len(SNRS))
    for answer in answers:
        (right if answer.right else wrong)[column[answer.snr]] += 1
    chance = _table()
    likelihood = np.log(chance) @ right + np.log1p(-chance) @ wrong
    within = _half_way_snr() / _SHARES[likelihood >= likelihood.max() - 0.5]
    best = _half_way_snr() / float(_SHARES[int(np.argmax(likelihood))])
    return Threshold(snr=best, low=float(within.min()), high=float(within.max()))


def read_answers(kept: Any) -> list[Answer]:
    """Answers from what was kept, a mapping with the test's seed and its picks; what is no pick is left out."""
    seed, picks = (kept.get("seed"), kept.get("picks")) if isinstance(kept, dict) else (None, None)
    if not isinstance(seed, dict) or not isinstance(picks, dict):
        return []
    drawn_from = seed.get("seed")
    if not isinstance(drawn_from, int) or not 0 <= drawn_from < _MOST_SEED:
        return []
    found = []
    for number, asked in enumerate(rounds_of(drawn_from)):
        pick = picks.get(str(number))
        if isinstance(pick, int) and 1 <= pick <= TILES:
            found.append(Answer(snr=asked.snr, right=pick == asked.hidden))
    return found


def collected(folder: Path) -> tuple[int, list[Answer]]:
    """Number of files with answers in a folder and all below it, and their answers; damaged ones are left out."""
    files: Iterable[Path] = (path for path in sorted(folder.rglob(PATTERN)) if ".damaged" not in path.name)
    tests, answers = 0, []
    for path in files:
        try:
            kept = json.loads(path.read_bytes()) if path.stat().st_size <= LARGEST else None
        except (OSError, ValueError, RecursionError):
            kept = None
        one = read_answers(kept)
        tests += bool(one)
        answers += one
    return tests, answers
