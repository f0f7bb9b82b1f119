"""Frames that people have: headers of all kinds, packed files, broken files; one sentence names the file."""

import os

import numpy as np
import pytest
from astropy.io import fits
from hypothesis import given as examples
from hypothesis import strategies as st

from expocalc.frames.measure.behind import Behind
from expocalc.frames.measure.skies import ceiling_of
from expocalc.frames.measure.sub import measure_sub
from expocalc.frames.read.fits import native_step, read_frame
from expocalc.frames.read.header import FrameError, read_header


def pixels(seed=1, shape=(64, 96), level=600.0):
    return np.random.default_rng(seed).normal(level, 9.0, shape).round()


def write(path, data=None, **cards):
    data = pixels().astype(np.uint16) if data is None else data
    fits.PrimaryHDU(data, fits.Header(cards)).writeto(path, overwrite=True)
    return path


# Packing and scaling: the numbers come out as they went in


@pytest.mark.parametrize("dtype", [np.uint8, np.int16, np.uint16, np.int32, np.uint32, np.float32, np.float64])
def test_numbers_of_all_kinds(tmp_path, dtype):
    data = (np.arange(600).reshape(20, 30) % 200).astype(dtype)
    frame = read_frame(write(tmp_path / "a.fits", data))
    assert (frame.pixels == data).all()
    assert frame.pixels.dtype.isnative


def test_packed_files(tmp_path):
    data = pixels().astype(np.uint16)
    for name in ("a.fits", "a.fits.gz"):
        fits.PrimaryHDU(data).writeto(tmp_path / name)
        assert (read_frame(tmp_path / name).pixels == data).all()
    for kind in ("RICE_1", "GZIP_1"):
        fits.HDUList([fits.PrimaryHDU(), fits.CompImageHDU(data, compression_type=kind)]).writeto(
            tmp_path / f"{kind}.fits.fz"
        )
        assert (read_frame(tmp_path / f"{kind}.fits.fz").pixels == data).all()


def test_scaled_integers(tmp_path):
    hdu = fits.PrimaryHDU(np.array([[1, 2], [3, -7]], dtype=np.int16))
    hdu.header["BZERO"], hdu.header["BSCALE"] = 100.0, 0.5
    hdu.writeto(tmp_path / "a.fits")
    with fits.open(tmp_path / "a.fits") as theirs:
        assert read_frame(tmp_path / "a.fits").pixels == pytest.approx(theirs[0].data)


@examples(st.sampled_from([1, 2, 4, 16]), st.integers(1, 4000))
def test_steps(step, top):
    data = np.random.default_rng(top).integers(0, top, (32, 32)) * step
    data[0, :2] = 0, step  # neighbouring numbers do occur
    assert native_step(data.astype(np.uint16)) == step


# Headers


def test_the_person_stands_above_the_header(tmp_path):
    frame = read_frame(write(tmp_path / "a.fits", EXPTIME=60.0, EGAIN=0.5), {"exposure_s": 61.0})
    assert frame.exposure_s() == 61
    assert frame.known.origin["exposure_s"] == "given"
    assert frame.known.origin["electrons_per_adu"] == "EGAIN"


@pytest.mark.parametrize(
    ("cards", "gain", "setting"),
    [
        ({"EGAIN": 0.25, "GAIN": 120}, 0.25, 120),
        ({"GAIN": (1.9, "e-/ADU")}, 1.9, None),
        ({"GAIN": (2, "electrons per ADU")}, 2.0, None),
        ({"GAIN": 120}, None, 120),
        ({"EGAIN": "0,25"}, 0.25, None),
    ],
)
def test_gain_or_setting(cards, gain, setting):
    header = fits.Header()
    for keyword, value in cards.items():
        header[keyword] = value
    known = read_header(header, (4, 4))
    assert (known.electrons_per_adu, known.gain_setting) == (gain, setting)


@pytest.mark.parametrize(
    ("cards", "said"),
    [
        ({"EXPTIME": "a minute"}, "EXPTIME is 'a minute', no number"),
        ({"EXPTIME": -3.0}, "EXPTIME is '-3.0', no number"),
        ({"BAYERPAT": "XTRANS"}, "BAYERPAT is 'XTRANS'"),
        ({"TRIMSEC": "[1:9999,1:4]"}, "TRIMSEC must be columns and rows within"),
    ],
)
def test_headers_that_say_nothing(cards, said):
    assert any(said in note for note in read_header(fits.Header(cards), (64, 96)).notes)


@pytest.mark.parametrize(
    ("offsets", "mosaic"), [({}, "RGGB"), ({"XBAYROFF": 1}, "GRBG"), ({"XBAYROFF": 1, "YBAYROFF": 1}, "BGGR")]
)
def test_mosaic_with_an_offset(offsets, mosaic):
    assert read_header(fits.Header({"BAYERPAT": "RGGB", **offsets}), (4, 4)).mosaic == mosaic


def test_overscan(tmp_path):
    data = pixels()
    data[:, :8] = pixels(2, (64, 8), 500)
    path = write(tmp_path / "a.fits", data.astype(np.uint16), BIASSEC="[1:8,1:64]", TRIMSEC="[9:96,1:64]")
    frame = read_frame(path)
    assert frame.shape == (64, 88)
    assert frame.overscan_adu == pytest.approx(500, abs=2)


# What is odd is noticed


@pytest.mark.parametrize(
    ("data", "cards", "said"),
    [
        (pixels() * 16, {}, "multiples of 16: 12 bits"),
        (pixels() * 4, {}, "multiples of 4: 14 bits"),
        (pixels() / 3, {}, "not whole numbers"),
        (pixels(), {"NCOMBINE": 20}, "made of 20 frames"),
        (pixels(level=100), {}, "at most 8 bits"),
    ],
)
def test_odd_frames_are_noticed(tmp_path, data, cards, said):
    whole = (data == data.round()).all()
    frame = read_frame(write(tmp_path / "a.fits", data.astype(np.uint16 if whole else np.float32), **cards))
    assert any(said in note and "a.fits" in note for note in frame.notes)


def test_nothing_odd_about_a_plain_frame(tmp_path):
    assert read_frame(write(tmp_path / "a.fits", EXPTIME=60.0, EGAIN=0.25)).notes == ()


def test_gain_that_the_noise_contradicts(tmp_path):
    # 400 electrons at 0.25 electron/ADU: noise 20 electron, 80 ADU
    data = (500 + np.random.default_rng(1).poisson(400.0, (128, 128)) / 0.25).round().astype(np.uint16)
    for gain, fits_ in ((0.25, True), (0.5, False), (0.1, False)):
        frame = read_frame(write(tmp_path / "a.fits", data, EXPTIME=60.0, EGAIN=gain))
        found = measure_sub([frame], Behind(bias_adu=500.0, read_noise_e=1.0))
        assert found.gain.fits is fits_
        assert any("contradicts EGAIN" in warning for warning in found.warnings) is not fits_


def test_pixels_without_a_number(tmp_path):
    data = pixels(shape=(128, 128))
    data[3, 4] = data[90, 17] = np.nan
    data[5, 5] = np.inf
    path = write(tmp_path / "a.fits", data.astype(np.float32), EXPTIME=60.0, EGAIN=0.25)
    found = measure_sub([read_frame(path)], Behind(bias_adu=500.0))
    assert any("3 pixels without a number" in warning for warning in found.warnings)
    assert found.colours["mono"].sky_e_s == pytest.approx(100 * 0.25 / 60, rel=0.02)


def test_ceiling():
    data = pixels(shape=(100, 100))
    assert ceiling_of(data) == np.inf
    data[:5, :5] = 4095
    assert ceiling_of(data) == 4095


# What can't be used


def cut(path):
    write(path, pixels(shape=(400, 400)).astype(np.uint16))
    os.truncate(path, 100_000)


def cut_packed(path):
    write(path.with_suffix(""), pixels(shape=(400, 400)).astype(np.uint16))
    import gzip

    whole = gzip.compress(path.with_suffix("").read_bytes())
    path.write_bytes(whole[: len(whole) // 2])


@pytest.mark.parametrize(
    ("name", "make", "said"),
    [
        ("cut.fits", cut, "is cut off"),
        ("cut.fits.gz", cut_packed, "cut off or damaged"),
        ("text.fits", lambda p: p.write_text("hello, I am a text\n" * 200), "is no FITS file"),
        ("empty.fits", lambda p: p.write_bytes(b""), "no FITS file"),
        ("zero.fits", lambda p: write(p, np.zeros((0, 4), dtype=np.uint16)), "holds no picture"),
        ("head.fits", lambda p: fits.PrimaryHDU().writeto(p), "holds no picture"),
        ("cube.fits", lambda p: write(p, np.zeros((3, 8, 8), dtype=np.uint16)), "is a cube of 3 x 8 x 8"),
        ("nan.fits", lambda p: write(p, np.full((8, 8), np.nan)), "no pixel with a number"),
        ("missing.fits", lambda _: None, "is not there"),
        ("folder.fits", lambda p: p.mkdir(), "folder.fits"),
        ("picture.png", lambda p: p.write_bytes(b"png"), "only FITS is read here"),
    ],
)
def test_files_that_can_not_be_used(tmp_path, name, make, said):
    make(tmp_path / name)
    with pytest.raises(FrameError, match=said) as error:
        read_frame(tmp_path / name)
    assert name in str(error.value)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize(
    ("cards", "behind", "said"),
    [
        ({"EGAIN": 0.25}, {"bias_adu": 500.0}, "a.fits does not say how long it was exposed"),
        ({"EXPTIME": 60.0}, {"bias_adu": 500.0}, "nothing tells the electrons per ADU of a.fits"),
        ({"EXPTIME": 60.0, "EGAIN": 0.25}, {}, "nothing tells the bias of a.fits"),
    ],
)
def test_values_that_are_missing(tmp_path, cards, behind, said):
    frame = read_frame(write(tmp_path / "a.fits", **cards))
    with pytest.raises(FrameError, match=said):
        measure_sub([frame], Behind(**behind))


def test_frames_of_different_size(tmp_path):
    frame = read_frame(write(tmp_path / "a.fits", EXPTIME=60.0, EGAIN=0.25))
    dark = read_frame(write(tmp_path / "dark.fits", pixels(shape=(32, 32)).astype(np.uint16), EXPTIME=60.0))
    with pytest.raises(FrameError, match=r"dark.fits has 32 x 32 pixels and a.fits 96 x 64"):
        measure_sub([frame], Behind(dark=dark))


def test_a_full_frame(tmp_path):
    data = np.full((64, 64), 65535, dtype=np.uint16)
    frame = read_frame(write(tmp_path / "a.fits", data, EXPTIME=60.0, EGAIN=0.25))
    with pytest.raises(FrameError, match=r"a.fits can't be used: nearly all .* 65535: it is full"):
        measure_sub([frame], Behind(bias_adu=500.0))


# Two subs


def simulated(path, seconds, seed, rate=0.6):
    data = 480 + np.random.default_rng(seed).poisson(rate * seconds, (128, 128)) / 0.25
    return read_frame(write(path, data.round().astype(np.uint16), EXPTIME=seconds, EGAIN=0.25))


def test_two_lengths_need_no_bias(tmp_path):
    frames = [simulated(tmp_path / f"{s}.fits", float(s), s) for s in (60, 240)]
    found = measure_sub(frames)
    sky = found.colours["mono"]
    assert abs(sky.sky_e_s - 0.6) < 4 * (sky.high_e_s - sky.sky_e_s)
    assert found.method == "two lengths"


def test_two_alike_give_the_noise_without_pattern(tmp_path):
    pattern = np.random.default_rng(5).normal(0, 60, (128, 128))
    frames = []
    for seed in (1, 2):
        data = 1000 + pattern + np.random.default_rng(seed).poisson(36.0, (128, 128)) / 0.25
        path = write(tmp_path / f"{seed}.fits", data.round().astype(np.uint16), EXPTIME=60.0, EGAIN=0.25)
        frames.append(read_frame(path))
    behind = Behind(bias_adu=1000.0, read_noise_e=0.0)
    assert measure_sub(frames, behind).colours["mono"].noise_e == pytest.approx(6.0, rel=0.03)
    assert measure_sub(frames[:1], behind).colours["mono"].noise_e > 10
