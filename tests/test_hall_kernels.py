"""The hall's kernels without any kernel: who gets one, who is told to wait, and which ones are let go."""

import asyncio
import os
import subprocess
import sys
import threading
from types import SimpleNamespace

import pytest
from jupyter_client import AsyncKernelClient, write_connection_file
from jupyter_client.channels import HBChannel

from workbook.hall import kernels as module
from workbook.hall.kernels import Full, Kernels, Limits


class Manager(dict):
    """Stands for the server's manager: names of kernels that run."""

    def __init__(self):
        super().__init__()
        self.made, self.ended = 0, []

    async def start_kernel(self, **_):
        self.made += 1
        name = f"k{self.made}"
        self[name] = SimpleNamespace(is_alive=self._alive(name), stop_restarter=lambda: None)
        return name

    def _alive(self, name):
        async def alive():
            return name in self

        return alive

    def get_kernel(self, name):
        return self[name]

    def stop_watching_activity(self, name):
        assert name in self

    async def shutdown_kernel(self, name, now):
        assert now
        self.ended.append(name)
        del self[name]

    async def shutdown_all(self, now):
        for name in list(self):
            await self.shutdown_kernel(name, now)


@pytest.fixture
def hall(tmp_path, monkeypatch):
    """Function that makes the pool: limits in, the pool and what to set in it out."""

    def make(**limits):
        pool = Kernels(Manager(), Limits(**{"ready": 0} | limits), tmp_path, fenced=False)
        now = SimpleNamespace(s=1000.0, mb={}, free_mb=8000.0)
        monkeypatch.setattr(module, "time", SimpleNamespace(monotonic=lambda: now.s))
        monkeypatch.setattr(pool, "memory_mb", lambda kernel: now.mb.get(kernel, 100.0))
        monkeypatch.setattr(pool, "_room", lambda times=1: now.free_mb > times * pool.limits.spare_mb)

        async def run(*_):
            return None

        monkeypatch.setattr(pool, "run", run)
        return pool, now

    return make


def sit(pool, guest):
    return pool.sit(guest, pool._home, pool._home)


def test_when_all_kernels_are_taken_one_more_waits_until_one_leaves(hall):
    async def evening():
        pool, _ = hall(kernels=2)
        for guest in "ab":
            await sit(pool, guest)
        with pytest.raises(Full):
            await sit(pool, "c")
        await sit(pool, "a")  # who is in stays in
        await pool.leave("b")
        await sit(pool, "c")
        assert set(pool.seats) == {"a", "c"}

    asyncio.run(evening())


@pytest.mark.parametrize(("free_mb", "waits"), [(8000, 3), (700, 0)])
def test_kernels_wait_for_all_who_may_come_if_memory_allows(hall, free_mb, waits):
    async def evening():
        pool, now = hall(ready=5, kernels=5, spare_mb=400)
        now.free_mb = free_mb
        await sit(pool, "a")
        await sit(pool, "b")
        while pool._jobs:
            await asyncio.sleep(0)
        assert pool.ready == waits
        assert pool.manager.made == 2 + waits

    asyncio.run(evening())


def test_a_kernel_that_died_while_it_waited_is_given_to_nobody(hall):
    async def evening():
        pool, _ = hall(ready=1)
        pool.keep_filled()
        while pool._jobs:
            await asyncio.sleep(0)
        assert pool.ready == 1
        del pool.manager["k1"]  # the system took its memory back
        assert (await sit(pool, "a")).kernel == "k2"

    asyncio.run(evening())


def test_with_too_little_memory_nobody_more_comes_in_and_who_is_in_stays(hall):
    async def evening():
        pool, now = hall(kernels=9, spare_mb=400)
        await sit(pool, "a")
        now.free_mb = 300
        with pytest.raises(Full):
            await sit(pool, "b")
        await sit(pool, "a")

    asyncio.run(evening())


def test_a_kernel_over_its_memory_is_shut_and_the_others_stay(hall):
    async def evening():
        pool, now = hall(kernel_mb=600)
        large, small = (await sit(pool, "a")).kernel, (await sit(pool, "b")).kernel
        now.mb = {large: 601, small: 599}
        await pool.watch()
        assert pool.manager.ended == [large]
        assert set(pool.seats) == {"b"}

    asyncio.run(evening())


def test_pages_that_were_left_or_rest_are_shut_in_time_and_not_before(hall):
    async def evening():
        pool, now = hall(left_s=120, idle_s=1800)
        left, looked_at = (await sit(pool, "left")).kernel, (await sit(pool, "looked at")).kernel
        pool.sockets("looked at", +1)
        now.s += 119
        await pool.watch()
        assert pool.manager.ended == []
        now.s += 2
        await pool.watch()
        assert pool.manager.ended == [left]
        now.s += 1600
        pool.touch("looked at")  # a slider moved
        now.s += 1799
        await pool.watch()
        assert pool.manager.ended == [left]
        now.s += 2
        await pool.watch()
        assert pool.manager.ended == [left, looked_at]

    asyncio.run(evening())


def test_after_a_sleep_pages_are_shut_and_the_next_look_gives_a_new_kernel(hall):
    """A laptop whose lid was closed: hours pass at once, lines are gone, some kernels did not live through it."""

    async def evening():
        pool, now = hall()
        before, dead = (await sit(pool, "a")).kernel, (await sit(pool, "b")).kernel
        for guest in "ab":
            pool.sockets(guest, +1)
        now.s += 4 * 3600
        del pool.manager[dead]
        after = await sit(pool, "b")  # the guest's page is faster than the watch
        assert after.kernel != dead
        await pool.watch()
        assert pool.manager.ended == [before]
        assert set(pool.seats) == {"b"}
        assert (await sit(pool, "a")).kernel not in (before, dead)

    asyncio.run(evening())


def test_at_the_end_a_kernel_that_is_just_being_started_is_ended_too_and_none_follows(hall):
    async def evening():
        pool, _ = hall(ready=1)
        begun, go_on = asyncio.Event(), asyncio.Event()
        at_once = pool.manager.start_kernel

        async def slow(**words):
            begun.set()
            await go_on.wait()
            return await at_once(**words)

        pool.manager.start_kernel = slow
        pool.keep_filled()
        await begun.wait()
        closing = asyncio.ensure_future(pool.close())
        await asyncio.sleep(0)
        assert not closing.done(), "it did not wait for the one that starts"
        go_on.set()
        await closing
        assert (pool.manager.made, pool.manager.ended) == (1, ["k1"])
        pool.keep_filled()
        assert not pool._jobs

    asyncio.run(evening())


def test_a_kernel_that_is_let_go_while_it_is_greeted_leaves_no_thread(hall, tmp_path):
    """A heartbeat's thread that is stopped while it begins runs on for ever, and its stop waits for it."""
    file, _ = write_connection_file(str(tmp_path / "kernel.json"))

    async def evening():
        pool, _ = hall()
        client = AsyncKernelClient(connection_file=file)
        client.load_connection_file()
        pool.manager["k"] = SimpleNamespace(client=lambda: client)
        greeting = asyncio.ensure_future(Kernels.run(pool, "k", ""))
        await asyncio.sleep(0.1)
        threads = [one for one in threading.enumerate() if isinstance(one, HBChannel)]
        greeting.cancel()
        with pytest.raises(asyncio.CancelledError):
            await greeting
        assert threads == []

    asyncio.run(evening())


def test_a_page_that_is_just_being_drawn_is_not_shut(hall):
    async def evening():
        pool, now = hall()
        await sit(pool, "a")
        now.s += 1e5
        async with pool.lock("a"):
            await pool.watch()
        assert pool.manager.ended == []

    asyncio.run(evening())


def test_a_lessons_kernel_carries_no_library_that_only_nights_need():
    code = "from workbook.hall.seat import warm_up; warm_up(); import sys; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = {name.split(".")[0] for name in done.stdout.split()}
    assert "bokeh" in loaded, "it warmed nothing"
    assert not loaded & {"scipy", "icalendar", "pandas", "matplotlib", "PIL", "segno", "voila"}


def test_a_page_of_night_or_frames_loads_no_library_that_only_an_export_needs():
    code = "import workbook.frames, workbook.night, sys; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "astropy.io.fits" in loaded, "it read no frames"
    assert not loaded & {"icalendar", "astropy.table", "scipy", "highspy"}


PLANNED = """
import sys
from expocalc.night.night import tonight_of
from expocalc.plan import Plan
from workbook.copies import shipped
plan = Plan.read(shipped() / "plans" / "mono-single-lines.toml")
print(tonight_of(plan.case).campaign.way.nights, "nights")
print(*sys.modules)
"""


def test_nights_are_planned_without_the_largest_library():
    """20 MB of each guest's kernel: the schedule's linear program and the almanac's splines do without scipy."""
    done = subprocess.run([sys.executable, "-c", PLANNED], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert {"nights", "highspy"} <= loaded, "it planned no nights"
    assert not {name for name in loaded if name.startswith("scipy")}


def test_the_memory_of_a_kernel_is_its_share_of_the_laptop(tmp_path):
    manager = Manager()
    manager["me"] = SimpleNamespace(provisioner=SimpleNamespace(pid=os.getpid()))
    pool = Kernels(manager, Limits(), tmp_path, fenced=False)
    own = module.psutil.Process().memory_full_info()
    assert own.uss <= 2**20 * pool.memory_mb("me") * 1.05
    assert 2**20 * pool.memory_mb("me") <= own.rss * 1.05
    assert pool.memory_mb("gone") == 0
