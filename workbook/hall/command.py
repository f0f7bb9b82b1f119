"""``python -m workbook hall``, ``pages`` and ``stick``: what can be asked for on the command line."""

from __future__ import annotations

import argparse
import errno
import ipaddress
import socket
import sys
import threading
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING

import psutil

if TYPE_CHECKING:
    from workbook.hall.serve import Hall

__all__ = ["addresses", "main"]

FOLDER = Path("expocalc-evening")
LOOPBACK = "127.0.0.1"


def main(argv: list[str]) -> int:
    """Serve pages until Ctrl-C.

    Parameters
    ----------
    argv : list of str
        "hall", "pages" or "stick", and the words after it.

    Returns
    -------
    int
        Exit code: 0 after Ctrl-C, 2 with one sentence if it can't be done.
    """
    if argv[0] == "stick":
        from workbook.hall.stick import main as fill_stick

        return fill_stick(argv)
    asked = _parser(argv[0]).parse_args(argv[1:])
    try:
        return _hall(asked) if argv[0] == "hall" else _pages(asked)
    except KeyboardInterrupt:
        return 0
    except OSError as error:
        if error.errno in (errno.EADDRINUSE, errno.EADDRNOTAVAIL, errno.EACCES):
            return _refuse(_address_trouble(error, asked))
        return _refuse(f"can't use {asked.folder} ({error.strerror}); name a folder that you may write in")
    except ValueError as error:
        return _refuse(str(error))


def _refuse(sentence: str) -> int:
    print(f"workbook: {sentence}", file=sys.stderr)
    return 2


def _address_trouble(error: OSError, asked: argparse.Namespace) -> str:
    if error.errno == errno.EADDRINUSE:
        return f"port {asked.port} is in use, perhaps by a hall that runs; end that, or try --port {asked.port + 1}"
    if error.errno == errno.EACCES:
        return f"port {asked.port} may not be used here; take one from 1024 up, for example --port 8800"
    return (
        f"this laptop has no address {asked.address}; it has {', '.join(addresses()) or 'none but its own, 127.0.0.1'}"
    )


def addresses() -> list[str]:
    """Addresses of this laptop that guests could reach, those of private networks first.

    Returns
    -------
    list of str
        Of cards that are up; empty without any.
    """
    up = {name for name, card in psutil.net_if_stats().items() if card.isup}
    found = [
        one.address
        for name, cards in psutil.net_if_addrs().items()
        if name in up
        for one in cards
        if one.family == socket.AF_INET and not ipaddress.ip_address(one.address).is_loopback
    ]
    return sorted(
        found, key=lambda one: (not ipaddress.ip_address(one).is_private, ipaddress.ip_address(one).is_link_local)
    )


def _parser(name: str) -> argparse.ArgumentParser:
    from workbook.__main__ import _port

    what = {
        "hall": "Serve the lessons to a hall: guests come in with a code, in their own browsers.",
        "pages": "Show the notebooks as quiet pages on this machine.",
    }[name]
    default = FOLDER if name == "hall" else Path("expocalc-workbook")
    parser = argparse.ArgumentParser(prog=f"workbook {name}", description=what)
    parser.add_argument(
        "folder", nargs="?", type=Path, default=default, help="where everything is kept (default: %(default)s)"
    )
    parser.add_argument("--port", type=_port, default=8800, help="port to listen on (default: %(default)s)")
    parser.add_argument("--no-browser", action="store_true", help="print the address, open no browser")
    if name == "hall":
        parser.add_argument(
            "--address", help="this laptop's address on the guests' network; without it the first that is found"
        )
        parser.add_argument(
            "--guests", type=_guests, default=40, help="most guests that may come (default: %(default)s)"
        )
        parser.add_argument(
            "--ready",
            type=_guests,
            help="kernels started ahead; without it as many as guests may come, memory allowing",
        )
    return parser


def _guests(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 500:
        msg = f"must be a whole number from 1 to 500, got {text!r}"
        raise argparse.ArgumentTypeError(msg)
    return int(text)


def _hall(asked: argparse.Namespace) -> int:
    found = addresses()
    address = asked.address or (found[0] if found else None)
    if address is None:
        return _refuse(
            "this laptop is in no network; switch its hotspot on or join the club's Wi-Fi, "
            "or try it alone with --address 127.0.0.1"
        )
    _must_be_free(address, asked.port)
    from workbook.hall.evening import Evening
    from workbook.hall.kernels import Limits
    from workbook.hall.serve import Hall

    evening = Evening.at(asked.folder.expanduser().resolve(), most=asked.guests)
    evening.claim()
    limits = Limits(ready=asked.ready or asked.guests, kernels=asked.guests)
    hall = Hall.make(evening, limits, address=address, port=asked.port)
    base = f"http://{address}:{asked.port}"
    others = [one for one in found if one != address]
    said = [
        f"The hall is open at {base} and only there"
        + (f" (this laptop also has {', '.join(others)}: --address picks another)." if others else "."),
        "Everybody on that network can reach the door; only those with the code come in. The line is not encrypted.",
        f"Guests' code: {evening.code}",
        f"Your page: {base}/leader   your code: {evening.leader}",
        f"Guests' folders: {evening.home / 'guests'}. Ctrl-C in this window ends the evening; everything is kept.",
    ]
    return _serve(hall, said, f"{base}/leader", asked.no_browser)


def _pages(asked: argparse.Namespace) -> int:
    from workbook.copies import lay, shipped
    from workbook.hall.evening import Evening
    from workbook.hall.kernels import Limits
    from workbook.hall.serve import Hall

    folder = asked.folder.expanduser().resolve()
    if folder == shipped():
        return _refuse(f"{folder} holds the originals; name another folder")
    port = asked.port
    while not _is_free(LOOPBACK, port) and port < asked.port + 50:
        port += 1
    _must_be_free(LOOPBACK, port)
    news = lay(shipped(), folder)
    evening = Evening(home=folder)
    hall = Hall.make(evening, Limits(ready=1, kernels=8, idle_s=8 * 3600.0), address=LOOPBACK, port=port, alone=folder)
    address = f"http://{LOOPBACK}:{port}/?token={evening.leader}"
    said = [*news, f"Your pages: {address}", "Ctrl-C in this window ends them."]
    return _serve(hall, said, address, asked.no_browser)


def _serve(hall: Hall, said: list[str], address: str, no_browser: bool) -> int:
    def open_doors() -> None:
        print(*said, sep="\n", flush=True)
        if not no_browser:
            threading.Thread(target=webbrowser.open, args=[address], daemon=True).start()

    hall.open_doors = open_doors
    hall.start()
    return 0


def _is_free(address: str, port: int) -> bool:
    try:
        _must_be_free(address, port)
    except OSError:
        return False
    return True


def _must_be_free(address: str, port: int) -> None:
    with socket.socket() as probe:
        if sys.platform != "win32":  # there it would mean that two may share a port
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind((address, port))
