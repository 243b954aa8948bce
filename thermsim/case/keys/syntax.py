"""Text to TOML tables; text that is no TOML is one line with its place and what was probably meant."""

from __future__ import annotations

import re
import tomllib

from thermsim.errors import CaseError
from thermsim.text import plain

_HEADING = re.compile(r"\[\s*([^\[\]]+?)\s*\]")
# More parts between dots than any key has: reading such keys takes time with the square of their number.
_ENDLESS = re.compile(r"""(?<![\w"'.-])[\w"'-]+(?:[ \t]*\.[ \t]*[\w"'-]+){30}""")
_KEY = re.compile(r"""["']?([\w-]+)["']?\s*=""")
# Texts and remarks, in which brackets are none, and brackets.
_TOKEN = re.compile(r'''"""(?:.|\n)*?"""|"(?:\\.|[^"\\\n])*"|'[^'\n]*'|#[^\n]*|[\[\]{}]''')


def parsed(text: str, name: str) -> dict[str, object]:
    """The tables of a TOML text, with or without a byte-order mark; ``name`` is what the message calls it.

    Raises ``CaseError`` if it is no TOML.
    """
    endless = _ENDLESS.search(text)
    if endless:
        line = text.count("\n", 0, endless.start()) + 1
        raise CaseError([f"{name} line {line}: {plain(endless.group())} has more parts between dots than any key"])
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))
    except RecursionError:
        raise CaseError([f"{name}: is not valid TOML: brackets are nested too deeply"]) from None
    except ValueError as failure:
        raise CaseError([_fault(text, name, str(failure))]) from None


def _fault(text: str, name: str, reason: str) -> str:
    """One line about text that is no TOML: the line's number, what is wrong there, and the line itself."""
    match = re.search(r" \(at line (\d+), column (\d+)\)$", reason)
    left_open = _left_open(text, (int(match[1]), int(match[2])) if match else None)
    if left_open:
        line = text.split("\n")[left_open - 1].strip()
        return (
            f"{name} line {left_open}: is not valid TOML: a bracket [ is opened here and never closed: {plain(line)}"
        )
    if match is None:
        what = re.sub(r" \(at end of document\)$", " at the end of the file", reason)
        return f"{name}: is not valid TOML: {plain(what[:1].lower() + what[1:], 120)}"
    number = int(match.group(1))
    lines = text.split("\n")
    line = lines[number - 1].strip() if number <= len(lines) else ""
    what = plain(reason[: match.start()], 120)
    twice = _given_twice(what, line)
    if twice:
        return f"{name} line {number}: {plain(twice)} is given twice; one of them must go: {plain(line)}"
    return f"{name} line {number}: is not valid TOML: {what[:1].lower() + what[1:]}{_hint(what, line)}: {plain(line)}"


def _left_open(text: str, at: tuple[int, int] | None) -> int:
    """The line of a [ that is still open where the next key or heading, or the end, cannot be read; 0 if none is.

    ``at`` is line and column there.
    """
    lines = text.split("\n")
    if at is not None and not re.match(r"\s*(?:\[|[\w\"'.-]+\s*=)", lines[at[0] - 1]):
        return 0
    end = len(text) if at is None else sum(len(line) + 1 for line in lines[: at[0] - 1])
    opened: list[tuple[str, int]] = []
    for token in _TOKEN.finditer(text, 0, end):
        if token[0] in "[{":
            opened.append((token[0], text.count("\n", 0, token.start()) + 1))
        elif token[0] in "]}" and opened:
            opened.pop()
    return opened[0][1] if opened and opened[0][0] == "[" else 0


def _given_twice(what: str, line: str) -> str:
    """The key or heading that stands there a second time; "" if that is not what is wrong."""
    inline = re.match(r"Duplicate inline table key '(.*)'", what)
    if inline:
        return inline.group(1)
    heading, key = _HEADING.match(line), _KEY.match(line)
    if "Cannot declare" in what and heading:
        return f"[{heading.group(1)}]"
    return key.group(1) if "Cannot overwrite" in what and key else ""


#: What a line that cannot be read may be, the likeliest first, and what it should be.
_HINTS = (
    (r",\s*\}", "no comma before }"),
    (r"\{[^}]*$", "{ ... } stands on one line"),
    (r"=\s*\[[^\]#]*;", "commas part the numbers of a list"),
    (r"=\s*[-+]?\d[\d.]*\s*[\"']", "write the number alone; the unit is in the key"),
    (r"=\s*\"[^\"]*\"[^#,}\]]*\"", 'a " within a text is written \\"'),
    (r"^[^#'\"]*(?:\"[^\"]*\"[^#'\"]*)*\"[^\"]*$", 'a text ends with ", too'),
    (r"=\s*[^\s\[{\"'#]+\s*[,;]\s*\w+\s*=", "each key stands on a line of its own"),
    (r"=\s*[-+]?\d+,\d", "decimals take a point"),
    (r"[“”„‟‘’]", 'texts take straight quotes, "..."'),
    (r"=\s*(?:\"[^\"]*\"|[^#\"']*[\d\]}])\s*(?:;|//)", "remarks begin with #"),
    (r"=\s*\d+:\d\d", "a time is a number of minutes, such as 70.5"),
    (r"=\s*(?:\d+[ -])?\d+/\d", "fractions are written as decimals, such as 1.875"),
    (r"=\s*\d{1,3}(?: \d{3})+(?!\d)", "a number is written without blanks"),
    (r"=\s*[-+]?\d[\d.]*\s*[A-Za-z%°µ]", "write the number alone; the unit is in the key"),
    (r"=\s*[A-Za-z]", 'texts are written in quotes, "..."'),
)


def _hint(what: str, line: str) -> str:
    """Likely meaning of the line, as the end of a sentence."""
    if line.startswith("[[") and "overwrite" in what.lower():
        return "; an earlier heading of that name has single brackets"
    if line.startswith("{") and what == "Unclosed array":
        return "; a comma is missing at the end of the line before"
    return next((f"; {hint}" for pattern, hint in _HINTS if re.search(pattern, line)), "")
