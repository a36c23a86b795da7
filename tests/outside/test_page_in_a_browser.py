"""The HTML page in headless Chromium, which is not ours: printed sheets counted, colours told apart, no complaint."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from coach.debrief.html_form import as_html
from coach.debrief.page import Debrief
from tests.debrief.pages import good_drill, page, worst

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="NOT CHECKED: no Chromium here (apt-get install chromium)")

PAPERS = {"A4": (595, 842), "Letter": (612, 792)}
PAGES: dict[str, tuple[Debrief, Debrief | None]] = {
    "good": (page(good_drill(), 115), None),
    "worst": (worst(), worst("es")),
    "worst-es": (worst("es"), worst()),
}


def chromium(*given: str, profile: Path) -> str:
    """Run it once, headless; what it complained of."""
    command = [str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={profile}"]
    done = subprocess.run(
        [*command, "--enable-logging=stderr", "--v=0", *given], capture_output=True, text=True, timeout=120, check=True
    )
    return "\n".join(line for line in done.stderr.splitlines() if "CONSOLE" in line)


def sheets(pdf: bytes) -> list[tuple[int, int]]:
    """The size of each page of a PDF in points."""
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) == len(re.findall(rb"/MediaBox", pdf))
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]", pdf)
    return [(round(float(width)), round(float(height))) for width, height in boxes]


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_page_prints_on_one_sheet(name: str, paper: str, tmp_path: Path) -> None:
    html = as_html(*PAGES[name])
    assert html.count("@page{margin") == 1
    source, pdf = tmp_path / "page.html", tmp_path / "page.pdf"
    source.write_text(html.replace("@page{margin", f"@page{{size:{paper};margin"), encoding="utf-8")
    said = chromium("--no-pdf-header-footer", f"--print-to-pdf={pdf}", source.as_uri(), profile=tmp_path / "profile")
    assert said == ""
    (sheet,) = sheets(pdf.read_bytes())
    assert sheet == pytest.approx(PAPERS[paper], abs=1)


def test_a_page_that_is_too_long_would_be_counted_as_two(tmp_path: Path) -> None:
    """The check itself can fail."""
    html = as_html(page(good_drill(), 115))
    source, pdf = tmp_path / "page.html", tmp_path / "page.pdf"
    source.write_text(re.sub(r"html\{font-size:[\d.]+pt", "html{font-size:14pt", html), encoding="utf-8")
    chromium("--no-pdf-header-footer", f"--print-to-pdf={pdf}", source.as_uri(), profile=tmp_path / "profile")
    assert len(sheets(pdf.read_bytes())) > 1


def test_a_page_follows_light_and_dark(tmp_path: Path) -> None:
    source = tmp_path / "page.html"
    source.write_text(as_html(page(good_drill(), 115)), encoding="utf-8")
    shots = []
    for scheme in ("light", "dark"):
        shot = tmp_path / f"{scheme}.png"
        given = [f"--screenshot={shot}", "--window-size=400,600", "--hide-scrollbars"]
        given += ["--blink-settings=preferredColorScheme=0"] if scheme == "dark" else []
        assert chromium(*given, source.as_uri(), profile=tmp_path / scheme) == ""
        shots.append(shot.read_bytes())
    assert shots[0] != shots[1]


def test_what_a_console_says_would_be_seen(tmp_path: Path) -> None:
    source = tmp_path / "page.html"
    source.write_text("<script>console.error('seen')</script>", encoding="utf-8")
    shot = f"--screenshot={tmp_path / 'x.png'}"
    assert "seen" in chromium(shot, source.as_uri(), profile=tmp_path / "profile")
