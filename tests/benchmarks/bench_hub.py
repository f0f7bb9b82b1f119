"""A dry run of the hub on this machine: ``python tests/benchmarks/bench_hub.py [ACCOUNTS]``.

jupyterhub with the simple spawner and accounts that any name opens, one server a guest, the start page as a page.
It wants jupyterhub, and configurable-http-proxy on the path. Told are the time until the last guest's page is there
and the memory that a guest takes, which the sums in the guide go by.
"""

import asyncio
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from http.cookies import SimpleCookie
from pathlib import Path

import psutil
from tornado.httpclient import AsyncHTTPClient, HTTPClientError

CONFIG = """
c.JupyterHub.bind_url = "http://127.0.0.1:{port}"
c.JupyterHub.hub_port = {hub}
c.ConfigurableHTTPProxy.api_url = "http://127.0.0.1:{api}"
c.JupyterHub.authenticator_class = "dummy"
c.Authenticator.allow_all = True
c.JupyterHub.spawner_class = "simple"
c.JupyterHub.concurrent_spawn_limit = 4
c.Spawner.default_url = "/voila/render/start.ipynb"
c.Spawner.cmd = [{python!r}, "-m", "workbook.hall.hub", "serve", "./workbook"]
c.Spawner.http_timeout = c.Spawner.start_timeout = 300
c.Spawner.args = ["--ServerApp.allow_root=True"]
c.SimpleLocalProcessSpawner.home_dir_template = {homes!r} + "/{{username}}"
c.JupyterHub.log_level = "WARN"
"""


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Guest:
    """A browser without a screen: cookies, and redirects that are followed with them."""

    def __init__(self, base, name):
        self.base, self.name, self.cookies, self.http = base, name, {}, AsyncHTTPClient()

    async def ask(self, address, **how):
        """Answer at an address, once all redirects are followed."""
        for _ in range(20):
            headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
            try:
                answer = await self.http.fetch(
                    address, headers=headers, follow_redirects=False, request_timeout=300, **how
                )
            except ConnectionRefusedError:
                await asyncio.sleep(3)  # the hub does not listen yet
                continue
            except HTTPClientError as error:
                if error.response is None:
                    raise
                answer = error.response
            for line in answer.headers.get_list("Set-Cookie"):
                for name, morsel in SimpleCookie(line).items():
                    self.cookies[name] = morsel.value
            if "Location" not in answer.headers:
                return answer
            address, how = self.base + answer.headers["Location"].removeprefix(self.base), {}
        raise RuntimeError(address)

    async def come(self):
        """From the door to the start page; returns the seconds it took."""
        begin = time.perf_counter()
        while (await self.ask(f"{self.base}/hub/login")).code == 404:
            await asyncio.sleep(1)  # the proxy listens, and does not know the hub yet
            begin = time.perf_counter()
        body = f"username={self.name}&password=x&_xsrf={self.cookies.get('_xsrf', '')}"
        await self.ask(f"{self.base}/hub/login?next=", method="POST", body=body)
        page = f"{self.base}/user/{self.name}/voila/render/start.ipynb"
        while time.perf_counter() - begin < 600:
            answer = await self.ask(page)
            if answer.code == 200 and b"Which question do you have?" in answer.body:
                return time.perf_counter() - begin
            await asyncio.sleep(2)
            if answer.code == 424:  # no server yet: too many were starting, so the hub wants to be asked again
                await self.ask(f"{self.base}/hub/spawn/{self.name}")
        msg = f"{self.name}: {answer.code} {answer.body[:300]}"
        raise RuntimeError(msg)


def megabytes(process):
    """Memory of a process, what it shares with others divided among them. [MB]"""
    return process.memory_full_info().pss / 2**20


async def run(accounts):
    """Bring a hub up, let all come at once, and tell what it took."""
    with tempfile.TemporaryDirectory() as place:
        homes = Path(place) / "homes"
        port = free_port()
        config = Path(place) / "config.py"
        ports = {"port": port, "hub": free_port(), "api": free_port()}
        config.write_text(CONFIG.format(python=sys.executable, homes=str(homes), **ports))
        hub = subprocess.Popen(
            [sys.executable, "-m", "jupyterhub", "-f", str(config)], cwd=place,
            env=os.environ | {"PYTHONWARNINGS": "ignore"},
        )  # fmt: skip
        try:
            guests = [Guest(f"http://127.0.0.1:{port}", f"guest{number}") for number in range(accounts)]
            took = await asyncio.gather(*(guest.come() for guest in guests))
            family = psutil.Process(hub.pid).children(recursive=True)
            names = [(one, " ".join(one.cmdline())) for one in family]
            servers = [megabytes(one) for one, words in names if "workbook.hall.hub" in words]
            kernels = [megabytes(one) for one, words in names if "ipykernel" in words or "guest_kernel" in words]
            middle, last = statistics.median(took), max(took)
            print(f"{accounts} accounts at once: page after {middle:.0f} s (median), {last:.0f} s (last)")
            print(f"{len(servers)} servers of {statistics.median(servers):.0f} MB each (median)")
            print(f"{len(kernels)} kernels of {statistics.median(kernels):.0f} MB each; load {os.getloadavg()[0]:.1f}")
        finally:
            hub.terminate()
            try:
                hub.wait(60)
            except subprocess.TimeoutExpired:
                hub.kill()


if __name__ == "__main__":
    asyncio.run(run(int(sys.argv[1]) if len(sys.argv) > 1 else 20))
