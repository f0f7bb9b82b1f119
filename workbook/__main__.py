"""Start JupyterLab on the reader's copies of the notebooks: ``python -m workbook``."""

from __future__ import annotations

import argparse
import json
import logging
import os
import secrets
import signal
import sys
import tempfile
from pathlib import Path
from typing import Any

from workbook.copies import laid_names, lay, shipped, shipped_files

LAB = Path(__file__).resolve().parent / "lab"


def main(argv: list[str] | None = None) -> int:
    """Lay the copies and serve them until Ctrl-C.

    Parameters
    ----------
    argv : list of str, optional
        The command line's words; its own by default.

    Returns
    -------
    int
        Exit code: 0 after Ctrl-C, 2 if the folder can't be used.
    """
    words = sys.argv[1:] if argv is None else argv
    if words[:1] in (["hall"], ["pages"], ["stick"]):
        from workbook.hall.command import main as other

        return other(words)
    try:
        return _run(_parser().parse_args(words))
    except KeyboardInterrupt:
        return 0  # Ctrl-C before the server listens


def _run(asked: argparse.Namespace) -> int:
    try:
        source = shipped()
        folder = source if asked.in_place else asked.folder.expanduser().resolve()
    except (OSError, RuntimeError) as error:  # no such user, or links in a circle
        return _refuse(f"{asked.folder} can't be a folder ({error}); name one that you may write in")
    if folder == source and not asked.in_place:
        return _refuse(f"{folder} holds the originals; name another folder, or open them with --in-place")
    try:
        news = [] if asked.in_place else lay(source, folder)
    except OSError as error:
        return _refuse(f"can't lay the notebooks in {folder} ({error.strerror}); name a folder that you may write in")
    news.append(f"Your notebooks are in {folder}. Ctrl-C in this window ends the workbook.")
    print(*news, sep="\n", flush=True)
    with tempfile.TemporaryDirectory(prefix="workbook-") as place:
        served = Path(place) / "served"
        served.mkdir()
        find_home(Path(place) / "home")
        serve(source, folder, served, port=asked.port, open_browser=not asked.no_browser)
    return 0


def _refuse(sentence: str) -> int:
    print(f"workbook: {sentence}", file=sys.stderr)
    return 2


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="workbook", description="Open the workbook in JupyterLab.")
    parser.add_argument(
        "folder",
        nargs="?",
        type=Path,
        default=Path("expocalc-workbook"),
        help="where your copies of the notebooks and plans lie (default: %(default)s)",
    )
    parser.add_argument("--no-browser", action="store_true", help="print the address, open no browser")
    parser.add_argument("--port", type=_port, default=8888, help="first port to try (default: %(default)s)")
    parser.add_argument("--in-place", action="store_true", help="open the originals, for contributors")
    return parser


def _port(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        msg = f"must be a whole number from 1 to 65535, got {text!r}"
        raise argparse.ArgumentTypeError(msg)
    return int(text)


def find_home(spare: Path) -> None:
    """Let Jupyter keep its own files in a spare folder, where the home can't be written.

    Parameters
    ----------
    spare : Path
        Not where anything is served from: a server's token is among those files.
    """
    from jupyter_core import paths

    places = {
        "JUPYTER_CONFIG_DIR": paths.jupyter_config_dir,
        "JUPYTER_DATA_DIR": paths.jupyter_data_dir,
        "JUPYTER_RUNTIME_DIR": paths.jupyter_runtime_dir,
        "IPYTHONDIR": lambda: os.environ.get("IPYTHONDIR") or str(Path.home() / ".ipython"),
    }
    for name, where in places.items():
        try:
            folder = Path(where())
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            with tempfile.TemporaryFile(dir=folder):
                continue
        except (OSError, RuntimeError):
            own = spare / name.lower()
            own.mkdir(parents=True, mode=0o700)
            os.environ[name] = str(own)


KERNEL = "python3"
"""Name of our kernel, so that a notebook also opens where there is no other."""


def write_known(source: Path, served: Path, folder: Path, kernel: str) -> None:
    """Write ``known.json``: the code, notebooks and kernel that are ours, and so all that runs without a click.

    Parameters
    ----------
    source : Path
        Where the shipped notebooks lie.
    served : Path
        Where the file goes.
    folder : Path
        The reader's.
    kernel : str
        Name of the kernel that is ours; "" where another one has its place, and then nothing runs by itself.
    """
    notebooks = [relative for relative in shipped_files(source) if relative.suffix == ".ipynb"]
    code = {
        "".join(cell["source"])
        for relative in notebooks
        for cell in json.loads((source / relative).read_bytes())["cells"]
        if cell["cell_type"] == "code"
    }
    names = {relative.as_posix() for relative in notebooks} | set(laid_names(folder))
    known = {"kernel": kernel, "notebooks": sorted(names), "code": sorted(code)}
    (served / "known.json").write_text(json.dumps(known), encoding="utf-8")


def our_kernel(specs: Any) -> str:
    """Name of our kernel, if the server would start ours under it.

    Parameters
    ----------
    specs : jupyter_client.kernelspec.KernelSpecManager
    """
    try:
        found = Path(specs.get_kernel_spec(KERNEL).resource_dir).resolve()
    except (KeyError, OSError, ValueError):  # no kernel of that name, or a spec that can't be read
        return ""
    return KERNEL if found == LAB / "kernels" / KERNEL else ""


def serve(source: Path, folder: Path, served: Path, *, port: int, open_browser: bool) -> None:
    """Run JupyterLab on 127.0.0.1 until it is told to stop.

    Parameters
    ----------
    source : Path
        Where the shipped notebooks lie.
    folder : Path
        What it shows.
    served : Path
        Folder whose files the browser may fetch, beside the plot library's.
    port : int
        First port to try; a taken one makes way for the next.
    open_browser : bool
        Whether to open the start notebook in the reader's browser.
    """
    from bokeh.util.paths import bokehjs_path  # heavy, and only needed from here on
    from jupyterlab.labapp import LabApp

    os.environ["WORKBOOK_BOKEH"] = "1"  # the notebooks then don't bring the plot library along
    # Our extension, and a kernel that runs this very Python and imports nothing from a notebook's folder.
    os.environ["JUPYTER_PATH"] = os.pathsep.join(filter(None, [str(LAB), os.environ.get("JUPYTER_PATH")]))
    server = LabApp.initialize_server(
        [
            "--ServerApp.ip=127.0.0.1",
            f"--ServerApp.port={port}",
            f"--ServerApp.root_dir={folder}",
            f"--ServerApp.open_browser={open_browser}",
            "--ServerApp.allow_root=True",
            "--ServerApp.log_level=ERROR",  # what it warns of, a reader can do nothing about
            "--LabApp.log_level=ERROR",
            f"--ServerApp.extra_static_paths={bokehjs_path()}",
            f"--ServerApp.extra_static_paths={served}",
            # It is for an older server's settings, and warns of its own way of looking for them.
            "--ServerApp.jpserver_extensions=notebook_shim=False",
            "--LabApp.default_url=/doc/tree/start.ipynb",
            f"--LabApp.app_settings_dir={LAB / 'settings'}",
            "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
            "--ContentsManager.pre_save_hook=workbook.lab.save.strip_live",
            "--ServerApp.kernel_websocket_connection_class=workbook.lab.wire.PromptConnection",
        ]
    )
    # A page that is closed in the midst of a message is no error.
    logging.getLogger("asyncio").addFilter(lambda record: "WebSocketClosedError" not in record.getMessage())
    need_token(server.identity_provider)
    kernel = our_kernel(server.kernel_spec_manager)
    if not kernel:
        print("Another kernel stands in the place of ours, so no cell runs by itself: run them by hand.", flush=True)
    write_known(source, served, folder, kernel)
    # Ctrl-C, and closing the window, end the kernels too; by itself the server does so in a terminal only.
    for name in ("SIGINT", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda *_: server.stop(from_signal=True))
    # It puts off listening until its loop runs, and prints its address and opens the browser there before.
    server.io_loop.add_callback(server.io_loop.stop)
    server.io_loop.start()
    server.start()


def need_token(identity: Any) -> None:
    """Ask for a token even where the user's own settings for Jupyter want none: others use this machine too.

    Parameters
    ----------
    identity : jupyter_server.auth.IdentityProvider
        Of a server that doesn't listen yet.
    """
    if not identity.auth_enabled:
        identity.token = secrets.token_hex(24)
        identity.token_generated = True


if __name__ == "__main__":
    sys.exit(main())
