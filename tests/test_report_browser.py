"""The pages in a real browser: nothing leaves, nothing is refused, nothing overflows, and paper has one or two pages.

Needs Debian's `chromium` (or its name elsewhere) on the path; see `tests/optional.py`.
"""

from __future__ import annotations

import json
import re
import socketserver
import subprocess
import threading
from collections.abc import Iterator
from html import escape, unescape
from pathlib import Path

import pytest

from connector_check.analysis.examine import Settings
from connector_check.cli.report import job_html, rework_html
from connector_check.job import load_job
from tests.optional import browser
from tests.test_report import EXAMPLE, hostile_job

BROWSER = browser()
FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-default-apps",
    "--hide-scrollbars",
    "--enable-logging=stderr",
)
HALF_PAGE_PT = 842 / 2

pytestmark = pytest.mark.needs("browser")

MEASURE = """
const frame = document.querySelector('iframe');
const shown = (doc, selector) => doc.defaultView.getComputedStyle(doc.querySelector(selector));
frame.onload = () => {
  const doc = frame.contentDocument, root = doc.documentElement, found = {};
  found.width = root.clientWidth; found.scroll = root.scrollWidth;
  found.outside = [...doc.querySelectorAll('body *')].filter(e => !e.closest('.roll') &&
    e.getBoundingClientRect().right > root.clientWidth + 1).map(e => e.tagName + ' ' + e.className);
  const first = doc.querySelector('article'), finding = first ? first.id : '';
  if (finding) {
    const joint = doc.querySelector(`#${finding} a[href^="#joint-"]`).className;
    found.before = shown(doc, `.${joint} .pad`).strokeWidth;
    frame.contentWindow.focus();
    doc.querySelector(`#${finding} a`).focus();
    found.focused = shown(doc, `.${joint} .pad`).strokeWidth;
    found.others = [...doc.querySelectorAll('.joint')].some(e => doc.defaultView.getComputedStyle(e).opacity < 1);
    doc.querySelector(`#${finding} a`).blur();
    frame.contentWindow.location.hash = finding;
    found.target = shown(doc, `.${joint} .pad`).strokeWidth;
  }
  document.body.textContent = JSON.stringify(found);
};
"""


def browse(folder: Path, page: Path, *more: str) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(
        [BROWSER, *FLAGS, f"--user-data-dir={folder / 'profile'}", *more, page.as_uri()],
        capture_output=True,
        text=True,
        timeout=120,
        encoding="utf-8",
        errors="replace",
    )
    assert done.returncode == 0, done.stderr
    return done


def console(done: subprocess.CompletedProcess[str]) -> list[str]:
    return [line for line in done.stderr.splitlines() if ":CONSOLE" in line]


def first_round(folder: Path) -> Path:
    path = folder / "round1.csv"
    path.write_text("\n".join(EXAMPLE.read_text(encoding="utf-8").splitlines()[:38]) + "\n", encoding="utf-8")
    return path


def write_pages(folder: Path) -> dict[str, Path]:
    """The example, its first round and the hostile job, as report and as card."""
    found = {}
    for name, job in (("clear", EXAMPLE), ("rework", first_round(folder)), ("hostile", hostile_job(folder))):
        loaded = load_job(str(job))
        for kind, html in (("report", job_html(loaded, Settings())[1]), ("card", rework_html(loaded, Settings())[1])):
            found[f"{name}-{kind}"] = folder / f"{name}-{kind}.html"
            found[f"{name}-{kind}"].write_text(html, encoding="utf-8")
    return found


@pytest.fixture(scope="module")
def pages(tmp_path_factory) -> dict[str, Path]:
    return write_pages(tmp_path_factory.mktemp("pages"))


class Listener:
    """Stands where the whole network would be, and notes the hosts that the browser asks for."""

    def __init__(self) -> None:
        asked = self.asked = []

        class Handler(socketserver.StreamRequestHandler):
            def handle(self) -> None:
                asked.append(self.rfile.readline().decode("latin-1").strip())
                self.wfile.write(b"HTTP/1.1 404 none\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")

        self.server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Handler)
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()


@pytest.fixture
def network() -> Iterator[Listener]:
    listener = Listener()
    yield listener
    listener.server.shutdown()
    listener.server.server_close()


def asked_by(page: Path, folder: Path, network: Listener) -> tuple[list[str], list[str]]:
    """What loading a page asked the network for, without the browser's own errands, and its console lines."""
    done = browse(
        folder,
        page,
        f"--proxy-server=127.0.0.1:{network.port}",
        "--proxy-bypass-list=<-loopback>",
        "--virtual-time-budget=3000",
        "--dump-dom",
    )
    own = re.compile(r"\b[a-z0-9.-]*(google|gvt1|gstatic)[a-z.]*\b")
    return [line for line in network.asked if not own.search(line)], console(done)


@pytest.mark.parametrize("name", ["clear-report", "rework-card", "hostile-report", "hostile-card"])
def test_no_request_leaves_and_the_console_stays_empty(name, pages, tmp_path, network):
    assert asked_by(pages[name], tmp_path, network) == ([], [])


def test_the_listener_would_hear_a_request(tmp_path, network):
    page = tmp_path / "asking.html"
    page.write_text("<!doctype html><img src='http://sentinel.invalid/x'><script>console.error('heard')</script>")
    asked, lines = asked_by(page, tmp_path, network)
    assert any("sentinel.invalid" in line for line in asked) and any("heard" in line for line in lines)


@pytest.mark.parametrize("width", [360, 1600])
@pytest.mark.parametrize(
    "name", ["clear-report", "rework-report", "hostile-report", "clear-card", "rework-card", "hostile-card"]
)
def test_nothing_overflows_and_focus_shows_the_joints(name, width, pages, tmp_path):
    html = escape(pages[name].read_text(encoding="utf-8"))
    frame = tmp_path / "frame.html"
    frame.write_text(
        f"<!doctype html><meta charset=utf-8><body><iframe style='border:0;width:{width}px;height:1200px' "
        f'srcdoc="{html}"></iframe><script>{MEASURE}</script></body>',
        encoding="utf-8",
    )
    done = browse(tmp_path, frame, "--window-size=1700,1300", "--virtual-time-budget=3000", "--dump-dom")
    body = re.search(r"<body>(\{.*\})</body>", done.stdout)
    assert body, done.stdout[-500:] + done.stderr
    found = json.loads(unescape(body[1]))
    assert found["width"] == width and found["scroll"] <= width and found["outside"] == []
    if name.endswith("report"):
        assert found["before"] != "4px" and found["target"] == "4px" and found["focused"] == "4px"


@pytest.mark.parametrize(
    ("name", "most"), [("clear-report", 3), ("rework-report", 2), ("clear-card", 1), ("rework-card", 1)]
)
def test_paper(name, most, pages, tmp_path):
    out = tmp_path / "page.pdf"
    browse(tmp_path, pages[name], "--no-pdf-header-footer", f"--print-to-pdf={out}")
    count = len(re.findall(rb"/Type\s*/Page\b", out.read_bytes()))
    assert 1 <= count <= most


def test_the_card_takes_half_a_page(pages, tmp_path):
    html = pages["rework-card"].read_text(encoding="utf-8")
    half = tmp_path / "half.html"
    half.write_text(html.replace("@page{size:A4", "@page{size:210mm 148mm"), encoding="utf-8")
    out = tmp_path / "half.pdf"
    browse(tmp_path, half, "--no-pdf-header-footer", f"--print-to-pdf={out}")
    raw = out.read_bytes()
    heights = [float(h) for h in re.findall(rb"/MediaBox\s*\[\s*0 0 [\d.]+ ([\d.]+)\s*\]", raw)]
    assert len(heights) == 1 and heights[0] <= HALF_PAGE_PT
