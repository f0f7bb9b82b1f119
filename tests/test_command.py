"""``python -m expocalc``: the table, the JSON that others script against, the exit codes."""

import json
import math
import os
import subprocess
import sys
from pathlib import Path

import pytest

from expocalc.__main__ import main
from tests.waiting import PATIENCE_S

ROOT = Path(__file__).resolve().parent.parent
MONO = ROOT / "notebooks" / "plans" / "mono-single-lines.toml"
COLOUR = ROOT / "notebooks" / "plans" / "colour-dual-band.toml"

# A plain mean and perfect calibration: what the stack makes of the noise has tests of its own.
PLAIN = (
    ('stacking = "clipped mean"', 'stacking = "mean"\nbackground_flatness = "perfect"'),
    ("darks = ", 'darks = "perfect" # '),
    ("\nflats = ", '\nflats = "perfect" # '),
)

# The contract, key by key, with the type of a value that is not null.
ROW = {
    "filter": str,
    "light": str,
    "colour": str,
    "goal_snr": float,
    "patch_arcsec": float,
    "pixel_scale_arcsec": float,
    "target_electron_s": float,
    "sky_electron_s": float,
    "dark_electron_s": float,
    "sky_mag_arcsec2_ab": float,
    "sub_shortest_s": float,
    "sub_best_s": float,
    "sub_longest_s": float,
    "sub_s": float,
    "subs_to_shoot": int,
    "subs_kept": int,
    "exposed_h": float,
    "kept_h": float,
    "clock_h": float,
    "hours_p10": float,
    "hours_p50": float,
    "hours_p90": float,
    "snr_pixel_one_sub": float,
    "snr_patch": float,
    "snr_ceiling": float,
    "noise_share": dict,
    "bounded_by": str,
    "expected_median_adu": float,
    "expected_median_adu_above_bias": float,
    "storage_gb": float,
}
FILTER = {
    "filter": str,
    "light": str,
    "colour": str,
    "sub_s": float,
    "subs_to_shoot": int,
    "kept_h": float,
    "exposed_h": float,
    "clock_h": float,
    "storage_gb": float,
    "hours_p10": float,
    "hours_p50": float,
    "hours_p90": float,
    "verdict": str,
    "planned": str,
}
NOISE = {"target", "sky", "dark", "read", "quantisation", "calibration"}
BOUNDS = {"losses", "mount", "saturation", "sky share", "dead time", "nothing", "whole subs"}


def run(*words, **environment):
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "expocalc", *map(str, words)],
        cwd=ROOT,
        env=os.environ | environment,
        capture_output=True,
        timeout=PATIENCE_S,
        check=False,
    )


@pytest.fixture
def answer(tmp_path, capsys):
    """Function that gives the object of ``--json`` for a demo plan with parts of its text replaced."""

    def ask(path, *replaced):
        text = path.read_text(encoding="utf-8")
        for old, new in replaced:
            assert old in text
            text = text.replace(old, new)
        (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
        assert main(["--json", str(tmp_path / "plan.toml")]) == 0
        return json.loads(capsys.readouterr().out)

    return ask


@pytest.mark.parametrize("plan", [MONO, COLOUR], ids=lambda path: path.stem)
def test_json_holds_the_keys_of_the_contract_and_plain_numbers(answer, plan):
    found = answer(plan)
    assert list(found) == ["title", "filters", "rows"]
    for things, contract in ((found["rows"], ROW), (found["filters"], FILTER)):
        assert things
        for thing in things:
            assert list(thing) == list(contract)
            for key, value in thing.items():
                assert value is None or type(value) is contract[key], key
    for row in found["rows"]:
        assert set(row["noise_share"]) == NOISE
        assert math.isclose(sum(row["noise_share"].values()), 1, rel_tol=0, abs_tol=1e-12)
        assert row["bounded_by"] in BOUNDS


def test_json_comes_from_the_command_in_a_process_of_its_own():
    done = run(MONO, "--json")
    assert done.returncode == 0
    assert done.stderr == b""
    assert json.loads(done.stdout)["title"] == "Faint shell from a town garden, mono camera"
    assert done.stdout.isascii(), "so that every reader agrees"


def test_table_comes_from_the_command_in_a_process_of_its_own():
    done = run(COLOUR)
    assert done.returncode == 0
    assert done.stderr == b""
    lines = done.stdout.decode().splitlines()
    assert lines[0] == "Faint shell from a town garden, colour camera"
    h_alpha, o_three = (line.split() for line in lines if line.startswith("Dual 6 nm  "))
    assert h_alpha[3:5] == ["H-alpha", "R"]
    assert o_three[3:6] == ["O", "III", "G"]
    assert any(line.startswith("Dual 6 nm: take ") for line in lines)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["none.toml"], "expocalc: none.toml can't be read: No such file or directory"),
        ([], "the following arguments are required: plan"),
        ([MONO, "--jsn"], "unrecognized arguments: --jsn"),
    ],
    ids=["missing file", "no file", "unknown option"],
)
def test_what_can_not_be_answered_ends_with_2_and_one_message(words, said):
    done = run(*words)
    assert done.returncode == 2
    assert done.stdout == b""
    assert said in done.stderr.decode()
    assert b"Traceback" not in done.stderr


def test_bad_plan_in_a_process_of_its_own(tmp_path):
    plan = tmp_path / "plan.toml"
    plan.write_text(MONO.read_text(encoding="utf-8").replace('aperture = "102 mm"', 'aperture = "102 K"'))
    for words in ([plan], [plan, "--json"]):
        done = run(*words)
        assert done.returncode == 2
        assert done.stdout == b""
        assert done.stderr.decode() == (
            "expocalc: [telescope] aperture must be convertible to mm, got 102 K (temperature); "
            f'write it like "102 mm" (line 29){os.linesep}'
        )


def test_terminal_that_knows_no_prime_still_gets_the_verdict():
    done = run(MONO, PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert done.stderr == b""
    assert b"15\\u2033" in done.stdout


@pytest.mark.skipif(os.name == "nt", reason="pipes of a shell")
def test_reader_that_has_seen_enough_is_no_error():
    command = f"{sys.executable} -m expocalc {MONO} --json | true"
    done = subprocess.run(command, shell=True, cwd=ROOT, capture_output=True, timeout=PATIENCE_S, check=False)
    assert done.stderr == b""


# --- what the keys mean ---


@pytest.mark.parametrize("plan", [MONO, COLOUR], ids=lambda path: path.stem)
def test_hours_and_subs_of_a_row_agree(answer, plan):
    for row in answer(plan)["rows"]:
        sub_h = row["sub_s"] / 3600
        assert math.isclose(row["kept_h"], row["subs_kept"] * sub_h, rel_tol=1e-12)
        assert math.isclose(row["exposed_h"], row["subs_to_shoot"] * sub_h, rel_tol=1e-12)
        # dead time per sub and its share of a dither, by the plans' [routine]
        dead_s = 2 + 18 / 2 if plan is MONO else 2 + 20 / 3
        assert math.isclose(row["clock_h"], row["subs_to_shoot"] * (sub_h + dead_s / 3600), rel_tol=1e-12)
        survive = math.exp(-0.2 * sub_h) * (1 - 0.04 / 2) if plan is MONO else math.exp(-0.4 * sub_h) * (1 - 0.05 / 3)
        assert row["subs_to_shoot"] == math.ceil(row["subs_kept"] / survive)
        # 16 bits are 2 bytes
        assert math.isclose(row["storage_gb"], row["subs_to_shoot"] * 6200 * 4150 * 2e-9, rel_tol=1e-12)


@pytest.mark.parametrize("plan", [MONO, COLOUR], ids=lambda path: path.stem)
def test_subs_kept_are_the_fewest_that_reach_the_goal(answer, plan):
    for row in answer(plan, *PLAIN)["rows"]:
        assert row["snr_patch"] >= 10 * (1 - 1e-9)
        fewer = (row["subs_kept"] - 1) / row["subs_kept"]
        assert row["snr_patch"] * math.sqrt(fewer) < 10


def test_patch_of_a_mono_camera_holds_its_pixels(answer):
    """SNR of a patch is that of a pixel times the root of the number of pixels and of subs."""
    for row in answer(MONO, *PLAIN)["rows"]:
        pixels = (15 / row["pixel_scale_arcsec"]) ** 2
        alone = row["snr_pixel_one_sub"] * math.sqrt(pixels * row["subs_kept"])
        assert math.isclose(row["snr_patch"], alone, rel_tol=1e-9)


def test_mosaic_combines_the_colours_that_see_a_light(answer):
    """O III is seen by green and blue, so that its patch has more SNR than the green pixels alone."""
    row = next(row for row in answer(COLOUR, *PLAIN)["rows"] if row["light"] == "O III")
    assert row["colour"] == "G"
    green = row["snr_pixel_one_sub"] * math.sqrt((30 / row["pixel_scale_arcsec"]) ** 2 / 2 * row["subs_kept"])
    assert 1.02 < row["snr_patch"] / green < 1.5


def test_filter_has_one_sub_length_and_the_hours_of_the_light_that_needs_most(answer):
    found = answer(COLOUR)
    (only,) = found["filters"]
    assert len(found["rows"]) == 2
    assert {row["sub_s"] for row in found["rows"]} == {only["sub_s"]}
    for key in ("subs_to_shoot", "kept_h", "exposed_h", "clock_h", "storage_gb"):
        assert only[key] == max(row[key] for row in found["rows"])


def test_filter_takes_the_longest_of_the_shortest_subs_of_its_rows(answer):
    """Without losses, dead time and bounds the noise of reading settles the sub length."""
    bare = [
        *PLAIN,
        ("longest_sub", "#"),
        ("dead_time", "#"),
        ("dither_", "#"),
        ("lost_per_h", "#"),
        ("unsat", "#"),
        ("noise_growth = 0.05", "noise_growth = 0.003"),
    ]
    found = answer(COLOUR, *bare)
    shortest = [row["sub_shortest_s"] for row in found["rows"]]
    assert shortest[0] != shortest[1]
    assert max(shortest) == pytest.approx(3198, rel=1e-3), "53.3 min, which nobody sets"
    assert found["filters"][0]["sub_s"] == 3600, "the next length that a person would set"
    assert {row["bounded_by"] for row in found["rows"]} == {"nothing"}


def test_filter_that_passes_none_of_the_light_has_a_row_without_light(answer):
    found = answer(MONO, ('{ line = "O III", brightness = "15 R" },', ""))
    row = next(row for row in found["rows"] if row["filter"] == "O III 5 nm")
    empty = {
        "light",
        "colour",
        "patch_arcsec",
        "target_electron_s",
        "subs_to_shoot",
        "subs_kept",
        "exposed_h",
        "kept_h",
        "clock_h",
        "snr_pixel_one_sub",
        "snr_patch",
        "storage_gb",
    }
    assert {key for key, value in row.items() if value is None} - {
        "hours_p10",
        "hours_p50",
        "hours_p90",
        "snr_ceiling",
    } == empty
    assert row["sky_electron_s"] > 0
    assert row["noise_share"]["target"] == 0
    summary = found["filters"][1]
    assert summary["kept_h"] is None
    assert "passes none of the target's light" in summary["verdict"]


def test_goal_that_no_hours_reach_gives_null_and_says_so(answer):
    found = answer(MONO, *PLAIN, ('brightness = "15 R"', 'brightness = "1e-9 R"'))
    row, summary = found["rows"][1], found["filters"][1]
    for thing in (row, summary):
        assert [thing[key] for key in ("subs_to_shoot", "kept_h", "exposed_h", "clock_h", "storage_gb")] == [None] * 5
    assert row["subs_kept"] is None
    assert "O III is far too faint for SNR 10 in any number of hours" in summary["verdict"]
    assert found["filters"][0]["kept_h"] is not None


def test_one_light_out_of_reach_leaves_its_filter_without_hours(answer):
    found = answer(COLOUR, *PLAIN, ('brightness = "20 R"', 'brightness = "1e-9 R"'))
    assert found["rows"][0]["kept_h"] is not None
    assert found["filters"][0]["kept_h"] is None
    assert "O III is far too faint" in found["filters"][0]["verdict"]


def test_losses_that_nothing_survives_are_said(answer):
    found = answer(MONO, ("lost_per_hour = 0.2", 'lost_per_hour = 1000\nsub_length = "2 h"'))
    assert found["filters"][0]["clock_h"] is None
    assert "Hardly a sub of that length survives" in found["filters"][0]["verdict"]


@pytest.mark.parametrize(
    ("bits", "stored_bytes"), [(8, 1), (12, 2), (16, 2), (20, 4), (32, 4)], ids=lambda value: str(value)
)
def test_a_frame_is_stored_in_whole_bytes_of_its_bits(answer, bits, stored_bytes):
    coarse = ("electrons_per_adu = 0.25", "electrons_per_adu = 60")
    row = answer(MONO, coarse, ("bits = 16", f"bits = {bits}"), ("bias_level = 500", "bias_level = 5"))["rows"][0]
    assert math.isclose(row["storage_gb"], row["subs_to_shoot"] * 6200 * 4150 * stored_bytes * 1e-9, rel_tol=1e-12)


def test_median_adu_is_the_background_over_the_gain_above_the_bias(answer):
    for row in answer(MONO)["rows"]:
        electrons = (row["sky_electron_s"] + row["dark_electron_s"]) * row["sub_s"]
        assert math.isclose(row["expected_median_adu_above_bias"], electrons / 0.25, rel_tol=1e-12)
        assert math.isclose(row["expected_median_adu"], 500 + electrons / 0.25, rel_tol=1e-12)
    for row in answer(MONO, ("bias_level = 500 ", "#"), ("bias_level = 500\n", "\n"))["rows"]:
        assert row["expected_median_adu"] is None
        assert row["expected_median_adu_above_bias"] > 0


def test_lights_of_one_name_are_numbered(answer):
    found = answer(MONO, ("light = [", 'light = [{ star = "15 mag" }, { star = "12 mag" }, '))
    lights = [row["light"] for row in found["rows"] if row["filter"] == "H-alpha 5 nm"]
    assert lights == ["H-alpha", "star 1", "star 2"]
    one, two = (
        row["target_electron_s"]
        for row in found["rows"]
        if row["light"] in ("star 1", "star 2") and row["filter"] == "H-alpha 5 nm"
    )
    assert math.isclose(two / one, 10 ** (0.4 * 3), rel_tol=1e-9)


def test_extended_light_is_noise_to_the_others_and_a_star_is_not(answer):
    alone, star, bright = (
        next(row for row in answer(MONO, ("light = [", f"light = [{more}"))["rows"] if row["light"] == "H-alpha")
        for more in ("", '{ star = "5 mag" }, ', '{ continuum = "18 mag/arcsec2" }, ')
    )
    assert star == alone
    assert bright["noise_share"]["target"] > 10 * alone["noise_share"]["target"]
    assert bright["subs_kept"] > 1.5 * alone["subs_kept"]
