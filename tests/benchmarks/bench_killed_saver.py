"""Kill each saver 300 times: its file is whole after each, and no draft is left in the end. Run by hand.

Two programs save into the same folder all the time; one of them is killed at a moment that differs from kill to kill.
``python tests/benchmarks/bench_killed_saver.py [kills] [saver ...]``
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import textwrap
import time
from collections.abc import Callable
from pathlib import Path

from expocalc.frames.tell.ledger import read_ledger
from expocalc.plan import Plan
from workbook.copies import shipped

KILLS = 300
ALONE = ("laid notebooks",)
"""What no two programs write at once."""
SIZE = 3_000_000
HOST = """
import itertools, os, sys
from pathlib import Path
folder, size = Path(sys.argv[1]), int(sys.argv[2])
{begin}
print("ready", flush=True)
for _ in sys.stdin:  # for each line a saver
    saver = os.fork()
    if not saver:
        for number in itertools.count():
{step}
    print(saver, flush=True)
    ended = os.waitpid(saver, 0)[1]
    print(os.waitstatus_to_exitcode(ended), flush=True)
"""


def same_sign(folder: Path) -> bool:
    """One sign all through, and the whole size."""
    data = (folder / "file").read_bytes()
    return len(data) == SIZE and len(set(data)) == 1


def plan_reads(folder: Path) -> bool:
    """The plan reads, and says one of the two goals."""
    return Plan.read(folder / "plans" / "mine.toml").case.goal.snr in (10, 20)


def json_reads(*names: str) -> Callable[[Path], bool]:
    """Each of the files is there and is JSON."""
    return lambda folder: all(json.loads((folder / name).read_text()) is not None for name in names)


def ledger_reads(folder: Path) -> bool:
    """No line of the ledger is torn."""
    return not read_ledger(folder / "ledger.ecsv").warnings


def exports_are_whole(folder: Path) -> bool:
    """Every file that has an export's name is whole."""
    return all(path.stat().st_size == SIZE for path in folder.glob("out*.txt"))


SAVERS: dict[str, tuple[str, str, Callable[[Path], bool]]] = {
    "any file": (
        "from expocalc.base.wholefile import write_file",
        "write_file(folder / 'file', bytes([97 + number % 2]) * size)",
        same_sign,
    ),
    "plan": (
        "from workbook.parts.plan_store import PlanStore\nstore = PlanStore(folder, 'plans/mine.toml')",
        "store.note(store.plan.with_values({('goal', 'snr'): (10, 20)[number % 2]}))\nstore.save(prefer='mine')",
        plan_reads,
    ),
    "unsaved changes": (
        "from workbook.parts.plan_store import PlanStore\nstore = PlanStore(folder, 'plans/mine.toml')",
        "store.note(store.plan.with_values({('goal', 'snr'): 11 + number % 9}))\nstore.keep_draft()",
        json_reads("plans/.mine.toml.unsaved"),
    ),
    "plan that is not complete": (
        "from workbook.plan.form_store import FormStore\nstore = FormStore(folder, 'plans/begun.toml')",
        "store.change({('sky', 'bortle'): 1 + number % 9})",
        json_reads("plans/.begun.toml.sketch"),
    ),
    "answers": (
        "from workbook.workshop.keep import Kept\nkept = Kept(folder)",
        "kept.write('guesses', f'{os.getpid()}', str(number))",
        json_reads("my-answers.json"),
    ),
    "units": (
        "from workbook.parts.units import Units, keep_units",
        "keep_units(folder, Units(length=('mm', 'inch')[number % 2]))",
        json_reads(".expocalc-units.json"),
    ),
    "laid notebooks": (
        "from workbook.copies import lay, shipped",
        "(folder / 'mine' / 'start.ipynb').unlink(missing_ok=True)\nlay(shipped(), folder / 'mine')",
        json_reads("mine/.expocalc-workbook.json"),
    ),
    "ledger": (
        "from dataclasses import fields\nfrom expocalc.frames.tell.ledger import Entry, append\n"
        "kinds = {'str': '2026-10-10', 'float': 1.0, 'int': 1, 'bool': True}\n"
        "values = {one.name: kinds[str(one.type)] for one in fields(Entry)}",
        "append(folder / 'ledger.ecsv', [Entry(**{**values, 'file': f'{number % 50}', 'stars': number})])",
        ledger_reads,
    ),
    "export": (
        "from workbook.parts.file_names import write_free",
        "[old.unlink(missing_ok=True) for old in folder.glob('out*.txt')]\n"
        "write_free(folder, 'out', '.txt', 'x' * size)",
        exports_are_whole,
    ),
}


class Host:
    """A program that forks savers."""

    def __init__(self, name: str, folder: Path) -> None:
        begin, step, _ = SAVERS[name]
        code = HOST.format(begin=begin, step=textwrap.indent(step, " " * 12))
        words = [sys.executable, "-c", code, str(folder), str(SIZE)]
        self.process = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        assert self._line() == "ready"

    def _line(self) -> str:
        assert self.process.stdout
        return self.process.stdout.readline().strip()

    def fork(self) -> int:
        """Start a saver."""
        assert self.process.stdin
        print(file=self.process.stdin, flush=True)
        return int(self._line())

    def kill(self, saver: int) -> bool:
        """End a saver as a power cut would; False where it had ended by itself."""
        os.kill(saver, signal.SIGKILL)
        return self._line() == str(-signal.SIGKILL)

    def close(self) -> None:
        """End the program."""
        self.process.communicate(timeout=120)


def wait_until(true: Callable[[], bool]) -> None:
    """Until it is, or for 30 s."""
    end = time.monotonic() + 30
    while not true() and time.monotonic() < end:
        time.sleep(0.05)


def found(whole: Callable[[Path], bool], folder: Path) -> bool:
    """Whether the files are there at all."""
    try:
        return whole(folder)
    except FileNotFoundError:
        return False


def tried(name: str, kills: int) -> str:
    """Kill one saver, look and count."""
    whole = SAVERS[name][2]
    torn = drafts = ended = 0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        shutil.copytree(shipped() / "plans", folder / "plans")
        Plan.read(folder / "plans" / "mono-single-lines.toml").save(folder / "plans" / "mine.toml")
        (folder / "plans" / ".begun.toml.sketch").write_text('{"sections": {}, "gone": []}')
        hosts = [Host(name, folder) for _ in range(1 if name in ALONE else 2)]
        others = [(host, host.fork()) for host in hosts[1:]]
        for number in range(kills + 1):
            victim = hosts[0].fork()
            if number:
                time.sleep(0.005 + 0.0007 * (number % 60))
            else:  # the first one makes the files
                wait_until(lambda: found(whole, folder))
            ended += not hosts[0].kill(victim)
            if number:
                drafts += any(f".{victim}." in path.name for path in folder.rglob(".*.draft"))
                torn += not whole(folder)
        ended += sum(not host.kill(other) for host, other in others)
        last = hosts[0].fork()

        def left() -> list[str]:
            return [path.name for path in folder.rglob(".*.draft") if f".{last}." not in path.name]

        wait_until(lambda: not left())
        dead = left()
        ended += not hosts[0].kill(last)
        for host in hosts:
            host.close()
    fault = f"; {ended} SAVERS ENDED BY THEMSELVES" if ended else ""
    return (
        f"{name}: {kills} kills, {torn} torn files, {drafts} drafts seen after a kill, left in the end: {dead}{fault}"
    )


def main() -> None:
    """Each saver that is asked for."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else KILLS
    for name in sys.argv[2:] or SAVERS:
        print(tried(name, kills), flush=True)


if __name__ == "__main__":
    main()
