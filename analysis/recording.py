"""A sound recording: a WAV file read, and everything refused that would only look like one.

The samples come out as shares of full scale. Of a stereo recording the channel that stands
clearest over its own quiet is taken, because the mean of two microphones a hand's breadth apart
can cancel. Chunks of a WAV file as in the Multimedia Programming Interface and Data
Specifications 1.0, IBM and Microsoft, 1991 (from memory).
"""

from __future__ import annotations

import io
import struct
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import numpy as np
from numpy.typing import NDArray

from .errors import CaseError, Problem

Floats = NDArray[np.float64]
MOST_BYTES = 200_000_000
LEAST_RATE, MOST_RATE = 4000, 400_000
LOUDEST = 1e6
"""Most times full scale, which floats may pass; some recorders count in steps of 16 bits."""
SHORTEST = 0.1
"""The shortest sound that is taken, s."""
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_UNKNOWN_LENGTH = 0xFFFFFFFF
_BITS = {_PCM: (8, 16, 24, 32), _FLOAT: (32, 64)}
_AS_WAV = "Save it as WAV (also called PCM or lossless) on the phone, or convert it to WAV"
_OTHER_FORMATS: tuple[tuple[int, bytes, str], ...] = (
    (4, b"ftyp", "an m4a or mp4 file"),
    (0, b"OggS", "an Ogg file"),
    (0, b"fLaC", "a FLAC file"),
    (0, b"ID3", "an MP3 file"),
    (0, b"\xff\xfb", "an MP3 file"),
    (0, b"\xff\xf1", "an AAC file"),
    (0, b"caff", "a CAF file"),
    (0, b"FORM", "an AIFF file"),
    (0, b"#!AMR", "an AMR file"),
    (0, b"RF64", "a WAV file of the 64-bit kind"),
    (0, b"RIFX", "a WAV file of the other byte order"),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording:
    """A sound as one channel.

    Attributes
    ----------
    name : of the file, without its folder
    rate : samples per second, Hz
    sound : (n,), share of full scale
    channel : which channel it is, in words; empty where there is but one
    rails : (low, high), the values at which the file itself can go no further
    """

    name: str
    rate: float
    sound: Floats
    channel: str = ""
    rails: tuple[float, float] = (-1.0, 1.0)

    @property
    def length(self) -> float:
        """How long it is, s."""
        return len(self.sound) / self.rate


def read_recording(path: Path) -> Recording:
    """A WAV file: any rate from 4 kHz, 8 to 32 bit whole numbers or 32 to 64 bit floats.

    Raises
    ------
    CaseError
        The file is not there, not WAV, cut, empty, too large, or holds no numbers.
    """
    name = path.name
    held = _bytes_of(path)
    form = _header(name, held)
    rate, samples = _samples(name, held)
    sound = samples.reshape(len(samples), -1)
    good = (np.abs(sound) < LOUDEST).all(axis=1)
    if not np.all(good):
        place = int(np.flatnonzero(~good)[0]) / rate
        _refuse(name, f"holds something that is no sound at {place:.3g} s. {_AS_WAV} again.")
    if len(sound) < SHORTEST * rate:
        _refuse(name, f"holds only {len(sound) / rate:.2g} s of sound. Record at least a second.")
    chosen, words = _clearest(sound, rate)
    step = 2.0 ** (1 - form.bits) if form.tag == _PCM else 0.0
    return Recording(
        name=name,
        rate=float(rate),
        sound=sound[:, chosen],
        channel=words,
        rails=(-1.0, 1.0 - step),
    )


def clipped_samples(sound: Floats, rails: tuple[float, float] = (-1.0, 1.0)) -> NDArray[np.bool_]:
    """Which samples stand on a flat top, where microphone or file could go no further.

    A top is flat where at least eight samples crowd in the last half per cent below the largest
    and three times more than in the next 2.5 per cent; the tops of a sine put 0.7 times as many
    there (arc cosine), those of a decaying one fewer. Samples on the rails of the file are
    clipped whatever their number.
    """
    clipped = np.zeros(len(sound), dtype=bool)
    for sign, rail in ((-1.0, -rails[0]), (1.0, rails[1])):
        side: Floats = sign * sound
        top = float(np.max(side))
        if top <= 0:
            continue
        crowd = side >= 0.995 * top
        count = int(np.count_nonzero(crowd))
        shoulder = int(np.count_nonzero(side >= 0.97 * top)) - count
        on_rail = top >= rail * (1 - 1e-6) and rail > 0
        if on_rail or (count >= 8 and count >= 3 * shoulder):
            clipped |= crowd
    return clipped


@dataclass(frozen=True, slots=True, kw_only=True)
class _Form:
    """What the header says of the samples."""

    tag: int
    channels: int
    rate: int
    bits: int


def _bytes_of(path: Path) -> bytes:
    try:
        if not path.is_file():
            what = "is a folder, not a recording" if path.is_dir() else "is not there"
            _refuse(path.name, f"{what}. Give the WAV file.")
        size = path.stat().st_size
        if size > MOST_BYTES:
            _refuse(
                path.name,
                f"is {size / 1e6:.0f} MB; at most {MOST_BYTES / 1e6:.0f} MB are read. "
                "Cut the part with the taps out of it; a minute is plenty.",
            )
        return path.read_bytes()
    except OSError as error:
        _refuse(path.name, f"cannot be read: {error.strerror or error}.")


def _header(name: str, held: bytes) -> _Form:
    """The form of the samples, after every way in which a header can be wrong."""
    if not held:
        _refuse(name, "is empty. Copy it from the phone again.")
    if held[:4] != b"RIFF" or held[8:12] != b"WAVE":
        known = (what for at, magic, what in _OTHER_FORMATS if held[at:].startswith(magic))
        what = next(known, "not a WAV file")
        _refuse(name, f"is {what}, which is not read here. {_AS_WAV}.")
    chunks = _chunks(held)
    at, size = chunks.get(b"fmt ", (0, 0))
    if size < 16 or len(held) < at + 16:
        _refuse(name, f"does not say how its samples are kept. {_AS_WAV} again.")
    form = _form(held, at)
    _check_form(name, form)
    if b"data" not in chunks:
        _refuse(name, "ends before any sound. Copy it from the phone again.")
    _check_data(name, held, form, *chunks[b"data"])
    return form


def _chunks(held: bytes) -> dict[bytes, tuple[int, int]]:
    """Where the content of each chunk starts and how long it says it is, up to the sound."""
    found: dict[bytes, tuple[int, int]] = {}
    at = 12
    while at + 8 <= len(held) and b"data" not in found:
        kind, size = struct.unpack_from("<4sI", held, at)
        found.setdefault(kind, (at + 8, size))
        at += 8 + size + size % 2
    return found


def _form(held: bytes, at: int) -> _Form:
    block = held[at : at + 40].ljust(40, b"\0")
    tag, channels, rate, _, _, bits = struct.unpack_from("<HHIIHH", block)
    if tag == _EXTENSIBLE:
        (tag,) = struct.unpack_from("<H", block, 24)
    return _Form(tag=tag, channels=channels, rate=rate, bits=bits)


def _check_form(name: str, form: _Form) -> None:
    if form.tag not in _BITS:
        _refuse(name, f"holds compressed sound (kind {form.tag}). {_AS_WAV} without compression.")
    if form.bits not in _BITS[form.tag]:
        kind = "whole numbers" if form.tag == _PCM else "floats"
        right = ", ".join(str(bits) for bits in _BITS[form.tag])
        _refuse(name, f"has {form.bits} bit {kind}; {right} are read. {_AS_WAV} with 16 bit.")
    if not 1 <= form.channels <= 8:
        _refuse(name, f"has {form.channels} channels; 1 to 8 are read. {_AS_WAV} in mono.")
    if not LEAST_RATE <= form.rate <= MOST_RATE:
        _refuse(
            name,
            f"says {form.rate} samples a second; {LEAST_RATE} to {MOST_RATE} are read. "
            "Record with 44100 or 48000.",
        )


def _check_data(name: str, held: bytes, form: _Form, at: int, size: int) -> None:
    there = len(held) - at
    frame = form.channels * form.bits // 8
    if size == _UNKNOWN_LENGTH or (size == 0 and there > frame):
        _refuse(
            name,
            "does not say how long it is: the recorder stopped before it closed the file. "
            "Open and save it once more, or record again.",
        )
    if size > there + 1:
        said, left = size / (frame * form.rate), there / (frame * form.rate)
        _refuse(
            name,
            f"is cut: it says {said:.3g} s and {left:.3g} s are there. "
            "Copy it from the phone again.",
        )
    if size < frame:
        _refuse(name, "holds no sound. Record again, and look that the level moves.")


def _samples(name: str, held: bytes) -> tuple[int, Floats]:
    """Rate and samples (n, channel) as shares of full scale."""
    from scipy.io import wavfile

    try:
        with warnings.catch_warnings():
            # Chunks that it does not know are no concern of ours.
            warnings.simplefilter("ignore")
            rate, samples = wavfile.read(io.BytesIO(held))
    except Exception as error:  # A damaged header comes out of scipy as any of seven kinds.
        reason = str(error).rstrip(".") or type(error).__name__
        _refuse(name, f"has a damaged header ({reason}). {_AS_WAV} again.")
    return int(rate), _shares(samples)


def _shares(samples: NDArray[Any]) -> Floats:
    """Samples of any kind as shares of full scale; 24 bits come in the upper part of 32."""
    if samples.dtype == np.uint8:
        return (samples.astype(np.float64) - 128) / 128
    if samples.dtype.kind == "i":
        return samples.astype(np.float64) / 2.0 ** (8 * samples.dtype.itemsize - 1)
    with np.errstate(invalid="ignore"):
        return samples.astype(np.float64)


def _clearest(sound: Floats, rate: int) -> tuple[int, str]:
    """The channel whose loudest moments stand highest over its quiet ones; flat tops cost half."""
    if sound.shape[1] == 1:
        return 0, ""
    chosen = int(np.argmax([_clearness(channel, rate) for channel in sound.T]))
    words = {0: "left", 1: "right"} if sound.shape[1] == 2 else {}
    return chosen, f"{words.get(chosen, f'number {chosen + 1}')} of {sound.shape[1]} channels"


def _clearness(channel: Floats, rate: int) -> float:
    frame = max(1, rate // 50)
    whole = channel[: len(channel) // frame * frame].reshape(-1, frame)
    power = np.var(whole, axis=1)
    loud, quiet = float(np.max(power)), float(np.quantile(power, 0.2))
    share = np.count_nonzero(clipped_samples(channel)) / len(channel)
    return loud / (quiet + 1e-12) * (0.5 if share > 1e-4 else 1.0) if loud > 0 else 0.0


def _refuse(name: str, message: str) -> NoReturn:
    raise CaseError((Problem(name, 0, "", message),))
