"""The page in a real browser: nothing from elsewhere, changes followed, dragged, played, faults, files, two tabs.

Rung: the same answer by another way (``thermsim solve`` of what the browser downloads).
"""

import re
import subprocess
import sys

import pytest

pytest.importorskip("nicegui", reason='the page is not tested without NiceGUI: pip install "thermsim[page]"')

import browser
from page_scenes import COARSE, PROBE

from thermsim.page.bench import PATIENCE

pytestmark = pytest.mark.skipif(
    browser.chromium() is None, reason="the page is NOT tested in a browser: install Debian's package chromium"
)

#: JavaScript: the words of the answer, whether it has its last, said when the hand rests, what is drawn.
ANSWER = "document.querySelector('.answer').innerText"
WHOLE = f"document.querySelector('.answer') && {ANSWER}.includes('The headspace alone moves')"
DRAWN = "document.querySelector('.picture').outerHTML"
#: JavaScript: what has the focus, by its name or its words.
FOCUSED = """(e => e.getAttribute('aria-label') || e.closest('.q-slider')?.getAttribute('aria-label') ||
  e.innerText.trim().split('\\n').pop())(document.activeElement)"""
#: JavaScript: texts whose contrast with their ground is below 4.5 to 1 (WCAG 2.1, criterion 1.4.3, from memory).
FAINT = """(() => {
  const channels = words => (words.match(/[0-9.]+/g) || []).map(Number);
  const linear = c => c <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  const light = rgb => rgb.slice(0, 3).map(c => linear(c / 255))
    .reduce((sum, c, k) => sum + c * [0.2126, 0.7152, 0.0722][k], 0);
  const ground = e => {
    for (; e; e = e.parentElement) {
      const found = channels(getComputedStyle(e).backgroundColor);
      if (found.length === 3 || found[3] > 0.99) return found;
    }
    return [255, 255, 255];
  };
  const found = new Set();
  for (const e of document.querySelectorAll('body *:not(svg *):not(script):not(style)')) {
    const words = [...e.childNodes].filter(n => n.nodeType === 3).map(n => n.data.trim()).join('');
    if (!words || !e.checkVisibility({opacityProperty: true, visibilityProperty: true})) continue;
    const [a, b] = [light(channels(getComputedStyle(e).color)), light(ground(e))];
    if ((Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05) < 4.5) found.add(words + ': ' + getComputedStyle(e).color);
  }
  return [...found];
})()"""


@pytest.fixture(scope="module")
def url(tmp_path_factory):
    """The address of a page on the coarse can, in a process of its own."""
    path = tmp_path_factory.mktemp("page") / "can.toml"
    path.write_text(COARSE + PROBE, "utf-8")
    with browser.served(path) as address:
        yield address
    assert [found.name for found in path.parent.iterdir()] == ["can.toml"]


@pytest.fixture(scope="module")
def tab(url):
    with browser.Browser() as program:
        found = program.tab()
        found.program = program
        found.open(url)
        found.wait(WHOLE)
        yield found


def _headspace_is(tab, words):
    tab.wait(f"document.body.innerText.includes('headspace {words} mm')")


def _fresh(tab):
    tab.listen(PATIENCE + 0.1)  # an answer that is not there yet is marked as old after a while
    tab.wait(f"!document.querySelector('.answer').classList.contains('old') && {WHOLE}")


def test_the_page_asks_for_nothing_that_this_machine_does_not_serve(tab, url):
    tab.listen(0.5)
    origin = url.split("/")[2]
    asked = [one for one in tab.requests if not one.startswith(("data:", "blob:", "about:"))]
    assert len(asked) > 5
    assert [one for one in asked if one.split("/")[2] != origin] == []


def test_another_headspace_changes_the_drawing_and_the_words(tab):
    answer, drawn = tab.ask(ANSWER), tab.ask(DRAWN)
    tab.type("[aria-label='headspace']", "31")
    _headspace_is(tab, "31.0")
    tab.wait(f"{ANSWER} !== {answer!r}")
    _fresh(tab)
    assert tab.ask(DRAWN) != drawn


def test_the_surface_and_the_tip_are_dragged(tab):
    before = tab.ask(ANSWER)
    places = "[...document.querySelectorAll('.picture svg polyline')]"
    # the product's surface is the first line across the container; its middle lies on the axis
    box = tab.ask(f"(() => {{ const b = {places}[0].getBoundingClientRect(); return [b.x + b.width / 4, b.y] }})()")
    tab.drag((box[0], box[1]), (box[0], box[1] + 40))
    tab.wait("!document.body.innerText.includes('headspace 31.0 mm')")
    tab.wait(f"{ANSWER} !== {before!r}")
    _fresh(tab)
    depth = "document.body.innerText.match(/insertion ([0-9.]+) mm/)[1]"
    deep = float(tab.ask(depth))
    tip = tab.ask(
        "(() => { const all = [...document.querySelectorAll('.picture svg polyline')];"
        " const b = all.find(e => e.getAttribute('stroke') === '#f0e442').getBoundingClientRect();"
        " return [b.x + b.width / 2, b.y + b.height] })()"
    )
    tab.drag((tip[0], tip[1]), (tip[0], tip[1] + 30))
    tab.wait(f"{depth} !== '{deep:.1f}'")
    assert float(tab.ask(depth)) > deep
    _fresh(tab)


def test_the_process_plays(tab):
    tab.click("button[aria-label='Play']")
    seen = tab.ask("document.querySelector('.picture img').src")
    tab.wait(f"document.querySelector('.picture img').src !== {seen!r}")
    tab.click("button[aria-label='Play']")


def test_a_fault_is_red_at_its_field_and_the_last_answer_stays(tab):
    before = tab.ask(ANSWER)
    tab.type("[aria-label='inner height']", "-5")
    tab.wait(
        "document.querySelector('.q-field--error .q-field__messages')?.innerText.includes('inner_height_mm = -5')"
    )
    assert tab.ask(ANSWER) == before
    assert tab.ask("document.querySelector('.stale').innerText").startswith("This is the last good answer")
    tab.type("[aria-label='inner height']", "113")
    tab.wait("!document.querySelector('.q-field--error')")
    _fresh(tab)


@pytest.mark.whole
def test_the_keyboard_alone_reaches_everything_and_changes_it(tab):
    seen = []
    tab.ask("document.querySelector('.units button').focus()")
    for _ in range(120):
        tab.press("Tab")
        seen.append(str(tab.ask(FOCUSED)))
        if seen[-1] == "Histories":
            break
        if seen[-1] == "Headspace in the drawing":
            before = tab.ask(ANSWER)
            tab.press("ArrowRight")
            tab.wait(f"{ANSWER} !== {before!r}")
    for reached in (
        "in °F",
        "Undo",
        "Save",
        "inner diameter",
        "Lethality",
        "Play",
        "Time",
        "Headspace in the drawing",
    ):
        assert reached in seen
    assert seen[-1] == "Histories"
    _fresh(tab)


@pytest.mark.whole
@pytest.mark.parametrize("size", [(1280, 800), (820, 1180)])
def test_nothing_is_cut_off_and_every_text_stands_out_from_its_ground(tab, size):
    tab.size(*size)
    tab.listen(0.5)
    assert tab.ask("document.documentElement.scrollWidth") <= size[0]
    for part in (".left", ".right"):
        assert tab.ask(f"(e => e.scrollWidth - e.clientWidth)(document.querySelector('{part}'))") <= 0, part
    faint = tab.ask(FAINT)
    tab.ask("document.querySelector('.short-answer').style.color = '#999'")
    assert len(tab.ask(FAINT)) == len(faint) + 1  # the check can fail
    tab.ask("document.querySelector('.short-answer').style.color = ''")
    tab.size(1280, 800)
    assert faint == []


@pytest.mark.whole
def test_hostile_names_are_shown_as_they_are_written(tab):
    tab.type("[aria-label='title']", '<img src=x onerror="window.hacked = 1">')
    tab.wait("document.querySelector('.head').innerText.includes('onerror')")
    _fresh(tab)
    assert tab.ask("window.hacked === undefined && !document.querySelector('img[src=x]')") is True


def test_a_second_tab_and_a_reload_show_the_same_case(tab, url):
    other = tab.program.tab()
    other.open(url)
    other.wait(WHOLE)
    assert other.ask(ANSWER) == tab.ask(ANSWER)
    other.type("[aria-label='headspace']", "22")
    _headspace_is(other, "22.0")
    _headspace_is(tab, "22.0")
    assert other.errors == []
    tab.send("Page.bringToFront")


@pytest.mark.long
def test_the_downloaded_case_gives_the_answer_that_is_shown(tab, tmp_path):
    _fresh(tab)
    tab.send("Browser.setDownloadBehavior", behavior="allow", downloadPath=str(tmp_path))
    tab.ask("[...document.querySelectorAll('button')].find(e => e.innerText.includes('Save')).click()")
    tab.wait("[...document.querySelectorAll('.q-item')].some(e => e.innerText.includes('Case (TOML)'))")
    tab.ask("[...document.querySelectorAll('.q-item')].find(e => e.innerText.includes('Case (TOML)')).click()")
    for _ in range(100):
        tab.listen(0.1)
        if (tmp_path / "can.toml").exists():
            break
    done = subprocess.run(
        [sys.executable, "-m", "thermsim", "solve", str(tmp_path / "can.toml"), "--quiet"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    figure = re.search(r"= ([0-9.]+) \+- ", done.stdout).group(1)
    assert f"= {figure} ±" in str(tab.ask(ANSWER)).replace("\u00a0", " ")


def test_the_console_has_nothing_to_complain_of(tab):
    tab.listen(0.3)
    assert tab.errors == []
