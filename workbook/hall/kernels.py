"""Kernels started ahead, one for each guest that is in, and an eye on their memory and their rest."""

from __future__ import annotations

import asyncio
import logging
import os
import time
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import psutil

__all__ = ["Full", "Kernels", "Limits", "Seat"]

_LOG = logging.getLogger("workbook.hall")
_MB = 2**20
_NAME = "guest"
"""Of the kernel below ``jupyter/kernels``."""
_GIVE_BACK = {"MALLOC_MMAP_THRESHOLD_": "262144", "MALLOC_TRIM_THRESHOLD_": "262144", "MALLOC_ARENA_MAX": "2"}
"""Has Linux take back the memory of a page's large arrays once they are done with, instead of keeping it for more."""
WIDGET_MESSAGES = ["comm_open", "comm_close", "comm_msg", "comm_info_request", "kernel_info_request"]
"""All that a page may say to its kernel: nothing that runs code, and nothing that ends it."""


class Full(Exception):  # noqa: N818  what it says is the name
    """No kernel can be had just now."""


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What the leader's laptop gives.

    Attributes
    ----------
    ready : int
        Kernels started ahead, for guests who have not come yet.
    kernels : int
        Most that run for guests at once.
    kernel_mb : float
        A kernel that grows beyond is started anew. [MiB]
    spare_mb : float
        Memory of the laptop that is left alone: with less free nobody more comes in, and with less than twice as
        much no kernel is started ahead. [MiB]
    left_s : float
        A page that nobody looks at is shut after this time. [s]
    idle_s : float
        So is one that nobody has touched for this time. [s]
    """

    ready: int = 4
    kernels: int = 40
    kernel_mb: float = 600.0
    spare_mb: float = 400.0
    left_s: float = 120.0
    idle_s: float = 1800.0


@dataclass
class Seat:
    """A guest's kernel, how many pages were drawn in it, and when somebody last was there."""

    kernel: str
    home: Path
    drawn: int = 0
    sockets: int = 0
    touched: float = field(default_factory=time.monotonic)


class Kernels:
    """The pool.

    Parameters
    ----------
    manager : jupyter_server's mapping kernel manager
    limits : Limits
    home : pathlib.Path
        The leader's folder, in which kernels wait.
    fenced : bool
        Whether a guest's files end at the guest's folder.
    """

    def __init__(self, manager: Any, limits: Limits, home: Path, *, fenced: bool) -> None:
        self.manager, self.limits, self._home, self._fenced = manager, limits, home, fenced
        self.seats: dict[str, Seat] = {}
        self._ready: list[str] = []
        self._starting = 0
        self._locks: dict[str, asyncio.Lock] = {}
        self._jobs: set[asyncio.Task[None]] = set()
        self._births: set[asyncio.Future[str]] = set()

    @property
    def ready(self) -> int:
        """Kernels that wait for a guest."""
        return len(self._ready)

    def keep_filled(self) -> None:
        """Start kernels until enough wait, no more at once than there are cores: guests who are in come first."""
        wanted = min(self.limits.ready, self.limits.kernels - len(self.seats))
        at_once = psutil.cpu_count() or 1
        while len(self._ready) + self._starting < wanted and self._starting < at_once and self._room(2):
            self._starting += 1
            self._job(self._start_one())

    def _job(self, work: Any) -> None:
        task = asyncio.ensure_future(work)
        self._jobs.add(task)
        task.add_done_callback(self._jobs.discard)

    def _room(self, times: float = 1) -> bool:
        return psutil.virtual_memory().available / _MB > times * self.limits.spare_mb

    async def _start_one(self) -> None:
        try:
            self._ready.append(await self._start())
        except Exception:
            _LOG.exception("a kernel did not start")
            await asyncio.sleep(5)
        finally:
            self._starting -= 1
        self.keep_filled()

    async def _start(self) -> str:
        environment = os.environ | {"WORKBOOK_BOKEH": "1"} | _GIVE_BACK
        birth = asyncio.ensure_future(
            self.manager.start_kernel(kernel_name=_NAME, env=environment, cwd=str(self._home))
        )
        self._births.add(birth)
        birth.add_done_callback(self._births.discard)
        kernel: str = await asyncio.shield(birth)
        # A dead one is missed, and its page says so; started anew by itself it would be empty under a full page.
        self.manager.get_kernel(kernel).stop_restarter()
        await self.run(kernel, "from workbook.hall.seat import warm_up as _w; _w(); del _w")
        # Who is at a page is counted by its socket; the server need not read each message once more for that.
        self.manager.stop_watching_activity(kernel)
        self.manager.get_kernel(kernel).execution_state = "idle"
        return kernel

    async def close(self) -> None:
        """End all kernels, those too that are just being started: before they run they can't be ended."""
        self.limits = replace(self.limits, ready=0)
        while self._births:
            await asyncio.wait(self._births)
        for job in self._jobs:
            job.cancel()
        await asyncio.gather(*self._jobs, return_exceptions=True)
        await self.manager.shutdown_all(now=True)  # asked in a friendly way, one that only begins would write an error

    async def run(self, kernel: str, code: str) -> None:
        """Run code of ours in a kernel and wait for its end.

        Raises
        ------
        RuntimeError
            If it failed.
        """
        client = self.manager.get_kernel(kernel).client()
        # without the heartbeat: its thread, stopped while it begins, never ends, and whoever waits for it neither
        client.start_channels(hb=False)
        try:
            await client.wait_for_ready(timeout=60)
            reply = await client.execute_interactive(
                code, store_history=False, timeout=60, output_hook=lambda _: None, allow_stdin=False
            )
        finally:
            client.stop_channels()
        if reply["content"]["status"] != "ok":
            msg = f"the kernel said {reply['content'].get('evalue', 'nothing')}"
            raise RuntimeError(msg)

    def lock(self, guest: str) -> asyncio.Lock:
        """One page at a time is made for a guest."""
        return self._locks.setdefault(guest, asyncio.Lock())

    async def sit(self, guest: str, home: Path, folder: Path) -> Seat:
        """Give a guest a kernel for the next page: the one that there is, else one that waits, else a new one.

        Parameters
        ----------
        guest : str
        home, folder : pathlib.Path
            The guest's folder, and the one in it where the page's files lie.

        Returns
        -------
        Seat

        Raises
        ------
        Full
            If there are too many already, or too little memory.
        """
        seat = self.seats.get(guest)
        if seat is not None and not await self._sound(seat.kernel):
            await self.leave(guest)
            seat = None
        if seat is None:
            if len(self.seats) >= self.limits.kernels or (not self._ready and not self._room()):
                raise Full
            kernel = await self._next()
            seat = self.seats[guest] = Seat(kernel, home)
            self.keep_filled()
        seat.touched = time.monotonic()
        seat.drawn += 1
        words = ", ".join(repr(str(one)) for one in (home, folder, self._home if self._fenced else ""))
        await self.run(seat.kernel, f"from workbook.hall.seat import take_seat as _t; _t({words}); del _t")
        return seat

    async def _next(self) -> str:
        """One that waits and still lives, else a new one."""
        while self._ready:
            if await self._sound(kernel := self._ready.pop(0)):
                return kernel
        return await self._start()

    async def _sound(self, kernel: str) -> bool:
        return kernel in self.manager and await self.manager.get_kernel(kernel).is_alive()

    async def leave(self, guest: str) -> None:
        """End a guest's kernel; what the guest typed lies in files."""
        seat = self.seats.pop(guest, None)
        if seat is not None and seat.kernel in self.manager:
            await self.manager.shutdown_kernel(seat.kernel, now=True)

    def touch(self, guest: str) -> None:
        """Somebody is there."""
        if seat := self.seats.get(guest):
            seat.touched = time.monotonic()

    def sockets(self, guest: str, more: int) -> None:
        """Count a page's lines to its kernel."""
        if seat := self.seats.get(guest):
            seat.sockets += more
            seat.touched = time.monotonic()

    def seat_of(self, kernel: str) -> str:
        """Whose kernel that is; nobody's without one."""
        return next((guest for guest, seat in self.seats.items() if seat.kernel == kernel), "")

    def shows(self, kernel: str, drawn: int) -> bool:
        """Whether a page is still the last one that was drawn in that kernel."""
        seat = self.seats.get(self.seat_of(kernel))
        return seat is not None and seat.drawn == drawn

    def memory_mb(self, kernel: str) -> float:
        """What a kernel takes of the laptop: what it shares with others is divided among them. [MiB]"""
        try:
            found = psutil.Process(self.manager.get_kernel(kernel).provisioner.pid).memory_full_info()
        except (psutil.Error, KeyError, AttributeError):
            return 0.0
        return float(getattr(found, "pss", found.uss) / _MB)  # only Linux divides; elsewhere its own share alone

    async def watch(self) -> None:
        """Shut pages that were left, and kernels that died or grew too large."""
        now = time.monotonic()
        for guest, seat in list(self.seats.items()):
            left = seat.sockets == 0 and now - seat.touched > self.limits.left_s
            rests = now - seat.touched > self.limits.idle_s
            if self.lock(guest).locked():
                continue
            if (
                left
                or rests
                or not await self._sound(seat.kernel)
                or self.memory_mb(seat.kernel) > self.limits.kernel_mb
            ):
                await self.leave(guest)
        self.keep_filled()
