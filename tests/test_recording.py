"""WAV files read and refused; flat tops told from round ones."""

from __future__ import annotations

import io
import struct
import wave
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.io import wavfile

from barwright.analysis.errors import CaseError
from barwright.analysis.recording import clipped_samples, read_recording

RATE = 8000
TONE = 0.5 * np.sin(2 * np.pi * 200 * np.arange(2 * RATE) / RATE)


def written(path: Path, samples: Any, rate: int = RATE) -> Path:
    wavfile.write(path, rate, samples)
    return path


def as_kind(kind: str) -> Any:
    if kind == "uint8":
        return np.round(TONE * 127 + 128).astype(np.uint8)
    if kind.startswith("int"):
        return np.round(TONE * (2.0 ** (int(kind[3:]) - 1) - 1)).astype(kind)
    return TONE.astype(kind)


@pytest.mark.parametrize(
    ("kind", "step"),
    [("uint8", 8e-3), ("int16", 4e-5), ("int32", 1e-9), ("float32", 1e-7), ("float64", 1e-15)],
)
@pytest.mark.parametrize("rate", [8000, 11025, 44100, 96000])
def test_every_kind_of_sample_comes_out_as_shares_of_full_scale(
    tmp_path: Path, kind: str, step: float, rate: int
) -> None:
    found = read_recording(written(tmp_path / "tap.wav", as_kind(kind), rate))
    assert (found.name, found.rate, found.channel) == ("tap.wav", rate, "")
    np.testing.assert_allclose(found.sound, TONE, atol=step)


def test_24_bits_are_read(tmp_path: Path) -> None:
    counts = np.round(TONE * 2**23).astype("<i4")
    with wave.open(str(tmp_path / "tap.wav"), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(3)
        file.setframerate(RATE)
        file.writeframes(counts.view(np.uint8).reshape(-1, 4)[:, :3].tobytes())
    np.testing.assert_allclose(read_recording(tmp_path / "tap.wav").sound, TONE, atol=2e-7)


def test_the_channel_that_stands_out_of_its_own_quiet_is_taken(tmp_path: Path) -> None:
    noise = np.random.default_rng(0).normal(size=len(TONE))
    burst = np.where(np.arange(len(TONE)) > RATE, TONE, 0.0)
    pair = np.stack([0.2 * burst + 0.1 * noise, burst + 0.001 * noise], axis=1)
    found = read_recording(written(tmp_path / "tap.wav", pair.astype(np.float32)))
    assert found.channel == "right of 2 channels"
    np.testing.assert_allclose(found.sound, pair[:, 1], atol=1e-6)


def header(**change: int) -> bytes:
    """A mono 16 bit file of one second, by hand, with fields changed."""
    field = {"tag": 1, "channels": 1, "rate": RATE, "bits": 16, "size": 2 * RATE} | change
    frame = field["channels"] * field["bits"] // 8
    block = struct.pack(
        "<HHIIHH",
        field["tag"],
        field["channels"],
        field["rate"],
        field["rate"] * frame,
        frame,
        field["bits"],
    )
    sound = b"data" + struct.pack("<I", field["size"]) + bytes(2 * RATE)
    body = b"WAVE" + b"fmt " + struct.pack("<I", 16) + block + sound
    return b"RIFF" + struct.pack("<I", len(body)) + body


@pytest.mark.parametrize(
    ("held", "words"),
    [
        (b"", "is empty"),
        (b"\0\0\0\x1cftypM4A ", "is an m4a or mp4 file, which is not read here. Save it as WAV"),
        (b"OggS" + bytes(60), "is an Ogg file"),
        (b"ID3" + bytes(60), "is an MP3 file"),
        (b"fLaC" + bytes(60), "is a FLAC file"),
        (b"just some words, no sound", "is not a WAV file"),
        (header()[:20], "does not say how its samples are kept"),
        (header()[:36], "ends before any sound"),
        (header(channels=0), "has 0 channels"),
        (header(tag=17), "compressed sound"),
        (header(bits=12), "has 12 bit whole numbers; 8, 16, 24, 32 are read"),
        (header(rate=0), "says 0 samples a second"),
        (header(size=4 * RATE), "is cut: it says 2 s and 1 s are there. Copy it from the phone"),
        (header(size=0xFFFFFFFF), "does not say how long it is"),
        (header(size=0)[:-15990], "holds no sound|does not say how long"),
        (header(size=200)[: 44 + 200], "holds only 0.013 s of sound"),
    ],
)
def test_what_only_looks_like_a_recording_is_refused(
    tmp_path: Path, held: bytes, words: str
) -> None:
    path = tmp_path / "tap.wav"
    path.write_bytes(held)
    with pytest.raises(CaseError, match=words) as caught:
        read_recording(path)
    assert str(caught.value).startswith("tap.wav: ")


def test_missing_file_and_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match=r"is not there\. Give the WAV file"):
        read_recording(tmp_path / "none.wav")
    with pytest.raises(CaseError, match="is a folder"):
        read_recording(tmp_path)


def test_a_huge_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    with (tmp_path / "long.wav").open("wb") as file:
        file.truncate(300_000_000)
    with pytest.raises(CaseError, match="is 300 MB; at most 200 MB are read"):
        read_recording(tmp_path / "long.wav")


@pytest.mark.parametrize("bad", [np.nan, np.inf, 1e30])
def test_what_is_no_number_is_refused_with_its_place(tmp_path: Path, bad: float) -> None:
    sound = TONE.copy()
    sound[4000] = bad
    with pytest.raises(CaseError, match=r"something that is no sound at 0\.5 s"):
        read_recording(written(tmp_path / "tap.wav", sound))


def damaged(rng: np.random.Generator, held: bytes) -> bytes:
    """A file with a few bytes changed, left out or put in, most of them in its header."""
    found = bytearray(held)
    for _ in range(int(rng.integers(1, 6))):
        at = int(rng.integers(0, 64 if rng.random() < 0.9 else len(found)))
        way = int(rng.integers(0, 4))
        if way == 0:
            found[at : at + 1] = rng.bytes(1)
        elif way == 1:
            found[at : at + 4] = struct.pack("<I", int(rng.choice([0, 1, 2**31, 2**32 - 1])))
        elif way == 2:
            del found[at : at + int(rng.integers(1, 9))]
        else:
            found[at:at] = rng.bytes(int(rng.integers(1, 9)))
    return bytes(found[: int(rng.integers(0, len(found)))] if rng.random() < 0.1 else found)


def read_or_refused(tmp_path: Path, count: int) -> int:
    """How many of so many damaged files are read; anything but a refusal comes through."""
    rng, read = np.random.default_rng(0), 0
    whole = []
    for kind in ("uint8", "int16", "int32", "float32", "float64"):
        file = io.BytesIO()
        wavfile.write(file, RATE, as_kind(kind)[:1600])
        whole.append(file.getvalue())
    path = tmp_path / "damaged.wav"
    for k in range(count):
        path.write_bytes(damaged(rng, whole[k % len(whole)]))
        try:
            found = read_recording(path)
        except CaseError:
            continue
        assert np.all(np.isfinite(found.sound))
        read += 1
    return read


def test_damaged_files_are_read_or_refused(tmp_path: Path) -> None:
    assert 0 < read_or_refused(tmp_path, 300) < 300


@pytest.mark.slow
def test_four_thousand_damaged_files_are_read_or_refused(tmp_path: Path) -> None:
    assert 0 < read_or_refused(tmp_path, 4_000) < 4_000


# --- flat tops -------------------------------------------------------------------------------


def ring(damping: float, steps: float = 2.0**15) -> Any:
    time = np.arange(24000) / 48000
    sound = 0.7 * np.exp(-2 * np.pi * 90 * damping * time) * np.sin(2 * np.pi * 90 * time)
    return np.round(sound * steps) / steps


@pytest.mark.parametrize("damping", [0.0, 0.001, 0.02])
@pytest.mark.parametrize("steps", [2.0**7, 2.0**15])
def test_round_tops_are_not_clipped(damping: float, steps: float) -> None:
    assert not np.any(clipped_samples(ring(damping, steps)))


@pytest.mark.parametrize("level", [0.3, 0.6])
def test_flat_tops_below_the_rails_are_found_where_they_are(level: float) -> None:
    whole = ring(0.005)
    clipped = clipped_samples(np.clip(whole, -level, level))
    assert np.all(clipped[np.abs(whole) > level])
    assert not np.any(clipped[np.abs(whole) < 0.98 * level])


def test_the_very_rails_are_clipped_however_few() -> None:
    sound = 0.2 * ring(0.01)
    sound[100] = 1.0
    assert np.flatnonzero(clipped_samples(sound)).tolist() == [100]
