"""The stick: wheels for the machines that are meant, pages without Python, an installation without an index."""

import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from workbook.__main__ import main
from workbook.hall.evening import LESSONS, PANELS, START
from workbook.hall.static import lay_pages
from workbook.hall.stick import fill, this_machine
from workbook.hall.wheels import PLATFORMS, PYTHONS, _needs


def wheel_that_needs(folder, *lines):
    path = folder / "thing-1.0-py3-none-any.whl"
    text = "Metadata-Version: 2.1\nName: thing\nVersion: 1.0\n" + "".join(f"Requires-Dist: {line}\n" for line in lines)
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("thing-1.0.dist-info/METADATA", text)
    return path


@pytest.mark.parametrize(
    ("platform", "python", "wanted"),
    [
        ("windows", "3.11", {"always>=1", "winonly"}),
        ("linux", "3.11", {"always>=1", "unix"}),
        ("mac", "3.12", {"always>=1", "unix", "maconly", "new"}),
        ("mac-intel", "3.14", {"always>=1", "unix", "maconly", "new"}),
    ],
)
def test_conditions_are_asked_of_the_machine_that_is_meant(tmp_path, platform, python, wanted):
    wheel = wheel_that_needs(
        tmp_path, "always>=1", "winonly; sys_platform == 'win32'", "unix; os_name == 'posix'",
        "maconly; platform_system == 'Darwin'", "new; python_version >= '3.12'", "never; extra == 'test'",
    )  # fmt: skip
    assert set(_needs(wheel, platform, python)) == wanted


def test_pages_are_read_without_python_and_without_a_network(tmp_path):
    names = [START, *LESSONS, *PANELS]
    pages = lay_pages(tmp_path, names)
    assert len(pages) == len(names)
    for page in pages:
        text = page.read_text(encoding="utf-8")
        assert not re.search(r"""(?:src|href)\s*=\s*["'](?:https?:)?//""", text), f"{page.name} asks a network"
        assert "import " not in re.sub(r"<script.*?</script>", "", text, flags=re.S), f"{page.name} shows code"
        for target in re.findall(r'href="([^"#]+)"', text):
            assert (tmp_path / target).is_file(), f"{page.name} leads to {target}, which is not there"
    hours = (tmp_path / "3-hours.html").read_text(encoding="utf-8")
    told = re.sub(r"<details>.*?</details>", "", hours, flags=re.S)
    assert "times 1.41, not times 2" in hours
    assert "times 1.41, not times 2" not in told, "the answer stands under the guess"
    assert "You double the hours" in told
    assert "Not ready yet" not in (tmp_path / "0-check-in.html").read_text(encoding="utf-8")
    assert "<img" in (tmp_path / "1-photons.html").read_text(encoding="utf-8")


def test_a_stick_that_cannot_be_written_is_named_in_a_sentence(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("workbook.hall.stick.fetch", lambda *_: "")
    (tmp_path / "file").write_text("")
    monkeypatch.setattr("workbook.hall.stick.own_wheel", lambda folder: wheel_that_needs(folder))
    assert main(["stick", str(tmp_path / "file"), "--platform", "linux", "--python", "3.11"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("workbook: can't fill ")
    assert said.count("\n") == 1


def test_without_any_wheel_there_is_no_stick(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(
        "workbook.hall.stick.fetch", lambda *words: f"{words[2]}, Python {words[3]}: left out, since X."
    )
    monkeypatch.setattr("workbook.hall.stick.own_wheel", lambda folder: wheel_that_needs(folder))
    assert main(["stick", str(tmp_path / "new"), "--platform", "linux", "--python", "3.14"]) == 2
    assert "linux, Python 3.14: left out" in capsys.readouterr().err
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("word", ["amiga", ""])
def test_an_unknown_machine_is_refused(word, capsys):
    with pytest.raises(SystemExit, match="2"):
        main(["stick", "x", "--platform", word])
    said = capsys.readouterr().err
    assert all(name in said for name in PLATFORMS)
    assert PYTHONS[0] == "3.11"


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="starts the stick by its shell script")
def test_a_laptop_without_a_network_installs_from_the_stick(tmp_path):
    platform, python = this_machine()
    stick = tmp_path / "stick"
    stick.mkdir()
    try:
        assert fill(stick, [platform], [python]) == []
    except OSError as error:
        (pytest.fail if "CI" in os.environ else pytest.skip)(f"nothing can be fetched here: {error}")
    for path in stick.rglob("*"):
        assert not path.is_symlink(), "FAT knows no links"
        assert not set('<>:"|?*\\') & set(path.name), "FAT refuses that name"
        assert path.is_dir() or not path.stat().st_mode & 0o111, "rights are lost on FAT, so nothing may rest on them"
    start = [
        "sh", str(stick / f"start-{'mac.command' if platform == 'mac' else 'linux.sh'}"), "--help",
    ]  # fmt: skip
    home = tmp_path / "home"
    bare = {name: value for name, value in os.environ.items() if not name.startswith(("PIP_", "PYTHON"))}
    offline = {"PIP_NO_INDEX": "1", "PIP_CONFIG_FILE": os.devnull, "EXPOCALC_HOME": str(home), "PYTHON": sys.executable}
    done = subprocess.run(start, env=bare | offline, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Open the workbook in JupyterLab" in done.stdout
    assert (home / "lessons" / "workshop" / "1-photons.ipynb").is_file()
    plan = Path("lessons") / "plans" / "mono-single-lines.toml"
    asked = [str(home / "python" / "bin" / "python"), "-m", "expocalc", str(plan)]
    said = subprocess.run(asked, cwd=home, env=bare, capture_output=True, text=True, check=False)
    assert "SNR" in said.stdout, said.stderr
    look = "import workbook.hall as h; from pathlib import Path; print(*map(str, Path(h.__path__[0]).rglob('*')))"
    there = subprocess.run(
        [asked[0], "-c", look], cwd=home, env=bare, capture_output=True, text=True, check=True
    ).stdout
    assert str(home / "python") in there, "it ran from somewhere else"
    for file in ("page/index.html.j2", "html/join.html", "static/page.js", "hub/values.yaml"):
        assert file in there, "the wheel lacks what pages are made of"
