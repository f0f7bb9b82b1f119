"""Start JupyterLab on the reader's copies of the notebooks: ``python -m workbook``."""

from __future__ import annotations

import argparse
import json
import os
import signal
import sys
import tempfile
from pathlib import Path

from workbook.copies import lay, shipped, shipped_files

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
    source = shipped()
    folder = source if asked.in_place else asked.folder.expanduser().resolve()
    if folder == source and not asked.in_place:
        return _refuse(f"{folder} holds the originals; name another folder, or open them with --in-place")
    try:
        news = [] if asked.in_place else lay(source, folder)
    except OSError as error:
        return _refuse(f"can't lay the notebooks in {folder} ({error.strerror}); name a folder that you may write in")
    news.append(f"Your notebooks are in {folder}. Ctrl-C in this window ends the workbook.")
    print(*news, sep="\n", flush=True)
    with tempfile.TemporaryDirectory(prefix="workbook-") as served:
        write_known(source, Path(served))
        serve(folder, Path(served), port=asked.port, open_browser=not asked.no_browser)
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


def write_known(source: Path, served: Path) -> None:
    """Write ``known.json``: the code that we ship, and so all that the browser may run without a click."""
    code = {
        "".join(cell["source"])
        for relative in shipped_files(source)
        if relative.suffix == ".ipynb"
        for cell in json.loads((source / relative).read_bytes())["cells"]
        if cell["cell_type"] == "code"
    }
    (served / "known.json").write_text(json.dumps(sorted(code)), encoding="utf-8")


def serve(folder: Path, served: Path, *, port: int, open_browser: bool) -> None:
    """Run JupyterLab on 127.0.0.1 until it is told to stop.

    Parameters
    ----------
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
            "--ServerApp.log_level=WARN",
            "--LabApp.log_level=WARN",
            f"--ServerApp.extra_static_paths={bokehjs_path()}",
            f"--ServerApp.extra_static_paths={served}",
            "--LabApp.default_url=/doc/tree/start.ipynb",
            f"--LabApp.app_settings_dir={LAB / 'settings'}",
            "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
            "--ContentsManager.pre_save_hook=workbook.lab.save.strip_live",
            "--ServerApp.kernel_websocket_connection_class=workbook.lab.wire.PromptConnection",
        ]
    )
    # Ctrl-C, and closing the window, end the kernels too; by itself the server does so in a terminal only.
    for name in ("SIGINT", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda *_: server.stop(from_signal=True))
    server.start()


if __name__ == "__main__":
    sys.exit(main())
