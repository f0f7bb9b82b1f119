"""Kill a saver 300 times: the file is whole after each, and no draft is left in the end. Run by hand.

Two savers write the same file all the time; one of them is killed at a moment that differs from kill to kill.
"""

from __future__ import annotations

import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from expocalc.base.wholefile import write_file

KILLS = 300
SIZE = 3_000_000
SAVER = """
import sys
from expocalc.base.wholefile import write_file
print("ready", flush=True)
while True:
    for sign in b"ab":
        write_file(sys.argv[1], bytes([sign]) * int(sys.argv[2]))
"""


def saver(path: Path) -> subprocess.Popen[bytes]:
    """Start one that saves until it is killed."""
    started = subprocess.Popen([sys.executable, "-c", SAVER, str(path), str(SIZE)], stdout=subprocess.PIPE)
    assert started.stdout
    started.stdout.readline()
    return started


def kill(process: subprocess.Popen[bytes]) -> None:
    """End it as a power cut would."""
    process.send_signal(signal.SIGKILL)
    process.wait()
    if process.stdout:
        process.stdout.close()


def main() -> None:
    """Kill, look and count."""
    torn = drafts = 0
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "plan"
        write_file(path, b"a" * SIZE)
        steady = saver(path)
        for number in range(KILLS):
            victim = saver(path)
            time.sleep(0.0005 * (number % 40))
            kill(victim)
            drafts += any(f".{victim.pid}." in one.name for one in Path(name).iterdir())
            data = path.read_bytes()
            torn += len(data) != SIZE or len(set(data)) != 1
        kill(steady)
        write_file(path, b"end")
        left = [one.name for one in Path(name).iterdir()]
    print(f"{KILLS} kills: {torn} torn files, {drafts} drafts seen after a kill, left in the end: {left}")


if __name__ == "__main__":
    main()
