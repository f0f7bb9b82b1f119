"""Wheels for other machines than this one: for each platform and Python, all that the workbook needs there."""

from __future__ import annotations

import io
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Iterable, Mapping
from email.parser import HeaderParser
from importlib.metadata import distribution
from pathlib import Path
from types import MappingProxyType

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from expocalc.base.wholefile import write_file

__all__ = ["PLATFORMS", "PYTHONS", "fetch", "own_wheel"]

PYTHONS = ("3.11", "3.12", "3.13", "3.14")
_GLIBC = (*(f"manylinux_2_{minor}_x86_64" for minor in (28, 27, 26, 24, 17)), "manylinux2014_x86_64")
PLATFORMS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "linux": _GLIBC,
        "windows": ("win_amd64",),
        "mac": ("macosx_14_0_arm64", "macosx_12_0_universal2"),
        "mac-intel": ("macosx_14_0_x86_64", "macosx_12_0_universal2"),
    }
)
"""What pip calls the machines: 64-bit, and not older than about 2020."""
_MARKERS = {
    "linux": {"sys_platform": "linux", "platform_system": "Linux", "os_name": "posix", "platform_machine": "x86_64"},
    "windows": {"sys_platform": "win32", "platform_system": "Windows", "os_name": "nt", "platform_machine": "AMD64"},
    "mac": {"sys_platform": "darwin", "platform_system": "Darwin", "os_name": "posix", "platform_machine": "arm64"},
}
_MARKERS["mac-intel"] = _MARKERS["mac"] | {"platform_machine": "x86_64"}
_ROUNDS = 6


def own_wheel(folder: Path) -> Path:
    """Lay the workbook's own wheel in a folder: built from a clone, else packed again from what was installed.

    Parameters
    ----------
    folder : pathlib.Path

    Raises
    ------
    OSError
        If it can't be built or written.
    """
    clone = Path(__file__).resolve().parents[2]
    if (clone / "pyproject.toml").is_file():
        _pip("wheel", "--no-deps", "--wheel-dir", str(folder), str(clone))
        return next(folder.glob("expocalc-*.whl"))
    ours = distribution("expocalc")
    path = folder / f"expocalc-{ours.version}-py3-none-any.whl"
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in ours.files or ():
            if (
                ".." not in file.parts
                and file.suffix != ".pyc"
                and file.name not in ("INSTALLER", "REQUESTED", "direct_url.json")
            ):
                archive.write(file.locate(), file.as_posix())
    write_file(path, packed.getvalue())
    return path


def fetch(wheels: Path, ours: Path, platform: str, python: str) -> str:
    """Fetch into a folder what the workbook needs on one kind of machine.

    Parameters
    ----------
    wheels : pathlib.Path
        Where they lie, with those of other machines.
    ours : pathlib.Path
        The workbook's own wheel.
    platform : str
        One of `PLATFORMS`.
    python : str
        Such as "3.12".

    Returns
    -------
    str
        One sentence where wheels are missing, and then nothing is left behind; else nothing.

    Notes
    -----
    pip asks the conditions in a package's needs ("only on Windows") of the machine it runs on. So each round looks
    into what has come, asks them of the machine that is meant, and fetches what is still missing.
    """
    wanted = set(_needs(ours, platform, python))
    with tempfile.TemporaryDirectory() as place:
        for _ in range(_ROUNDS):
            try:
                _download(Path(place), wanted, platform, python)
            except OSError as error:
                return f"{platform}, Python {python}: left out, since {error}."
            come = {canonicalize_name(path.name.split("-")[0]) for path in Path(place).glob("*.whl")}
            missing = {
                need
                for path in Path(place).glob("*.whl")
                for need in _needs(path, platform, python)
                if canonicalize_name(Requirement(need).name) not in come
            }
            if not missing:
                break
            wanted |= missing
        for path in Path(place).glob("*.whl"):
            write_file(wheels / path.name, path.read_bytes())
    return ""


def _download(place: Path, wanted: Iterable[str], platform: str, python: str) -> None:
    machine = [word for tag in PLATFORMS[platform] for word in ("--platform", tag)]
    _pip(
        "download", "--only-binary=:all:", "--implementation", "cp", "--python-version", python, *machine,
        "--dest", str(place), *sorted(wanted),
    )  # fmt: skip


def _needs(wheel: Path, platform: str, python: str) -> list[str]:
    """What a wheel needs on a machine, without the conditions."""
    with zipfile.ZipFile(wheel) as archive:
        name = next(name for name in archive.namelist() if name.endswith(".dist-info/METADATA"))
        lines = HeaderParser().parsestr(archive.read(name).decode()).get_all("Requires-Dist", [])
    machine = _MARKERS[platform] | {
        "python_version": python, "python_full_version": f"{python}.0", "implementation_name": "cpython",
        "platform_python_implementation": "CPython", "extra": "",
    }  # fmt: skip
    needs = []
    for line in lines:
        need = Requirement(line)
        if need.marker is None or need.marker.evaluate(machine):
            need.marker = None
            needs.append(str(need))
    return needs


def _pip(*words: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet", *words],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode:
        lines = [line for line in done.stderr.splitlines() if line.startswith("ERROR")] or ["pip gave no reason"]
        msg = lines[-1].removeprefix("ERROR: ")[:200]
        raise OSError(msg)
