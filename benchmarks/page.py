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

#: JavaScript: milliseconds from a field's change until the answer is of the case as it stands and has been painted.
TIMED = """(async () => {
  const field = document.querySelector("[aria-label='%s']"), began = performance.now();
  const seen = document.querySelector('.picture img').src, stale = () => getComputedStyle(
    document.querySelector('.stale')).display !== 'none';
  field.value = '%s'; field.dispatchEvent(new Event('input', {bubbles: true}));
  let old = false;
  for (;;) {
    await new Promise(requestAnimationFrame);
    old = old || stale();
    if (old && !stale() && document.querySelector('.picture img').src !== seen) return performance.now() - began;
    if (performance.now() - began > 60000) return NaN;
  }
})()"""


def timed(tab: Tab, label: str, values: list[float]) -> list[float]:
    """Seconds from each change of a field to its picture."""
    seconds = []
    for value in values:
        seconds.append(float(str(tab.ask(TIMED % (label, value)))) / 1e3)
        tab.listen(0.3)
    return seconds


def main() -> None:
    """Print a line for each kind of change."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    can = (ROOT / "cases" / "can_probe.toml").read_text("utf-8")
    deep = can.replace('mount = "through"', 'mount = "through"\ninsertion_mm = 54.0', 1)
    kinds = [
        ("jar without probe: headspace", (ROOT / "cases" / "jar.toml").read_text("utf-8"), "headspace", 12.0),
        ("can with probe: headspace", deep, "headspace", 6.0),
    ]
    with tempfile.TemporaryDirectory() as folder, Browser() as browser:
        for name, text, label, first in kinds:
            path = Path(folder) / "case.toml"
            path.write_text(text, "utf-8")
            command = [sys.executable, "-m", "thermsim", "page", str(path), "--no-browser"]
            with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as server:
                found = re.search(r"http\S+", server.stdout.readline() if server.stdout else "")
                tab = browser.tab()
                tab.open(found.group() if found else "")
                tab.wait("!!document.querySelector('dl.facts')", 300)
                tab.listen(1.0)
                seconds = timed(tab, label, [first + 0.5 * (k % 7 + 1) for k in range(runs)])
                server.send_signal(2)
            print(f"{name:32} median {statistics.median(seconds):.2f} s, worst {max(seconds):.2f} s", flush=True)


if __name__ == "__main__":
    main()
