"""The report in a real browser: it draws, turns, prints, reads aloud, and keeps to itself."""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Iterator
from pathlib import Path

import chromium
import pypdf
import pytest
from PIL import Image
from remembered import remember, solved

from barwright.analysis.bodies import write_bodies
from barwright.analysis.finished import read_finished
from barwright.analysis.record import write_record
from barwright.analysis.report import write_report

pytestmark = pytest.mark.skipif(
    chromium.PROGRAM is None, reason="no Chromium here: apt-get install chromium"
)
AXE = Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js"
AXE_SHA256 = "29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c"
"""Of axe-core 4.14.1 from the npm registry."""
COUNT_INK = """(k => {
    const c = document.querySelectorAll('canvas')[k], gl = c.getContext('webgl');
    const dots = new Uint8Array(4 * c.width * c.height);
    gl.readPixels(0, 0, c.width, c.height, gl.RGBA, gl.UNSIGNED_BYTE, dots);
    let ink = 0, sum = 0;
    for (let i = 0; i < dots.length; i += 4) {
        if (dots[i] + dots[i + 1] + dots[i + 2] < 720) ink++;
        sum = (sum * 31 + dots[i] + 7 * dots[i + 1]) % 1000003;
    }
    return [ink / (dots.length / 4), sum];
})"""


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("browser") / "bracket"
    folder.mkdir()
    with pytest.MonkeyPatch.context() as patched:
        remember(patched)
        write_record(folder, *solved("pump_bracket"))
    write_bodies(read_finished(folder))
    for name in ("deflected.png", "mode_1.png"):
        Image.new("RGB", (1600, 500), "#8a5a5c").save(folder / name)
    return write_report(folder)


@pytest.fixture(scope="module")
def browser() -> Iterator[chromium.Page]:
    with chromium.page() as page:
        yield page


@pytest.fixture(scope="module")
def page(browser: chromium.Page, report: Path) -> chromium.Page:
    """The report, opened once; a test leaves it as the next can use it."""
    browser.open(report)
    return browser


def ink(page: chromium.Page, canvas: int) -> tuple[float, int]:
    """Share of a scene that is not white, and a sum that changes with it."""
    share, total = page.run(f"{COUNT_INK}({canvas})")
    return share, total


def test_it_logs_nothing_and_asks_nothing_of_the_network(
    page: chromium.Page, report: Path
) -> None:
    page.run("document.querySelector('[data-do=play]').click()")
    page.run("new Promise(done => setTimeout(done, 400))")
    page.run("document.querySelector('[data-do=play]').click()")
    assert page.logged == []
    assert {one for one in page.asked if not one.startswith("data:")} == {report.as_uri()}


def test_both_scenes_draw(page: chromium.Page) -> None:
    assert page.run("document.querySelectorAll('figure.alive').length") == 2
    for canvas in (0, 1):
        share, _ = ink(page, canvas)
        assert 0.02 < share < 0.7
    assert page.run("getComputedStyle(document.querySelector('.stills')).display") == "none"


def test_a_mode_can_be_chosen_turned_and_played(page: chromium.Page) -> None:
    seen = [ink(page, 1)[1]]
    page.run(
        "(s => { s.value = '1'; s.dispatchEvent(new Event('change')); })"
        "(document.querySelector('select'))"
    )
    seen.append(ink(page, 1)[1])
    said = page.run("document.querySelectorAll('[data-said]')[1].textContent")
    assert said.startswith("mode 1: 360 Hz")
    assert page.run("document.querySelectorAll('canvas')[1].getAttribute('aria-label')") == said
    page.run("document.querySelectorAll('canvas')[1].scrollIntoView({block: 'center'})")
    x, y = page.run(
        "(b => [b.left + b.width / 2, b.top + b.height / 2])"
        "(document.querySelectorAll('canvas')[1].getBoundingClientRect())"
    )
    for kind, step in (("mousePressed", 0), ("mouseMoved", 80), ("mouseReleased", 80)):
        page.call(
            "Input.dispatchMouseEvent",
            type=kind,
            x=x + step,
            y=y,
            button="left",
            buttons=1,
            clickCount=1,
        )
    seen.append(ink(page, 1)[1])
    page.run("document.querySelectorAll('canvas')[1].focus()")
    for name in ("ArrowUp", "+"):
        for kind in ("keyDown", "keyUp"):
            page.call("Input.dispatchKeyEvent", type=kind, key=name)
        seen.append(ink(page, 1)[1])
    page.run("document.querySelector('[data-do=play]').click()")
    page.run("new Promise(done => setTimeout(done, 700))")
    seen.append(ink(page, 1)[1])
    page.run("document.querySelector('[data-do=play]').click()")
    assert len(set(seen)) == len(seen)


def test_views_have_the_bit_up_and_the_headstock_on_the_left(page: chromium.Page) -> None:
    """From the front, the chuck is the tallest thing, and stands left of the middle."""
    page.run("document.querySelector('[data-do=front]').click()")
    left, right = page.run(
        """(() => {
            const c = document.querySelectorAll('canvas')[0], gl = c.getContext('webgl');
            const w = c.width, h = c.height, dots = new Uint8Array(4 * w * h);
            gl.readPixels(0, 0, w, h, gl.RGBA, gl.UNSIGNED_BYTE, dots);
            const rows = [0, 0];
            for (let k = 0; k < 2; k++)
                for (let y = 0; y < h; y++)
                    for (let x = k ? w / 2 | 0 : 0; x < (k ? w : w / 2); x++)
                        if (dots[4 * (y * w + x)] < 120) { rows[k]++; break; }
            return rows;
        })()"""
    )
    assert left > 1.3 * right


def printed(page: chromium.Page, *, width: float, height: float) -> pypdf.PdfReader:
    """The report on a paper, inches, its first page looked at."""
    found = pypdf.PdfReader(io.BytesIO(page.printed(width=width, height=height)))
    assert 8 <= len(found.pages) <= 24
    box = found.pages[0].mediabox
    assert float(box.width) == pytest.approx(72 * width, abs=2)
    first = " ".join(found.pages[0].extract_text().split())
    assert "WITHIN LIMITS, BUT IT MAY CHATTER" in first
    return found


def test_it_prints_on_letter(page: chromium.Page) -> None:
    printed(page, width=8.5, height=11.0)


def test_it_prints_whole_on_a4_without_what_only_a_screen_can_use(page: chromium.Page) -> None:
    found = printed(page, width=8.27, height=11.69)
    text = " ".join(" ".join(one.extract_text() for one in found.pages).split())
    assert "Before the spindle turns" in text
    assert "From above" not in text
    assert "Checked by" in text


def test_on_a_phone_nothing_has_to_be_pushed_sideways(
    browser: chromium.Page, report: Path
) -> None:
    browser.open(report, width=390, height=844, dots=2)
    assert browser.run("document.documentElement.scrollWidth") <= 390
    size = browser.run("parseFloat(getComputedStyle(document.querySelector('td')).fontSize)")
    assert size >= 14
    heads = "[...document.querySelectorAll('button')].every(b => b.offsetHeight >= 32)"
    assert browser.run(heads)


def test_stills_stand_in_where_there_is_no_3d(report: Path) -> None:
    with chromium.page(chromium.NO_3D) as page:
        page.open(report)
        assert page.run("document.querySelectorAll('figure.alive').length") == 0
        assert page.run("getComputedStyle(document.querySelector('.stage')).display") == "none"
        assert page.run(
            "[...document.querySelectorAll('.stills img')].map(i => i.offsetHeight > 50)"
        ) == [True, True]
        # What no picture was drawn of is there in line: modes 2 to 6.
        drawn = "[...document.querySelectorAll('.stills svg')].filter(s => s.clientHeight > 50)"
        assert page.run(f"{drawn}.length") == 5
        assert "Uncaught" not in json.dumps(page.logged)


@pytest.mark.parametrize("width", [1280, 390])
def test_axe_finds_nothing_to_mend(browser: chromium.Page, report: Path, width: int) -> None:
    script = AXE.read_text(encoding="utf-8")
    assert hashlib.sha256(AXE.read_bytes()).hexdigest() == AXE_SHA256
    browser.open(report, width=width)
    browser.run(script + ";0")
    found = browser.run(
        "axe.run(document, {resultTypes: ['violations']}).then(r => JSON.stringify("
        "[r.passes.length, r.violations.map(v => [v.id, v.nodes.map(n => n.html)])]))"
    )
    passes, violations = json.loads(found)
    assert passes > 20
    assert violations == []
