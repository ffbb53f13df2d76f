"""Feed the readers with what a coverage-guided fuzzer makes up, until one of them breaks.

Run it by hand, with atheris installed beside barwright (``pip install atheris``)::

    python tests/fuzz/readers.py case -max_total_time=300

What stands behind the name of the reader goes to libFuzzer. It starts from the shipped files and
those the tests refuse. A reader may give an answer or raise a `BarwrightError` (a `UnitError` for
a quantity, a `ValueError` for a fit); anything else, two seconds without an answer and 500 MB end
the run, and what was read is left in ``crash-*``, ``timeout-*`` or ``oom-*``. Each such file
becomes a test with a name.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import atheris

CHECKOUT = Path(__file__).parents[2]
CASES = CHECKOUT / "cases"
Reader = Callable[[bytes, Path], object]
with atheris.instrument_imports(include=["barwright.analysis"]):
    from barwright.analysis.bore_log import read_bore_log
    from barwright.analysis.casefile import parse_case, read_case_file, read_source
    from barwright.analysis.errors import BarwrightError, CaseError
    from barwright.analysis.finished import read_finished
    from barwright.analysis.fits import hole_deviations
    from barwright.analysis.jobfile import read_job_file
    from barwright.analysis.measured_rows import MeasuredRow, with_measured
    from barwright.analysis.push import read_push
    from barwright.analysis.recording import read_recording
    from barwright.analysis.run_out_readings import read_run_out
    from barwright.analysis.units import EXAMPLES, UnitError, parse_fit, parse_quantity, show
    from barwright.analysis.variant_table import read_variants, varied

KINDS = tuple(EXAMPLES)
PUMP = read_case_file(CASES / "pump_bracket.yaml")
ROW = MeasuredRow(
    what="supports.tail.radial_stiffness",
    value="20 N/um (17 to 24)",
    date="1 May",
    how="push",
)
TABLES = (
    *("deflection.csv", "modes.csv", "shakes.csv", "passes.csv", "loop.csv", "history.csv"),
    *("summary.json", "plan.json", "case.yaml"),
)


def _quantity(content: bytes, _: Path) -> None:
    """First byte says which kind; what is read is shown again."""
    kind = KINDS[content[0] % len(KINDS)] if content else "length"
    text = content[1:].decode("utf-8", "surrogateescape")
    try:
        show(parse_fit(text) if kind == "fit" else parse_quantity(text, kind), kind)
    except UnitError as refused:
        assert str(refused).isascii()


def _fit(content: bytes, _: Path) -> None:
    text = content.decode("utf-8", "replace")
    size, hole = f"{text} ".split(" ", 1)
    with suppress(UnitError):
        parse_fit(text)
    with suppress(ValueError):
        hole_deviations(float(size), hole)


def _measured(content: bytes, file: Path) -> None:
    """A measured row put into any case that reads at all."""
    file.write_bytes(content)
    source = read_source(file)
    parse_case(source)
    with_measured(source, [ROW])


def _variants(content: bytes, file: Path) -> None:
    file.write_bytes(content)
    for row in read_variants(file, PUMP).rows[:3]:
        try:
            varied(PUMP, row)
        except CaseError:
            continue


def _finished(content: bytes, file: Path) -> None:
    """First byte says which file of a finished folder the rest takes the place of."""
    spoilt = file.parent / TABLES[content[0] % len(TABLES) if content else 0]
    was = spoilt.read_bytes() if spoilt.exists() else None
    spoilt.write_bytes(content[1:])
    try:
        read_finished(file.parent)
    finally:
        spoilt.unlink() if was is None else spoilt.write_bytes(was)


def _from(read: Callable[[Path], object]) -> Reader:
    def reader(content: bytes, file: Path) -> object:
        file.write_bytes(content)
        return read(file)

    return reader


READERS: dict[str, Reader] = {
    "quantity": _quantity,
    "fit": _fit,
    "case": _from(read_case_file),
    "job": _from(read_job_file),
    "push": _from(read_push),
    "bores": _from(read_bore_log),
    "run-out": _from(read_run_out),
    "variants": _variants,
    "recording": _from(read_recording),
    "measured": _measured,
    "finished": _finished,
}


def _seeds(name: str, folder: Path) -> Iterator[bytes]:
    """What a reader is known to read, and what it is known to refuse."""
    if name in ("quantity", "fit"):
        for place, examples in enumerate(EXAMPLES.values()):
            for text in examples.split(", "):
                yield (bytes([place]) if name == "quantity" else b"") + text.encode()
    elif name in ("case", "measured"):
        for path in (*CASES.glob("*.yaml"), *CHECKOUT.glob("tests/broken_cases/*.yaml")):
            yield path.read_bytes()
    elif name == "job":
        for path in (*CASES.glob("jobs/*.yaml"), *CHECKOUT.glob("tests/broken_jobs/*.yaml")):
            yield path.read_bytes()
    elif name == "recording":
        from scipy.io import wavfile

        for kind in ("uint8", "int16", "int32", "float32", "float64"):
            path = folder / "seed.wav"
            wavfile.write(path, 4000, _beat(kind))
            yield path.read_bytes()
    elif name == "finished":
        for place, table in enumerate(TABLES):
            there = (folder / table).exists()
            yield bytes([place]) + ((folder / table).read_bytes() if there else b"")
    else:
        for path in (*CASES.glob("readings/*.csv"), *CASES.glob("*.csv")):
            yield path.read_bytes()


def _beat(kind: str) -> object:
    """A tenth of a second and a little more of two channels."""
    import numpy as np

    sound = 0.5 * np.sin(np.arange(900.0)).reshape(-1, 2)
    if kind == "uint8":
        return (sound * 127 + 128).astype(kind)
    return sound.astype(kind) if kind.startswith("f") else (sound * 2**14).astype(kind)


def _words(folder: Path) -> Path:
    """A dictionary for libFuzzer: the keys of a case and the names of units."""
    from barwright.analysis.keys import value_names

    words = {part for name in value_names() for part in (name, name.rpartition(".")[2] + ": ")}
    words |= {example for one in EXAMPLES.values() for example in one.split(", ")}
    words |= {"none", "nan", "inf", "1e999", ": ", "\\x0a- {", "measured:\\x0a  - {what: "}
    words |= {"kind: chuck", "kind: live centre", "RIFF", "WAVE", "fmt ", "data", "H7", "JS8"}
    path = folder / "words.dict"
    path.write_text("".join(f'"{word}"\n' for word in sorted(words) if word.isascii()))
    return path


def _finished_folder(folder: Path) -> None:
    """Results of the pump bracket, as a run leaves them."""
    from barwright.analysis.record import write_record
    from barwright.analysis.run import analyse

    write_record(folder, PUMP, analyse(PUMP.case))


def main() -> None:
    """Fuzz the reader that is named first."""
    name = sys.argv[1] if len(sys.argv) > 1 else ""
    if name not in READERS:
        sys.exit(f"name a reader first: {', '.join(READERS)}")
    with tempfile.TemporaryDirectory() as there:
        folder = Path(there)
        work, corpus = folder / "work", folder / "corpus"
        work.mkdir()
        corpus.mkdir()
        if name == "finished":
            _finished_folder(work)
        for number, seed in enumerate(_seeds(name, work)):
            (corpus / f"{number}").write_bytes(seed)
        file = work / ("any.wav" if name == "recording" else "any.yaml")

        def one(content: bytes) -> None:
            try:
                READERS[name](content, file)
            except BarwrightError as refused:
                assert str(refused).isascii()

        limits = ["-timeout=2", "-rss_limit_mb=1024", "-malloc_limit_mb=300", "-max_len=4096"]
        words = f"-dict={_words(folder)}"
        atheris.Setup([sys.argv[0], *limits, words, *sys.argv[2:], str(corpus)], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
