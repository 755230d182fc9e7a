"""The page in a browser: it loads, complains of nothing, reaches for nothing, is laid out, and prints whole.

Chromium of Debian. Skipped where there is none, since a browser is no part of what the package needs.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from ledger.faces.pack.making import Pack
from ledger.faces.pack.page import OF_A_PICTURE
from tests.faces.pack.pages import page_of

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
         "--disable-background-networking", "--disable-component-update", "--enable-logging=stderr",
         "--hide-scrollbars", "--host-resolver-rules=MAP * ~NOTFOUND"]  # fmt: skip

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here to look at the page with")

#: Measures, in the page, what sticks out of it to the right, and tells it in the title.
_LAID_OUT = """<script>addEventListener("load", () => {
  const wide = document.documentElement.clientWidth;
  const out = [...document.querySelectorAll("h1, h2, h3, p, li, dl, summary, .scroll, .drawing, nav")]
    .filter((e) => e.getBoundingClientRect().right > wide + 1 && getComputedStyle(e).position !== "absolute");
  document.title = `${document.documentElement.scrollWidth <= wide} ${out.length} ${wide}`;
});</script>"""


def _run(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    assert CHROMIUM is not None
    command = [CHROMIUM, *FLAGS, f"--user-data-dir={folder / 'profile'}", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=True, timeout=120, cwd=folder)


def _asked_for(folder: Path, page: str) -> tuple[str, list[str]]:
    """Load a page and return what the console said, and every address that it asked for (not what the browser does)."""
    (folder / "page.html").write_text(page, encoding="utf-8")
    done = _run(folder, f"--log-net-log={folder / 'net.json'}", "--dump-dom", (folder / "page.html").as_uri())
    assert "</html>" in done.stdout
    said = "\n".join(line for line in done.stderr.splitlines() if "CONSOLE" in line)
    events = json.loads((folder / "net.json").read_text(encoding="utf-8"))["events"]
    started = [e["params"] for e in events if "url" in e.get("params", {}) and "initiator" in e["params"]]
    return said, sorted({p["url"] for p in started if p["initiator"] != "not an origin"})


def test_it_loads_without_a_word_on_the_console_and_without_a_request(gold: Pack, tmp_path: Path) -> None:
    said, asked = _asked_for(tmp_path, page_of(gold))
    assert (said, asked) == ("", [])


def test_a_page_that_does_reach_out_and_complain_would_be_seen(tmp_path: Path) -> None:
    page = '<!doctype html><html><body><img src="http://127.0.0.1:9/x.png"><script>nothing()</script></body></html>'
    said, asked = _asked_for(tmp_path, page)
    assert "nothing is not defined" in said
    assert "http://127.0.0.1:9/x.png" in asked


@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_sticks_out_of_a_telephone_or_a_screen(gold: Pack, tmp_path: Path, width: int) -> None:
    page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page_of(gold))
    (tmp_path / "page.html").write_text(page.replace("</body>", f"{_LAID_OUT}</body>"), encoding="utf-8")
    frame = (
        f'<!doctype html><iframe id="f" src="page.html" width="{width}" height="900" style="border:0"></iframe><script>'
        'f.onload = () => setTimeout(() => { document.body.dataset.said = f.contentDocument.title; }, 300);</script>'
    )
    (tmp_path / "frame.html").write_text(frame, encoding="utf-8")
    done = _run(tmp_path, "--allow-file-access-from-files", "--virtual-time-budget=5000", "--dump-dom",
                (tmp_path / "frame.html").as_uri())  # fmt: skip
    (said,) = re.findall(r'data-said="([^"]*)"', done.stdout)
    assert said == f"true 0 {width}"


def test_it_prints_and_what_is_folded_on_a_screen_is_open_on_paper(gold: Pack, tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text(page_of(gold), encoding="utf-8")
    paper = tmp_path / "page.pdf"
    _run(tmp_path, f"--print-to-pdf={paper}", "--no-pdf-header-footer", (tmp_path / "page.html").as_uri())
    assert paper.read_bytes().startswith(b"%PDF-")
    text = shutil.which("pdftotext")
    if text is None:
        pytest.skip("no pdftotext here to read the paper with")
    read = subprocess.run([text, "-layout", paper, "-"], capture_output=True, text=True, check=True).stdout
    first = read.split("\f")[0]
    for words in ("Is all metal accounted for?", "short", "What to do next", "Then close the period"):
        assert words in first
    for section in gold.sections:
        assert section.title in read
    folded = [p.figures for section in gold.sections for p in section.pictures if len(p.figures.rows) <= OF_A_PICTURE]
    assert len(folded) > 5
    assert [figures.title for figures in folded if f"{figures.title}." not in " ".join(read.split())] == []
