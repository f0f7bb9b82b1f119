"""What a hub starts for one guest, without a hub: Jupyter's server with the pages, and the recipe for the cluster."""

import os
import re
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest
import yaml

from tests.waiting import PATIENCE_S, free_port, listens, wait_for
from workbook.hall.hub.__main__ import SHARE, main, places, settings

HUB = Path(SHARE).parent


@pytest.fixture(scope="module")
def guests_server(tmp_path_factory):
    """Function that asks a guest's server for a path."""
    home = tmp_path_factory.mktemp("hub")
    assert main(["lay", str(home / "workbook")]) == 0
    port = free_port()
    words = [f"--ServerApp.port={port}", "--ServerApp.ip=127.0.0.1", "--IdentityProvider.token=", "--no-browser"]
    log = (home / "log").open("wb")
    server = subprocess.Popen(
        [sys.executable, "-m", "jupyter_server", *settings(home / "workbook"), *words, "--ServerApp.allow_root=True"],
        env=os.environ | places() | {"JUPYTER_RUNTIME_DIR": str(home / "run"), "JUPYTER_DATA_DIR": str(home / "data")},
        stdout=log,
        stderr=log,
        cwd=home,
    )

    def is_open():
        assert server.poll() is None, (home / "log").read_text()
        return listens(port)

    def ask(path):
        wait_for(is_open, (home / "log").read_text)
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=PATIENCE_S) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.read().decode()

    yield ask
    server.terminate()
    server.wait()
    log.close()


def test_a_hubs_page_shows_prose_panels_and_numbers_and_neither_code_nor_answers(guests_server):
    status, page = guests_server("/voila/render/workshop/1-photons.ipynb")
    assert status == 200
    assert "Light falls like rain" in page
    assert page.count("application/vnd.jupyter.widget-view+json") >= 5, "its panels were not drawn"
    assert "1 ×: grain, share of the light, by the formula 0.100, and the pictures agree" in page
    seen = re.sub(r"<script.*?</script>", "", page, flags=re.S)
    for hidden in ("import ", "EXERCISES[1]", "answer of the exercise", "0.05 electrons"):
        assert hidden not in seen, f"{hidden} is shown"
    assert not re.search(r"""(?:src|href)\s*=\s*["'](?:https?:)?//""", page), "something is fetched from outside"


def test_a_hub_gives_no_terminal(guests_server):
    assert guests_server("/api/terminals")[0] == 404


def test_a_hubs_template_asks_nothing_from_outside():
    template = (SHARE / "voila" / "templates" / "hall" / "index.html.j2").read_text(encoding="utf-8")
    assert "http" not in template
    assert "super()" not in template, "what it stands on asks for an icon font"
    assert "--VoilaConfiguration.template=hall" in settings(SHARE)


def test_the_image_starts_what_there_is_and_carries_what_it_needs():
    """The recipe is read, not built: building wants a registry of images."""
    recipe = (HUB / "Containerfile").read_text(encoding="utf-8")
    root = HUB.parents[2]
    for line in re.findall(r"^COPY (.+) \S+$", recipe, re.M):
        for name in line.split():
            assert (root / name).exists(), f"{name} is not in the clone"
    command = re.search(r"^CMD (\[.+\])$", recipe, re.M)[1]
    values = yaml.safe_load((HUB / "values.yaml").read_text(encoding="utf-8"))
    assert yaml.safe_load(command) == values["singleuser"]["cmd"]
    assert values["singleuser"]["cmd"][:3] == ["python", "-m", "workbook.hall.hub"]
