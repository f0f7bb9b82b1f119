"""The hall without a browser: who comes in, who reaches what, and what the codes are worth."""

import asyncio
import errno
import io
import itertools
import json
import os
import re
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
import zipfile
from http.cookiejar import CookieJar

import psutil
import pytest
from tornado.httpclient import HTTPRequest
from tornado.websocket import websocket_connect

from tests.conftest import Hall
from tests.waiting import PATIENCE_S, free_port, wait_for
from workbook.__main__ import main
from workbook.hall.command import addresses
from workbook.hall.evening import FILE, LESSONS, Evening
from workbook.hall.gather import asked, guesses
from workbook.hall.home import PAGE, pack
from workbook.hall.pages import names, page_notebook
from workbook.hall.tries import LONGEST_S, Tries
from workbook.hall.truths import asks, truth
from workbook.hall.words import FIRST, SECOND, nickname
from workbook.parts.plan_store import PlanStore
from workbook.workshop.keep import Kept


class Visitor:
    """A browser without scripts: cookies and forms."""

    def __init__(self, hall):
        self.base, self.cookies = hall.address, CookieJar()
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.cookies))

    def ask(self, path, words=None, **headers):
        data = urllib.parse.urlencode(words).encode() if words is not None else None
        request = urllib.request.Request(self.base + path, data, headers)
        try:
            with self.opener.open(request, timeout=PATIENCE_S) as answer:
                return answer.status, answer.read().decode(), answer.geturl()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.read().decode(), path

    def header(self):
        return "; ".join(f"{cookie.name}={cookie.value}" for cookie in self.cookies)


@pytest.fixture(scope="module")
def guest(hall):
    visitor = Visitor(hall)
    status, page, _ = visitor.ask("/join", {"code": hall.evening["code"]})
    assert status == 200
    visitor.kernel = re.search(r'"kernelId": "([\w-]+)"', page)[1]
    return visitor


PACKED = "v1.kernel.websocket.jupyter.org"


async def through_socket(hall, kernel, messages, cookie, form=None):
    """What a kernel says back to messages sent on its socket, until it has answered the last of them."""
    address = f"ws://127.0.0.1:{hall.port}/api/kernels/{kernel}/channels?session_id=test"
    request = HTTPRequest(address, headers={"Cookie": cookie, "Origin": hall.address})
    socket = await websocket_connect(request, subprotocols=[form] if form else None)
    heard = []
    try:
        for one in messages:
            await socket.write_message(packed(one) if form else json.dumps(one), binary=bool(form))
        while not any(
            str(one["parent_header"].get("msg_id")).endswith(" last") and one["channel"] == "shell" for one in heard
        ):
            said = await asyncio.wait_for(socket.read_message(), PATIENCE_S)
            heard.append(unpacked(said) if form else json.loads(said))
    finally:
        socket.close()
        while await socket.read_message() is not None:
            pass
    return heard


def packed(one):
    """A message in the form that browsers send today: one block, its parts by their offsets."""
    parts = [one["channel"].encode()]
    parts += [json.dumps(one[name]).encode() for name in ("header", "parent_header", "metadata", "content")]
    places = list(itertools.accumulate(map(len, parts), initial=8 * (len(parts) + 2)))
    return b"".join(number.to_bytes(8, "little") for number in (len(places), *places)) + b"".join(parts)


def unpacked(block):
    count = int.from_bytes(block[:8], "little")
    places = [int.from_bytes(block[8 * (n + 1) : 8 * (n + 2)], "little") for n in range(count)]
    channel, _, parent, *_ = (block[a:b] for a, b in itertools.pairwise(places))
    return {"channel": channel.decode(), "parent_header": json.loads(parent)}


def message(kind, content, channel, number):
    header = {
        "msg_id": number,
        "msg_type": kind,
        "session": "test",
        "username": "",
        "version": "5.3",
        "date": "2026-01-01T00:00:00Z",
    }
    return {"channel": channel, "header": header, "parent_header": {}, "metadata": {}, "content": content}


def test_a_page_holds_prose_and_no_code(guest):
    status, page, _ = guest.ask("/workshop/1-photons.ipynb")
    assert status == 200
    assert "Light falls like rain" in page
    assert "<code" not in page
    assert "import " not in re.sub(r"<script.*?</script>", "", page, flags=re.S)
    assert not re.search(r'(?:src|href)="(?:https?:)?//', page), "something is fetched from outside"


def test_who_has_no_code_gets_no_further_than_the_door(hall):
    stranger = Visitor(hall)
    for path in ("/", "/workshop/1-photons.ipynb", "/my-evening.zip"):
        assert stranger.ask(path)[2].endswith("/join")


@pytest.mark.parametrize(
    "path",
    [
        "/api/contents/", "/api/kernels", "/api/terminals", "/api/sessions", "/tree", "/lab", "/terminals/1",
        "/voila/files/start.ipynb",
        "/files/evening.json", "/evening.json", "/guests", "/..%2fevening.json", "/workshop/../../evening.json",
        "/voila/render/start.ipynb",
        "/hall/static/../serve.py", "/hall/static/%2e%2e/serve.py",
        "/voila/templates/lab/static/../../../../../../etc/passwd",
        "/voila/static/..%2f..%2f..%2fetc/passwd", "/static/js/../../../etc/passwd",
        "/voila/labextensions/../../etc/passwd",
        "/metrics", "/api/spec.yaml", "/api/status", "/login",
    ],
)  # fmt: skip
def test_nothing_else_is_served(guest, path):
    status, page, _ = guest.ask(path)
    assert status in (400, 403, 404)
    assert "root:" not in page
    assert '"leader"' not in page


def test_the_leaders_page_wants_the_leaders_code(hall, guest):
    assert "The leader's code" in guest.ask("/leader")[1]
    assert guest.ask("/leader/state")[0] == 403
    assert guest.ask("/leader/turn", {"page": LESSONS[1], "open": "yes"})[0] == 403
    assert guest.ask("/leader/reveal", {"key": "first", "shown": "yes"})[0] == 403
    assert guest.ask("/leader", {"code": hall.evening["code"]})[0] == 403
    assert guest.ask("/workshop/guide.ipynb")[0] == 403


def test_the_leader_opens_a_page_for_all(hall, guest):
    leader = Visitor(hall)
    assert leader.ask("/leader", {"code": hall.evening["leader"]})[0] == 200
    assert "not open yet" in guest.ask(f"/{LESSONS[2]}")[1]
    assert leader.ask("/leader/turn", {"page": LESSONS[2], "open": "yes"})[0] == 204
    assert "not open yet" not in guest.ask(f"/{LESSONS[2]}")[1]
    assert leader.ask("/leader/turn", {"page": LESSONS[2], "open": "no"})[0] == 204
    state = json.loads(leader.ask("/leader/state?show=laptop")[1])
    assert state["lessons"][LESSONS[2]] == {"open": False, "guests": 0}


def test_two_who_lead_see_and_turn_the_same(hall, guest):
    both = [Visitor(hall), Visitor(hall)]
    for leader in both:
        assert leader.ask("/leader", {"code": hall.evening["leader"]})[0] == 200
    key = asked()[0].key
    assert both[0].ask("/leader/turn", {"page": LESSONS[4], "open": "yes"})[0] == 204
    assert both[1].ask("/leader/reveal", {"key": key, "shown": "yes"})[0] == 204
    for leader in both:
        state = json.loads(leader.ask(f"/leader/state?show=guesses&key={key}")[1])
        assert state["lessons"][LESSONS[4]]["open"]
        assert state["shown"]
    assert both[1].ask("/leader/turn", {"page": LESSONS[4], "open": "no"})[0] == 204
    assert both[0].ask("/leader/reveal", {"key": key, "shown": "no"})[0] == 204
    assert "not open yet" in guest.ask(f"/{LESSONS[4]}")[1]


@pytest.mark.skipif(os.name != "posix", reason="stops and wakes a process by signals")
def test_a_laptop_that_slept_goes_on_where_it_was(hall, guest):
    before = guest.ask(f"/{LESSONS[1]}")[1]
    family = [psutil.Process(hall.process.pid), *hall.descendants()]
    for one in family:
        one.suspend()
    time.sleep(1)
    for one in family:
        one.resume()
    kernel, drawn = (re.search(look, before)[1] for look in (r'"kernelId": "([\w-]+)"', r'data-drawn="(\d+)"'))
    guest.kernel = kernel
    alive = json.loads(guest.ask(f"/alive?kernel={kernel}&drawn={drawn}&page={LESSONS[1]}")[1])
    assert alive == {"seated": True, "open": True}
    last = [message("kernel_info_request", {}, "shell", "woken last")]
    heard = asyncio.run(through_socket(hall, kernel, last, guest.header()))
    assert any(one["parent_header"].get("msg_id") == "woken last" for one in heard)


REFUSED = [
    f"{kind}_request"
    for kind in ("execute", "inspect", "complete", "history", "is_complete", "shutdown", "interrupt", "debug")
]


@pytest.mark.parametrize("form", [None, PACKED])
def test_code_on_the_socket_is_refused(hall, guest, form):
    planted = hall.folder / "guests" / "planted"
    sent = [
        message(
            kind, {"code": f"open({str(planted)!r}, 'w')", "silent": False, "cursor_pos": 0}, channel, f"{form}{number}"
        )
        for number, (kind, channel) in enumerate(itertools.product(REFUSED, ("shell", "control", "stdin")))
    ]
    sent.append(message("kernel_info_request", {}, "shell", f"{form} last"))  # a kernel drops what it heard before
    heard = asyncio.run(through_socket(hall, guest.kernel, sent, guest.header(), form))
    answered = {one["parent_header"].get("msg_id") for one in heard}
    assert f"{form} last" in answered, "the line itself is dead, so the test would prove nothing"
    assert not answered & {f"{form}{number}" for number in range(len(sent))}
    assert not planted.exists()


def test_a_kernel_answers_its_owner_alone(hall, guest):
    other = Visitor(hall)
    other.ask("/join", {"code": hall.evening["code"]})
    assert guest.ask(f"/api/kernels/{guest.kernel}")[0] == 200
    assert other.ask(f"/api/kernels/{guest.kernel}")[0] == 403
    assert other.ask(f"/api/kernels/{guest.kernel}", {})[0] in (403, 405)
    upgrade = {"Upgrade": "websocket", "Connection": "Upgrade"}
    for visitor in (other, Visitor(hall)):
        assert visitor.ask(f"/api/kernels/{guest.kernel}/channels", **upgrade)[0] == 403


def test_a_form_or_a_socket_from_another_site_is_refused(hall, guest):
    assert guest.ask("/join", {"code": hall.evening["code"]}, Origin="http://elsewhere.example")[0] == 403
    foreign = {"Origin": "http://elsewhere.example", "Upgrade": "websocket", "Connection": "Upgrade"}
    assert guest.ask(f"/api/kernels/{guest.kernel}/channels", **foreign)[0] == 403


@pytest.mark.usefixtures("guest")
def test_a_guest_comes_back_with_two_words_and_a_number(hall):
    mine = list(hall.evening["guests"].values())[-1]
    again = Visitor(hall)
    assert again.ask("/join", {"name": mine["name"], "number": "0"})[0] == 403
    assert again.ask("/join", {"name": f" {mine['name'].upper()} ", "number": mine["number"]})[0] == 200
    assert mine["name"] in again.ask("/")[1]


def test_things_to_take_home_are_ones_own(hall, guest):
    status, _, _ = guest.ask("/alive")
    assert status == 200
    with guest.opener.open(f"{hall.address}/my-evening.zip") as answer:
        inside = set(zipfile.ZipFile(io.BytesIO(answer.read())).namelist())
    assert "plans/mono-single-lines.toml" in inside
    assert not any("evening.json" in name or ".." in name for name in inside)


@pytest.mark.usefixtures("guest")
def test_it_listens_on_the_address_that_was_picked_and_says_so(hall):
    listening = {
        one.laddr.ip
        for one in psutil.Process(hall.process.pid).net_connections("inet")
        if one.status == psutil.CONN_LISTEN
    }
    assert listening == {"127.0.0.1"}
    assert f"The hall is open at {hall.address} and only there" in hall.log


@pytest.mark.usefixtures("guest")
def test_a_taken_port_and_a_missing_address_are_refused_in_a_sentence(hall, tmp_path, capsys):
    words = ["hall", str(tmp_path / "e"), "--no-browser"]
    assert main([*words, "--address", "127.0.0.1", "--port", str(hall.port)]) == 2
    assert f"port {hall.port} is in use" in capsys.readouterr().err
    assert main([*words, "--address", "203.0.113.77"]) == 2
    assert "this laptop has no address 203.0.113.77" in capsys.readouterr().err


def test_the_window_keeps_the_codes_in_sight(hall, guest):
    """What telephones ask for in vain, and what a library warns of, is not told there."""
    assert guest.ask("/favicon.ico")[0] == 404
    last = [message("kernel_info_request", {}, "shell", "window last")]
    asyncio.run(through_socket(hall, guest.kernel, last, guest.header()))
    assert len(hall.log.splitlines()) == 5, hall.log


def test_one_guest_too_many_is_told_kindly_and_the_window_stays_quiet(tmp_path):
    hall = Hall(tmp_path, tmp_path / "evening", "--guests", "2")
    try:
        for most in (200, 200, 503):
            status, page, _ = Visitor(hall).ask("/join", {"code": hall.evening["code"]})
            assert status == most
        assert "All places are taken (2)" in page
        assert "Pair up" in page
        assert len(hall.log.splitlines()) == 5, hall.log
    finally:
        hall.close()


def test_without_a_network_it_says_what_to_do(monkeypatch, tmp_path, capsys):
    monkeypatch.setattr("psutil.net_if_addrs", dict)
    assert addresses() == []
    assert main(["hall", str(tmp_path), "--no-browser"]) == 2
    assert "hotspot" in capsys.readouterr().err


def test_a_folder_that_cannot_be_used_is_refused_in_a_sentence(tmp_path, capsys):
    (tmp_path / "file").write_text("")
    assert main(["hall", str(tmp_path / "file" / "x"), "--address", "127.0.0.1", "--no-browser"]) == 2
    said = capsys.readouterr().err
    assert "name a folder that you may write in" in said
    assert said.count("\n") == 1


def test_a_thousand_wrong_codes_are_slowed():
    now = [0.0]
    tries = Tries(lambda: now[0])
    looked_at = 0
    for _ in range(1000):
        before = tries.wait_s("a")
        looked_at += before == 0
        tries.take("a", "wrong", "482913")
        now[0] += 1.0
    assert looked_at < 30
    assert tries.wait_s("b") == 0, "another guest waits for the first one's tries"
    assert not tries.take("a", "482913", "482913"), "the right code is taken while the wait is on"
    now[0] += LONGEST_S
    assert tries.take("a", "482913", "482913")


def test_wrong_codes_over_the_line_get_a_wait(hall):
    stranger = Visitor(hall)
    for number in range(4):
        assert stranger.ask("/leader", {"code": f"x{number}"})[0] == 403

    def waits():
        status, page, _ = stranger.ask("/leader", {"code": "x"})  # the last wait may be over on a slow machine
        return "Wait" in page if status == 429 else None

    assert wait_for(waits)
    # so it may be for the right code, but not again and again
    right = (stranger.ask("/leader", {"code": hall.evening["leader"]})[0] for _ in range(3) if wait_for(waits))
    assert 429 in right


def test_the_evening_outlives_the_laptop(tmp_path):
    first = Evening.at(tmp_path)
    guest = first.join()
    first.turn(LESSONS[3], wanted=True)
    again = Evening.at(tmp_path)
    assert again.code == first.code
    assert again.guests == {guest.key: guest}
    assert again.is_open(LESSONS[3])
    if os.name == "posix":
        assert (tmp_path / FILE).stat().st_mode & 0o077 == 0, "others may read the codes"
    (tmp_path / FILE).write_text("{")
    with pytest.raises(ValueError, match="is damaged"):
        Evening.at(tmp_path)


def test_two_halls_in_one_folder_are_refused(hall, capsys):
    assert hall.address
    assert main(["hall", str(hall.folder), "--address", "127.0.0.1", "--port", str(free_port()), "--no-browser"]) == 2
    assert "a hall runs in" in capsys.readouterr().err


def test_a_plan_goes_home_with_its_page(tmp_path):
    evening = Evening.at(tmp_path)
    folder = evening.folder(evening.join())
    assert PAGE not in zipfile.ZipFile(io.BytesIO(pack(folder))).namelist()
    PlanStore(folder).save("my-plan")
    home = zipfile.ZipFile(io.BytesIO(pack(folder)))
    assert {"plans/my-plan.toml", PAGE} <= set(home.namelist())
    assert b"H-alpha" in home.read(PAGE)


def test_more_guests_than_asked_for_stay_outside(tmp_path):
    evening = Evening.at(tmp_path, most=2)
    assert evening.join()
    assert evening.join()
    assert evening.join() is None


def test_on_a_full_disk_nobody_comes_in_half_and_the_evening_goes_on(tmp_path, monkeypatch):
    evening = Evening.at(tmp_path)
    first = evening.join()

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("workbook.hall.evening.write_whole", full)
        with pytest.raises(OSError, match="No space left"):
            evening.join()
        assert list(evening.guests.values()) == [first]
        patch.setattr("workbook.workshop.keep.write_whole", full)
        said = Kept(evening.folder(first) / "workshop").write("guesses", "double-hours", "2")
        assert "no space left on device" in said
        assert "the lesson goes on" in said
    assert evening.join()
    assert len(Evening.at(tmp_path).guests) == 2, "the file still stands, and takes the next"


def test_a_broken_blind_test_is_named_and_the_others_count(tmp_path):
    from workbook.hall.leader import _eyes

    begun = {"seed": {"seed": 7}, "picks": {}}  # started over: nothing is broken there
    sound = {"seed": {"seed": 7}, "picks": {str(number): 1 for number in range(10)}}
    for name, text in (
        ("amber-owl", json.dumps(sound)), ("blue-fox", "{"), ("calm-hare", "[]"), ("dune-wren", json.dumps(begun)),
    ):  # fmt: skip
        (tmp_path / name / "workshop").mkdir(parents=True)
        (tmp_path / name / "workshop" / "my-blind-test.json").write_text(text)
    told = _eyes(tmp_path)
    (tmp_path / "amber-owl" / "hours.json").write_text("[1]")  # a guest's own export
    told = _eyes(tmp_path)
    left_out = "blue-fox/workshop/my-blind-test.json, calm-hare/workshop/my-blind-test.json"
    assert told["words"].endswith(f"Could not be read, and left out: {left_out}.")


def test_with_scripts_off_a_page_says_so_and_can_be_read(guest):
    _, page, _ = guest.ask("/workshop/1-photons.ipynb")
    said = re.search(r"<noscript>(.*?)</noscript>", page, re.S)[1]
    assert "scripts" in said
    shown_by_script = re.search(r"<main[^>]*display: none", page)
    assert not shown_by_script or "#rendered_cells" in said, "prose stays hidden where no script shows it"


def test_nicknames_are_two_words_and_never_twice():
    taken = set()
    for _ in range(len(FIRST) * len(SECOND) // 20):
        name = nickname(taken)
        assert name not in taken
        taken.add(name)
    assert re.fullmatch(
        r"[a-z]+ [a-z]+ 2", nickname(type("All", (), {"__contains__": lambda _, n: not n.endswith("2")})())
    )


def fenced(tmp_path, code):
    """What a kernel behind the fence makes of a line of code."""
    (tmp_path / "mine").mkdir(exist_ok=True)
    (tmp_path / "other").mkdir(exist_ok=True)
    (tmp_path / "other" / "secret.toml").write_text("x = 1")
    mine = str(tmp_path / "mine")
    start = f"from workbook.hall.fence import fence\nfence({mine!r})\nimport os\nos.chdir({mine!r})\n"
    return subprocess.run([sys.executable, "-c", start + code], capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    "code",
    [
        "open('../other/secret.toml')", "open('../other/new.toml', 'w')", "os.listdir('..')",
        "list(os.scandir('../other'))",
        "os.remove('../other/secret.toml')", "os.rename('../other/secret.toml', 'x')", "os.mkdir('../third')",
        "from pathlib import Path; Path('/etc/passwd').read_text()", "os.symlink('../other', 'link')",
        "os.system('true')", "import subprocess; subprocess.run(['true'])", "open(os.__file__, 'a')",
        "from expocalc.plan import Plan; Plan.read('../other/secret.toml')",
    ],
)  # fmt: skip
def test_files_outside_ones_own_folder_are_out_of_reach(tmp_path, code):
    finished = fenced(tmp_path, code)
    assert finished.returncode != 0
    assert "outside your own folder" in finished.stderr or "no other program" in finished.stderr
    assert (tmp_path / "other" / "secret.toml").read_text() == "x = 1"


def test_the_leaders_folder_is_closed_even_among_pythons_own(tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "module.py").write_text("")
    code = (
        f"import sys; sys.path.append({str(tmp_path)!r})\nfrom workbook.hall.fence import fence\n"
        f"fence({str(tmp_path / 'mine')!r}, CLOSED)\nopen({str(tmp_path / 'module.py')!r})"
    )
    for closed, refused in ((None, False), (str(tmp_path), True)):
        line = [sys.executable, "-c", code.replace("CLOSED", repr(closed))]
        assert (subprocess.run(line, capture_output=True, check=False).returncode != 0) is refused


def test_ones_own_files_and_the_workbooks_are_within_reach(tmp_path):
    code = (
        "from expocalc.plan import Plan\nfrom workbook.copies import shipped\n"
        "plan = Plan.read(shipped() / 'plans' / 'mono-single-lines.toml')\n"
        "plan.save('mine.toml')\nassert Plan.read('mine.toml').solve().rows\nassert os.listdir('.')"
    )
    finished = fenced(tmp_path, code)
    assert finished.returncode == 0, finished.stderr


def test_pages_leave_out_answers_and_what_is_for_the_notebook():
    for name in names():
        tags = {tag for cell in page_notebook(name).cells for tag in cell.metadata.get("tags", [])}
        assert not tags & {"solution", "answer", "notebook-only"}
    assert "tally" not in "".join(cell.source for cell in page_notebook("workshop/slips.ipynb").cells)


def test_every_question_of_the_lessons_is_gathered():
    keys = [one.key for one in asked()]
    assert len(keys) == len(set(keys)) >= 13
    assert set(asks()) <= set(keys)


@pytest.mark.parametrize("one", asked(), ids=lambda one: one.key)
def test_the_truth_is_a_number_or_one_of_the_choices(one):
    true = truth(one.key)
    assert true is None or (true in one.choices if one.choices else isinstance(true, float))


def kept_by(tmp_path, key, texts):
    folders = []
    for number, text in enumerate(texts):
        folder = tmp_path / str(number)
        (folder / "workshop").mkdir(parents=True)
        Kept(folder / "workshop").write("guesses", key, text)
        folders.append(folder)
    return folders


def question(key):
    return next(one for one in asked() if one.key == key)


def test_guesses_become_bars_and_none_is_lost(tmp_path):
    texts = ["2", "2,0", "1.4 times", "a lot", "1000", "3", "", "2 x"]
    found = guesses(question("double-hours"), kept_by(tmp_path, "double-hours", texts))
    assert (found.total, found.unread, sum(found.counts)) == (6, 1, 6)
    assert found.edges[0] <= 1.4 <= found.edges[-1]


def test_choices_are_counted_and_other_words_are_not_shown(tmp_path):
    texts = ["It stays", "It stays", "<b>boo</b>", "It goes away"]
    found = guesses(question("sky-off"), kept_by(tmp_path, "sky-off", texts))
    assert dict(zip(found.names, found.counts, strict=True)) == {"It goes away": 1, "It is halved": 0, "It stays": 2}
    assert found.unread == 1


@pytest.mark.parametrize("texts", [[], ["5"], ["5", "5"], ["0"], ["-3", "4"], ["1e-300", "1e300"], ["nan", "inf", "2"]])
def test_few_and_wild_guesses_are_drawn_too(tmp_path, texts):
    from workbook.hall.drawing import draw_guesses

    one = question("double-hours")
    found = guesses(one, kept_by(tmp_path, "double-hours", texts))
    item = json.dumps(draw_guesses(one, found, truth(one.key)), allow_nan=False)
    assert "it is 1.4 times" in item
