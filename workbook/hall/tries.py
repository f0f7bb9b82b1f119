"""Wrong codes, slowed: each one from the same address makes the next try wait longer."""

from __future__ import annotations

import hmac
import time
from collections.abc import Callable

__all__ = ["Tries"]

FREE = 3
"""Slips of the finger that cost nothing."""
LONGEST_S = 60.0
REMEMBERED = 10_000


class Tries:
    """Counts wrong tries by address.

    Parameters
    ----------
    clock : callable, optional
        Gives seconds that only grow.

    Examples
    --------
    >>> now = [0.0]
    >>> tries = Tries(lambda: now[0])
    >>> [tries.take("10.0.0.7", "guess", "482913") for _ in range(4)]
    [False, False, False, False]
    >>> tries.wait_s("10.0.0.7"), tries.take("10.0.0.7", "482913", "482913")
    (2.0, False)
    >>> now[0] = 3.0
    >>> tries.take("10.0.0.7", "482913", "482913")
    True
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._wrong: dict[str, tuple[int, float]] = {}

    def wait_s(self, address: str) -> float:
        """How long the next try from there has to wait. [s]"""
        return max(0.0, self._wrong.get(address, (0, 0.0))[1] - self._clock())

    def take(self, address: str, typed: str, code: str) -> bool:
        """Whether the code is right; before the wait is over even the right one is not looked at."""
        if self.wait_s(address) > 0:
            return False
        if hmac.compare_digest(typed.strip().casefold().encode(), code.casefold().encode()):
            self._wrong.pop(address, None)
            return True
        if len(self._wrong) >= REMEMBERED:
            self._wrong.pop(next(iter(self._wrong)))
        wrong = self._wrong.pop(address, (0, 0.0))[0] + 1
        wait = min(LONGEST_S, 2.0 ** min(wrong - FREE, 20)) if wrong > FREE else 0.0
        self._wrong[address] = (wrong, self._clock() + wait)
        return False
