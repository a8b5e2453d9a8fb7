"""A report in a real browser: drawn, silent, needing nothing from outside, and printed."""

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

import shared

pytestmark = pytest.mark.functional

OUTBY = Path(sys.executable).with_name("outby")
GOLDEN = shared.path("journals", "kiln-lane.journal")
PAPER = {"A4": (595, 842), "Letter": (612, 792)}
"""In points, 1/72 inch: ISO 216, 210 x 297 mm; ANSI Letter, 8.5 x 11 inch."""
Browser = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Browser:
    """Open a page without a screen; no name of any host is known to it."""
    program = shutil.which("chromium") or shutil.which("google-chrome")
    assert program, "chromium is missing: make test installs it where it can"
    profile = tmp_path_factory.mktemp("profile")

    def run(page: Path, *options: str) -> "subprocess.CompletedProcess[str]":
        sandbox = ["--no-sandbox"] if os.geteuid() == 0 else []
        return subprocess.run(
            [
                program, "--headless", "--disable-gpu", "--hide-scrollbars", *sandbox,
                f"--user-data-dir={profile}", "--host-resolver-rules=MAP * ~NOTFOUND",
                "--enable-logging=stderr", *options, page.as_uri(),
            ],
            capture_output=True, text=True, timeout=120, check=True,
        )  # fmt: skip

    return run


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The golden journal's report, made by the program."""
    path = tmp_path_factory.mktemp("report") / "kiln-lane.html"
    subprocess.run([OUTBY, "report", GOLDEN, "-o", path], check=True, timeout=120)
    return path


def looked_at(browser: Browser, page: Path, folder: Path) -> tuple[list[str], list[str], Path]:
    """What the page said on the console, what it asked the network for, and a picture of it."""
    shot, net = folder / "shot.png", folder / "net.json"
    run = browser(page, f"--screenshot={shot}", f"--log-net-log={net}", "--window-size=1100,3000")
    said = [line for line in run.stderr.splitlines() if ":CONSOLE:" in line]
    events = json.loads(net.read_text("utf-8"))["events"]
    # The browser itself asks for its own updates; what a page of a file asks for is marked so.
    asked = [
        params["url"]
        for event in events
        if "file://" in (params := event.get("params", {})).get("network_isolation_key", "")
        and "url" in params
    ]
    return said, asked, shot


def test_it_is_drawn_without_a_complaint_and_without_a_request(
    browser: Browser, page: Path, tmp_path: Path
) -> None:
    said, asked, shot = looked_at(browser, page, tmp_path)
    assert (said, asked) == ([], [])
    with Image.open(shot) as picture:
        assert picture.size == (1100, 3000)
        counts = picture.convert("L").histogram()
    # White paper, black letters, and the drawings' greys between them.
    assert counts[255] > 1_000_000
    assert sum(counts[:60]) > 10_000
    assert sum(counts[60:200]) > 10_000


def test_a_complaint_or_a_request_would_have_been_seen(
    browser: Browser, page: Path, tmp_path: Path
) -> None:
    """So the test above can fail."""
    worse = tmp_path / "worse.html"
    added = '<main><img src="http://example.test/a.png" alt=""><script>nothing()</script>'
    worse.write_text(page.read_text("utf-8").replace("<main>", added), "utf-8")
    said, asked, _ = looked_at(browser, worse, tmp_path)
    assert any("nothing is not defined" in line for line in said)
    assert "http://example.test/a.png" in asked


def test_what_the_browser_made_of_it_is_whole(browser: Browser, page: Path) -> None:
    dom = browser(page, "--dump-dom").stdout
    assert dom.count("<svg") == page.read_text("utf-8").count("<svg") == 9
    assert dom.count("</table>") == page.read_text("utf-8").count("</table>")


@pytest.mark.parametrize("paper", PAPER)
def test_it_prints(browser: Browser, page: Path, tmp_path: Path, paper: str) -> None:
    """Two pages a wearer and a few more; each of the size asked for."""
    sized, pdf = tmp_path / "sized.html", tmp_path / "out.pdf"
    text = page.read_text("utf-8")
    sized.write_text(text.replace("</style>", f"@page {{ size: {paper} }}</style>", 1), "utf-8")
    browser(sized, f"--print-to-pdf={pdf}", "--no-pdf-header-footer")
    boxes = re.findall(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", pdf.read_bytes())
    assert {(round(float(w)), round(float(h))) for w, h in boxes} == {PAPER[paper]}
    assert 16 <= len(boxes) <= 40
