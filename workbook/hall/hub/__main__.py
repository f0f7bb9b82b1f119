"""What a hub starts for one guest: ``python -m workbook.hall.hub serve FOLDER``, after ``lay FOLDER``.

The hub's own single-user server signs the guest in and ends it when it rests. Here the walls around a guest are the
container's, so that the server may be Jupyter's own, with the pages of Voilà as what opens.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from workbook.copies import lay, shipped

__all__ = ["SHARE", "main", "places", "settings"]

SHARE = Path(__file__).parent / "share"
"""Where Voilà finds the template of a hub's pages, and what they leave out."""


def settings(folder: Path) -> list[str]:
    """Words for jupyterhub's single-user server.

    Parameters
    ----------
    folder : pathlib.Path
        Where the guest's copies lie.
    """
    return [
        f"--ServerApp.root_dir={folder}",
        "--ServerApp.jpserver_extensions=voila.server_extension=True",
        "--ServerApp.terminals_enabled=False",
        "--ServerApp.log_level=WARN",
        "--VoilaConfiguration.template=hall",
        "--VoilaConfiguration.show_margins=False",
        "--MappingKernelManager.cull_idle_timeout=1800",
        "--MappingKernelManager.cull_interval=60",
    ]


def places() -> dict[str, str]:
    """Environment of a guest's server: where it looks for what is ours, before it looks elsewhere."""
    names = ("JUPYTER_PATH", "JUPYTER_CONFIG_PATH")
    return {name: os.pathsep.join(filter(None, (str(SHARE), os.environ.get(name)))) for name in names}


def main(argv: list[str] | None = None) -> int:
    """Lay a guest's copies, or serve them until the hub ends it.

    Parameters
    ----------
    argv : list of str, optional
        The command line's words; its own by default.

    Returns
    -------
    int
        Exit code.
    """
    parser = argparse.ArgumentParser(prog="python -m workbook.hall.hub", description="One guest's server, for a hub.")
    parser.add_argument("wanted", choices=("lay", "serve"))
    parser.add_argument("folder", type=Path)
    asked, hubs = parser.parse_known_args(argv)
    folder = asked.folder.expanduser().resolve()
    if asked.wanted == "lay" or not (folder / "start.ipynb").is_file():
        lay(shipped(), folder)
    if asked.wanted == "lay":
        return 0
    sys.argv = ["jupyterhub-singleuser", *settings(folder), *hubs]
    os.environ["JUPYTERHUB_SINGLEUSER_EXTENSION"] = "1"
    os.environ |= places()
    from jupyterhub.singleuser import main as serve

    serve()
    return 0


if __name__ == "__main__":
    sys.exit(main())
