"""Numbers of a case file by the path of their key: "fill.headspace_mm", "process.stage.hold.film_W_m2K".

A table among several is named by its ``name`` where that is its own, or by its number from 1; so is a number in a
list. Materials' names stand in a path as they are, with or without quotes.
"""

from __future__ import annotations

import copy
import dataclasses
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from thermsim.case.keys.key import Key
from thermsim.case.keys.tables import TABLES, keys_of, others_of
from thermsim.errors import InputError
from thermsim.quantities import FILM
from thermsim.text import nearest, plain

Step = str | int
Trail = tuple[Step, ...]

#: Tables whose numbers are no quantities of the case.
_NOT_VARIED = ("study", "format", "title")
#: Keys of film coefficients by table, which may hold one for each surface.
_FILMS = {
    name: key
    for table in ("process", "process.stage", "probe")
    for key in TABLES[table]
    if key.quantity is FILM
    for name, key in ((key.name, key), *((other.name, other) for other in key.others))
}


@dataclass(frozen=True)
class Place:
    """A number of a case file: its path as shown and written, its unit, "" where it has none, and its value.

    ``trail`` are the keys, and numbers in lists from 0, that lead to it in the file's tables; ``value`` is None where
    a key that may stand there is left out.
    """

    path: str
    trail: Trail
    unit: str
    value: float | None


def place_of(tables: Mapping[str, object], path: str) -> Place:
    """The number that a path leads to in the tables of a case file, as parsed.

    Raises ``InputError`` if there is none; the message offers the nearest path.
    """
    wanted = path.replace('"', "").strip()
    if wanted.split(".")[0] not in _NOT_VARIED:
        found = next(_places(tables, (), wanted), None)
        if found is not None:
            return dataclasses.replace(found, path=wanted)
    known = every_place(tables)
    alike = [place.path for place in known if _by_names(tables, place.trail) == wanted]
    if alike:
        raise InputError(
            f'"{plain(path)}" is the name of several; write its number: {" or ".join(map(plain, alike[:5]))}'
        )
    given = [place.path for place in known if place.value is not None]
    close = nearest(wanted, given, 0.75) or nearest(wanted, [place.path for place in known], 0.5)
    offer = f'did you mean "{plain(close[0])}"?' if close else f"some that do: {', '.join(map(plain, given[:3]))}"
    raise InputError(f'"{plain(path)}" leads to no number of this case; {offer}')


def every_place(tables: Mapping[str, object]) -> list[Place]:
    """Every number of the file that can be varied, in the file's order."""
    return [place for place in _all(tables, ()) if place.trail[0] not in _NOT_VARIED]


def changed(tables: Mapping[str, object], values: Mapping[Trail, float]) -> dict[str, object]:
    """Copy the tables with the numbers at some trails replaced."""
    found = copy.deepcopy(dict(tables))
    for trail, value in values.items():
        node: object = found
        for step in trail[:-1]:
            node = node[step]  # type: ignore[index]
        node[trail[-1]] = value  # type: ignore[index]
    return found


def _places(node: object, trail: Trail, rest: str) -> Iterator[Place]:
    """Nodes to which the rest of a path leads from a node, the most literal reading first."""
    if isinstance(node, list):
        for step, names in _numbered(node):
            for name in names:
                yield from _onwards(node[step], (*trail, step), name, rest)
    elif isinstance(node, dict):
        # the longest key first: materials' names may hold points
        for key in sorted(node, key=len, reverse=True):
            yield from _onwards(node[key], (*trail, key), key, rest)
        key = _keys_at(trail).get(rest)
        if key is not None and key.unit and trail and not _given(node, _heading(trail), rest):
            yield Place("", (*trail, rest), key.unit, None)


def _onwards(node: object, trail: Trail, name: str, rest: str) -> Iterator[Place]:
    if rest == name:
        if _is_number(node):
            yield Place("", trail, _unit(trail), float(node))  # type: ignore[arg-type]
    elif rest.startswith(f"{name}."):
        yield from _places(node, trail, rest[len(name) + 1 :])


def _all(node: object, trail: Trail, path: str = "") -> Iterator[Place]:
    if _is_number(node):
        yield Place(path, trail, _unit(trail), float(node))  # type: ignore[arg-type]
    elif isinstance(node, dict):
        for key, value in node.items():
            yield from _all(value, (*trail, key), f"{path}.{key}" if path else key)
        for key in _keys_at(trail, others=False).values():
            if trail and key.unit and not _given(node, _heading(trail), key.name):
                yield Place(f"{path}.{key.name}", (*trail, key.name), key.unit, None)
    elif isinstance(node, list):
        for step, names in _numbered(node):
            yield from _all(node[step], (*trail, step), f"{path}.{names[0]}")


def _numbered(node: list[object]) -> Iterator[tuple[int, list[str]]]:
    """Each item of a list with what it may be called: its name, where no other bears it, and its number from 1."""
    named = [item.get("name") if isinstance(item, dict) else None for item in node]
    count = Counter(name for name in named if isinstance(name, str))
    for step, name in enumerate(named):
        own = [name] if isinstance(name, str) and count[name] == 1 else []
        yield step, [*own, str(step + 1)]


def _by_names(tables: Mapping[str, object], trail: Trail) -> str:
    """The path with every table called by its name, be it one of several of that name."""
    node: object = tables
    called: list[str] = []
    for step in trail:
        node = node[step] if isinstance(step, int) else node.get(step)  # type: ignore[index, attr-defined]
        name = node.get("name") if isinstance(step, int) and isinstance(node, dict) else None
        called.append(name if isinstance(name, str) else str(step + 1) if isinstance(step, int) else step)
    return ".".join(called)


def _is_number(value: object) -> bool:
    # an integer may have more digits than a float can hold
    return isinstance(value, float) or (type(value) is int and abs(value) < 10**15)


def _given(node: Mapping[str, object], heading: str, name: str) -> bool:
    """Tell whether a table holds a key, in either system of units."""
    key = others_of(heading)[name][1] if name in others_of(heading) else keys_of(heading)[name]
    return any(one.name in node for one in (key, *key.others))


def _heading(trail: Trail) -> str:
    """The heading of the table at a trail, as the tables of keys are named; "none" where it is none of them."""
    names = [step for step in trail if isinstance(step, str)]
    heading = ".".join(["probe" if name == "probes" else name for name in names])
    if names[:1] == ["materials"]:
        heading = "materials" if len(names) == 2 else "none"
    elif names[:1] == ["container"] and len(names) == 2:
        heading = "container.wall"
    elif names and names[-1] in _FILMS:
        heading = "film"
    return heading if heading in TABLES else "none"


def _keys_at(trail: Trail, *, others: bool = True) -> dict[str, Key]:
    """The keys that may stand in the table at a trail; with ``others`` those of the other system of units too."""
    heading = _heading(trail)
    if heading == "none":
        return {}
    found = keys_of(heading)
    if heading == "film":  # in the unit of the key that the table stands under
        film = _FILMS[[step for step in trail if isinstance(step, str)][-1]]
        return {name: dataclasses.replace(key, given_as=film.quantity) for name, key in found.items()}
    return {**found, **{name: other for name, (other, _) in others_of(heading).items()}} if others else found


def _unit(trail: Trail) -> str:
    """The unit of the number at a trail."""
    names = [step for step in trail if isinstance(step, str)]
    last = max(k for k, step in enumerate(trail) if isinstance(step, str))
    key = _keys_at(trail[:last]).get(names[-1])
    return key.unit if key is not None else ""
