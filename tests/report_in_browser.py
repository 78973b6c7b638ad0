"""Open a report in headless Chromium: what axe-core objects to, what is fetched, how it prints."""

import json
import os
import re
import shutil
import subprocess
from dataclasses import dataclass
from html import unescape
from pathlib import Path

__all__ = ["Browser", "axe_source"]

_RESULT = "probe-result"

_AXE = """
axe.run(document, {
  resultTypes: ["violations"], rules: {"target-size": {enabled: true}}  // of WCAG 2.2, off else
}).then(found => tell(found.violations.map(v => ({
  rule: v.id, what: v.help, where: v.nodes.slice(0, 5).map(n => n.html.slice(0, 160))
}))));
"""

_FETCHED = """
addEventListener("load", () => setTimeout(
  () => tell(performance.getEntriesByType("resource").map(entry => entry.name)), 500
));
"""

_WIDTHS = "tell([document.documentElement.scrollWidth, innerWidth]);"

_TELL = f"""
function show(text) {{
  const place = document.createElement("pre");
  place.id = "{_RESULT}";
  place.textContent = text;
  document.body.append(place);
}}
function tell(what) {{
  const text = JSON.stringify(what);
  if (parent === self) show(text); else parent.postMessage(text, "*");
}}
addEventListener("message", event => show(event.data));
"""

NARROWEST_PX = 500
"""Chromium's windows are no narrower; narrower pages are shown in a frame."""


def axe_source() -> Path | None:
    """axe-core's script: named by the variable AXE_CORE, or installed here by npm."""
    named = os.environ.get("AXE_CORE")
    path = Path(named) if named else Path("node_modules/axe-core/axe.min.js")
    return path if path.is_file() else None


@dataclass(frozen=True)
class Browser:
    """Headless Chromium.

    Attributes:
        program: Its path.
        scratch: A folder for its files.
    """

    program: str
    scratch: Path

    @classmethod
    def found(cls, scratch: Path) -> "Browser | None":
        """The one installed, if there is one."""
        names = ("chromium", "chromium-browser", "google-chrome")
        program = next(filter(None, map(shutil.which, names)), None)
        return cls(program, scratch) if program else None

    def run(self, *arguments: str) -> str:
        """What it writes."""
        profile = f"--user-data-dir={self.scratch / 'profile'}"
        common = ("--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", profile)
        done = subprocess.run(
            [self.program, *common, *arguments], capture_output=True, text=True, timeout=240
        )
        return done.stdout

    def violations(self, page: Path, axe: Path, *, width_px: int) -> list[dict[str, object]]:
        """What axe-core objects to at a window's width."""
        return self._probed(page, axe.read_text("utf-8"), _AXE, width_px=width_px)

    def fetched(self, page: Path) -> list[str]:
        """Every address that the page asks for besides itself."""
        return self._probed(page, _FETCHED)

    def widths(self, page: Path, *, width_px: int) -> tuple[int, int]:
        """How wide the page comes out, and the window."""
        width, shown = self._probed(page, _WIDTHS, width_px=width_px)
        return width, shown

    def _probed(self, page: Path, *scripts: str, width_px: int = 1280):
        """What scripts that run at the end of the page tell."""
        added = "".join(f"<script>{script}</script>" for script in (_TELL, *scripts))
        probed = self.scratch / "probed.html"
        probed.write_text(page.read_text("utf-8").replace("</body>", f"{added}</body>"), "utf-8")
        size = f"--window-size={max(width_px, NARROWEST_PX)},900"
        shown = probed if width_px >= NARROWEST_PX else self._framed(probed, width_px, 900)
        dump = self.run(size, "--virtual-time-budget=60000", "--dump-dom", shown.as_uri())
        found = re.search(rf'<pre id="{_RESULT}">(.*?)</pre>', dump, re.DOTALL)
        assert found, "the scripts told nothing"
        return json.loads(unescape(found[1]))

    def _framed(self, page: Path, width_px: int, height_px: int) -> Path:
        """A page that shows another one in a frame of that size."""
        framing = self.scratch / "framing.html"
        style = f"width: {width_px}px; height: {height_px}px; border: 0"
        framing.write_text(
            f'<!DOCTYPE html><html lang="en"><body style="margin: 0"><script>{_TELL}</script>'
            f'<iframe src="{page.as_uri()}" title="page" style="{style}"></iframe></body></html>',
            "utf-8",
        )
        return framing

    def pdf(self, page: Path) -> bytes:
        """The page printed."""
        target = self.scratch / "page.pdf"
        self.run(f"--print-to-pdf={target}", "--no-pdf-header-footer", page.as_uri())
        return target.read_bytes()

    def picture(self, page: Path, target: Path, *, width_px: int, height_px: int) -> None:
        """The page as a window so large shows it."""
        shown = page if width_px >= NARROWEST_PX else self._framed(page, width_px, height_px)
        size = f"--window-size={max(width_px, NARROWEST_PX)},{height_px}"
        self.run(f"--screenshot={target}", size, shown.as_uri())
