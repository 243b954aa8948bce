"""Time from a change on the page to the changed picture, measured in headless Chromium.

``python benchmarks/page.py [RUNS]``: another headspace in the jar without probe and in the can with one; median
and worst of 30. Absolute seconds depend on the machine and what else it does.
"""

from __future__ import annotations

import re
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "tests" / "page" / "scenes"))
from browser import Browser, Tab  # noqa: E402

#: JavaScript: milliseconds from a field's change until the picture, and all of the answer, are of the new case.
TIMED = """(async () => {
  const field = document.querySelector("[aria-label='%s']"), picture = document.querySelector('.picture');
  const seen = picture.querySelector('img').src, began = performance.now(), found = [NaN, NaN];
  const stale = () => getComputedStyle(document.querySelector('.stale')).display !== 'none';
  field.value = '%s'; field.dispatchEvent(new Event('input', {bubbles: true}));
  let old = false;
  for (;;) {
    await new Promise(requestAnimationFrame);
    const now = performance.now() - began;
    old = old || stale();
    if (old && !picture.classList.contains('old') && picture.querySelector('img').src !== seen) found[0] ||= now;
    if (old && !stale()) found[1] ||= now;
    if (found[0] && found[1] || now > 60000) return found;
  }
})()"""


#: JavaScript: all parts of the form opened.
OPENED = (
    "document.querySelectorAll('.part > :first-child > .q-item[aria-expanded=false]').forEach(head => head.click())"
)


def timed(tab: Tab, label: str, values: list[float]) -> list[list[float]]:
    """Seconds from each change of a field to its picture, and to all of its answer."""
    found = []
    for value in values:
        found.append([float(one) / 1e3 for one in tab.ask(TIMED % (label, value))])  # type: ignore[union-attr]
        tab.listen(0.3)
    return [list(one) for one in zip(*found, strict=True)]


def main() -> None:
    """Print a line for each kind of change."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    jar = (ROOT / "cases" / "jar.toml").read_text("utf-8")
    can = (ROOT / "cases" / "can_probe.toml").read_text("utf-8")
    deep = can.replace('mount = "through"', 'mount = "through"\ninsertion_mm = 54.0', 1)
    kinds = [
        ("jar without probe: headspace", jar, "headspace", 12.0),
        ("jar without probe: hold", jar, "minutes", 12.0),
        ("can with probe: headspace", deep, "headspace", 6.0),
        ("can with probe: depth alone", deep, "insertion", 54.0),
    ]
    print(f"{'seconds, median and worst':32} {'to the picture':>16} {'to all words':>16}")
    with tempfile.TemporaryDirectory() as folder, Browser() as browser:
        for name, text, label, first in kinds:
            path = Path(folder) / "case.toml"
            path.write_text(text, "utf-8")
            command = [sys.executable, "-m", "thermsim", "page", str(path), "--no-browser"]
            with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as server:
                found = re.search(r"http\S+", server.stdout.readline() if server.stdout else "")
                tab = browser.tab()
                tab.open(found.group() if found else "")
                tab.wait("!!document.querySelector('dl.facts') && !document.querySelector('.answer.old')", 300)
                tab.ask(OPENED)
                tab.wait(f"!!document.querySelector(\"[aria-label='{label}']\")")
                tab.listen(1.0)
                both = timed(tab, label, [first + 0.5 * (k % 7 + 1) for k in range(runs)])
                tab.open("about:blank")
                server.send_signal(2)
            told = [f"{statistics.median(one):8.2f} {max(one):7.2f}" for one in both]
            print(f"{name:32} {told[0]} {told[1]}", flush=True)


if __name__ == "__main__":
    main()
