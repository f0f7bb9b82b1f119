"""How tests wait: for a state and not for a time, and as long as a loaded machine may need."""

import random
import socket
import time

PATIENCE_S = 120.0
"""A wait ends as soon as its state is there; this only says how late a failure is told."""
PORTS = range(20_000, 32_000)
"""Below those that a system gives away by itself, so nobody takes one between our look and its use."""
_CHOICE = random.SystemRandom()  # hypothesis seeds the usual one, and two workers would then choose alike


def wait_for(true, why="it is still not so", rest=lambda: time.sleep(0.05)):
    """Wait until `true()` is, and return what it gave; `why` may be a function that tells how things stand."""
    end = time.monotonic() + PATIENCE_S
    while not (found := true()):
        assert time.monotonic() < end, f"{why() if callable(why) else why}, after {PATIENCE_S:.0f} s"
        rest()
    return found


def listens(port):
    """Whether a server does, on this machine."""
    with socket.socket() as probe:
        return not probe.connect_ex(("127.0.0.1", port))


def free_port():
    """A port of this machine that nobody listens on."""
    return next(port for port in iter(lambda: _CHOICE.choice(PORTS), None) if not listens(port))
