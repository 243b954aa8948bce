"""Time from a change on the page to the changed picture, measured in headless Chromium.

``python benchmarks/page.py [RUNS]``: another headspace and another hold in the jar without probe, another headspace
in the can with one, and another depth alone; median and worst of 30. Absolute seconds depend on the machine and on
what else it does. ``python benchmarks/page.py --pictures`` makes README's pictures of the page.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "tests" / "page" / "scenes"))
from browser import Browser, Tab, served  # noqa: E402

#: JavaScript: milliseconds from a field's change until the picture, and all of the answer, are of the new case.
TIMED = """(async () => {
  const field = document.querySelector("[aria-label='%s']"), picture = document.querySelector('.picture');
  const answer = document.querySelector('.answer'), found = [NaN, NaN];
  const seen = picture.querySelector('img').src, told = answer.innerText, began = performance.now();
  field.value = '%s'; field.dispatchEvent(new Event('input', {bubbles: true}));
  for (;;) {
    await new Promise(requestAnimationFrame);
    const now = performance.now() - began;
    if (picture.querySelector('img').src !== seen) found[0] ||= now;
    if (answer.innerText !== told && !answer.classList.contains('old')) found[1] ||= now;
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


def pictures(folder: Path) -> None:
    """Make the pictures of the page at the size of a screen, and of a tablet in the other units."""
    text = (ROOT / "cases" / "can_probe.toml").read_text("utf-8")
    with tempfile.TemporaryDirectory() as case, Browser() as browser:
        path = Path(case) / "can_probe.toml"
        path.write_text(text.replace('mount = "through"', 'mount = "through"\ninsertion_mm = 58.5', 1), "utf-8")
        with served(path) as url:
            tab = browser.tab()
            tab.open(url)
            for name, size, choice in (("screen", (1280, 800), "mm °C"), ("tablet", (820, 1180), "in °F")):
                tab.size(*size)
                tab.wait("!!document.querySelector('dl.facts') && !document.querySelector('.answer.old')", 300)
                tab.ask(f"[...document.querySelectorAll('button')].find(e => e.innerText === '{choice}').click()")
                tab.listen(3.0)
                tab.picture(folder / f"page-{name}.webp")
            tab.open("about:blank")


def main() -> None:
    """Print a line for each kind of change."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("runs", type=int, nargs="?", default=30, help="changes of each kind (default: 30)")
    words.add_argument("--pictures", action="store_true", help="make README's pictures of the page instead")
    given = words.parse_args()
    if given.pictures:
        pictures(ROOT / "cases" / "pictures")
        return
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
            with served(path) as url:
                tab = browser.tab()
                tab.open(url)
                tab.wait("!!document.querySelector('dl.facts') && !document.querySelector('.answer.old')", 300)
                tab.ask(OPENED)
                tab.wait(f"!!document.querySelector(\"[aria-label='{label}']\")")
                tab.listen(1.0)
                both = timed(tab, label, [first + 0.5 * (k % 7 + 1) for k in range(given.runs)])
                tab.open("about:blank")
            told = [f"{statistics.median(one):8.2f} {max(one):7.2f}" for one in both]
            print(f"{name:32} {told[0]} {told[1]}", flush=True)


if __name__ == "__main__":
    main()
