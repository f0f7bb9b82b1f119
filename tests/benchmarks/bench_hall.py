"""A full hall on this machine: ``python tests/benchmarks/bench_hall.py [GUESTS] [SECONDS]``.

``python tests/benchmarks/bench_hall.py pages [GUESTS [PAGE ...]]`` tells the memory of each page by itself: so many
guests look at it at once, and each has moved its first slider.

Guests without a screen speak what a page's scripts speak: they join by the code, load a page, open its socket, and
then each moves a slider once a second. Told are the time from joining to a page that has all its panels (with kernels
that wait, and without), from a press to the first new data of a figure, and the memory of a guest and page. The
browsers' own work is not in it: in a hall it is done by the guests' telephones.
"""

import asyncio
import contextlib
import json
import os
import random
import re
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from pathlib import Path

import psutil
from tornado.httpclient import AsyncHTTPClient, HTTPRequest
from tornado.websocket import websocket_connect

PAGE = "sub_length.ipynb"
PORT = 8791
BASE = f"http://127.0.0.1:{PORT}"


def message(kind, content, number=None):
    header = {
        "msg_id": number or uuid.uuid4().hex, "msg_type": kind, "session": "bench", "username": "", "version": "5.3",
        "date": "2026-01-01T00:00:00Z",
    }  # fmt: skip
    return {"channel": "shell", "header": header, "parent_header": {}, "metadata": {}, "content": content}


class Guest:
    """One guest's browser, without the screen."""

    def __init__(self, code):
        self.code, self.http, self.presses = code, AsyncHTTPClient(), []

    async def join(self, page=PAGE):
        """From the code to a drawn page; returns the seconds it took."""
        begin = time.perf_counter()
        answer = await self.http.fetch(
            f"{BASE}/join", method="POST", body=f"code={self.code}", follow_redirects=False, request_timeout=600,
            raise_error=False,
        )  # fmt: skip
        self.cookie = answer.headers["Set-Cookie"].split(";")[0]
        await self.load(page)
        return time.perf_counter() - begin

    async def load(self, page):
        """Load the page and open its socket."""
        drawn = await self.http.fetch(f"{BASE}/{page}", headers={"Cookie": self.cookie}, request_timeout=600)
        self.kernel = re.search(rb'"kernelId": "([\w-]+)"', drawn.body)[1].decode()
        address = f"ws://127.0.0.1:{PORT}/api/kernels/{self.kernel}/channels?session_id=bench"
        self.socket = await websocket_connect(HTTPRequest(address, headers={"Cookie": self.cookie, "Origin": BASE}))
        comm = uuid.uuid4().hex
        opened = {"comm_id": comm, "target_name": "jupyter.widget.control", "data": {}}
        opening = message("comm_open", opened)
        opening["metadata"] = {"version": "1.0.0"}
        await self.send(opening)
        await self.send(message("comm_msg", {"comm_id": comm, "data": {"method": "request_states"}}))
        while True:
            heard = await self.hear()
            data = heard["content"].get("data", {}) if heard["msg_type"] == "comm_msg" else {}
            if data.get("method") == "update_states":
                break
        models = data["states"]
        self.figures = {key for key, one in models.items() if one["model_name"] == "BokehModel"}
        sliders = [
            (key, one["state"]) for key, one in models.items()
            if one["model_name"] == "FloatSliderModel" and one["state"].get("max") is not None
        ]  # fmt: skip
        self.slider, state = sliders[0] if sliders else (None, {"min": 0, "max": 0})
        self.low, self.high = state["min"], state["max"]

    async def send(self, one):
        await self.socket.write_message(json.dumps(one))

    async def hear(self):
        heard = await asyncio.wait_for(self.socket.read_message(), 60)
        if isinstance(heard, bytes):  # buffers follow; the words come first
            offsets = [
                int.from_bytes(heard[4 * (n + 1) : 4 * (n + 2)], "big") for n in range(int.from_bytes(heard[:4], "big"))
            ]
            heard = heard[offsets[0] : offsets[1]]
        return json.loads(heard)

    async def play(self, until):
        """Move the slider once a second, at a moment of one's own."""
        await asyncio.sleep(random.random())
        while time.perf_counter() < until:
            number, value = uuid.uuid4().hex, self.low + random.random() * (self.high - self.low)
            state = {
                "comm_id": self.slider,
                "data": {"method": "update", "state": {"value": value}, "buffer_paths": []},
            }
            begin = time.perf_counter()
            await self.send(message("comm_msg", state, number))
            drawn = False
            while True:
                heard = await self.hear()
                mine = heard["parent_header"].get("msg_id") == number
                if mine and not drawn and heard["content"].get("comm_id") in self.figures:
                    self.presses.append(time.perf_counter() - begin)
                    drawn = True
                if mine and heard["msg_type"] == "status" and heard["content"]["execution_state"] == "idle":
                    break
            await asyncio.sleep(max(0.0, 1 - (time.perf_counter() - begin)))


def started(folder, ready):
    """A hall with all pages open."""
    from workbook.hall.evening import LESSONS, PANELS, Evening

    evening = Evening.at(folder)
    evening.opened.extend([*PANELS, *LESSONS])
    evening.keep()
    words = [sys.executable, "-m", "workbook", "hall", str(folder), "--no-browser", "--address", "127.0.0.1"]
    process = subprocess.Popen(
        [*words, "--port", str(PORT), "--ready", str(ready), "--guests", str(max(2, ready))],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    return process, evening.code


def kernels_of(process):
    """The hall's kernels; a process that ends while it is looked at is none."""
    found = []
    for one in psutil.Process(process.pid).children(recursive=True):
        with contextlib.suppress(psutil.Error):
            if "workbook.hall.guest_kernel" in one.cmdline():
                found.append(one)
    return found


async def settled(process, ready):
    """Wait until so many kernels wait, and they have done with their imports: they rest."""
    spent, before = 0.0, -1.0
    while len(kernels := kernels_of(process)) < ready or spent - before > 0.1:
        await asyncio.sleep(2)
        spent, before = sum(one.cpu_times().user for one in kernels), spent
    await asyncio.sleep(3)


async def one_joins(ready):
    """How long a single guest waits, with a kernel ready or with none."""
    with tempfile.TemporaryDirectory() as place:
        process, code = started(Path(place), max(1, ready))
        try:
            await settled(process, max(1, ready))
            first, second = Guest(code), Guest(code)
            waited = await first.join()
            if ready:
                return waited
            return await second.join()  # at once, when no kernel waits any more
        finally:
            process.terminate()
            process.wait()


def worked(process):
    """Processor time so far. [s]"""
    spent = process.cpu_times()
    return spent.user + spent.system


async def hall(guests, seconds):
    """A full hall: all join at once, then all move a slider."""
    with tempfile.TemporaryDirectory() as place:
        process, code = started(Path(place), guests)
        try:
            await settled(process, guests)
            everybody = [Guest(code) for _ in range(guests)]
            joined = await asyncio.gather(*(one.join() for one in everybody))
            middle, last = statistics.median(joined), max(joined)
            print(f"{guests} join in the same second: live after {middle:.1f} s (median), {last:.1f} s (last)")
            server = psutil.Process(process.pid)
            family = [server, *kernels_of(process)]
            before, until = {one: worked(one) for one in family}, time.perf_counter() + seconds
            await asyncio.gather(*(one.play(until) for one in everybody))
            family = [one for one in family if one.is_running()]
            cores = sum(worked(one) - before[one] for one in family) / seconds
            presses = sorted(1000 * press for one in everybody for press in one.presses)
            middle, p95 = statistics.median(presses), presses[int(0.95 * len(presses))]
            print(f"{len(presses)} presses in {seconds} s, data after {middle:.0f} ms (median), {p95:.0f} (p95)")
            print(f"the hall keeps {cores:.2f} of {os.cpu_count()} cores busy; load {os.getloadavg()[0]:.1f}")
            sizes = [one.memory_full_info().pss / 2**20 for one in family[1:]]
            print(f"memory of a guest and page: {statistics.median(sizes):.0f} MB, at most {max(sizes):.0f} (bar 110)")
            print(f"memory of the server: {server.memory_info().rss / 2**20:.0f} MB")
        finally:
            process.terminate()
            process.wait()


async def look(page, guests):
    """Memory of a page that so many look at: the median and the largest, in MB."""
    with tempfile.TemporaryDirectory() as place:
        process, code = started(Path(place), guests)
        try:
            await settled(process, guests)
            everybody = [Guest(code) for _ in range(guests)]
            await asyncio.gather(*(one.join(page) for one in everybody))
            if everybody[0].slider:
                await asyncio.gather(*(one.play(time.perf_counter() + 3) for one in everybody))
            sizes = [one.memory_full_info().pss / 2**20 for one in kernels_of(process)]
            return statistics.median(sizes), max(sizes)
        finally:
            process.terminate()
            process.wait()


def pages(guests, *named):
    """Memory of each page that was named, else of every page that guests see."""
    from workbook.hall.evening import LESSONS, PANELS, START

    for page in named or (START, *LESSONS, *PANELS):
        middle, most = asyncio.run(look(page, guests))
        print(f"{page}: {middle:.0f} MB a guest, at most {most:.0f} (bar 110; {guests} guests)", flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["pages"]:
        AsyncHTTPClient.configure(None, max_clients=1000)
        pages(int((*sys.argv[2:], 6)[0]), *sys.argv[3:])
        sys.exit()
    guests, seconds = (int(word) for word in (sys.argv[1:] + ["20", "120"][len(sys.argv) - 1 :])[:2])
    AsyncHTTPClient.configure(None, max_clients=1000)
    ready, bare = (asyncio.run(one_joins(number)) for number in (2, 0))
    print(f"one joins: live after {ready:.1f} s with kernels that wait, {bare:.1f} s without")
    asyncio.run(hall(guests, seconds))
