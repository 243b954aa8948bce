"""The layout: imports point one way, files stay small, importing is cheap, nothing loads before it is needed."""

from __future__ import annotations

import ast
import functools
import re
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "thermsim"

#: Rooms from the bottom up; a room may import only from those before it, and from itself.
ROOMS = (
    "version",
    "text",
    "values",
    "notice",
    "quantities",
    "systems",
    "errors",
    "threads",
    "exact",
    "physics",
    "loggers",
    "case",
    "solve",
    "assess",
    "records",
    "figures",
    "page",
    "cli",
)

#: Third-party packages that each room may use.
ALLOWED = {
    "version": set(),
    "errors": set(),
    "text": set(),
    "values": {"numpy"},
    "notice": set(),
    "quantities": {"numpy"},
    "systems": set(),
    "threads": set(),
    "exact": {"numpy", "scipy"},
    "physics": {"numpy", "scipy"},
    "loggers": {"numpy"},
    "case": {"numpy", "scipy"},
    "solve": {"numpy", "scipy", "numba", "threadpoolctl"},
    "assess": {"numpy", "scipy", "pandas", "xarray"},
    "records": {"numpy", "h5py", "jinja2", "openpyxl", "pandas", "xarray"},
    "figures": {"numpy", "matplotlib"},
    "page": {"numpy", "nicegui", "fastapi", "uvicorn"},
    "cli": {"tqdm", "distributed"},
}

FILES = sorted(path for path in PACKAGE.rglob("*.py") if path.name not in ("__init__.py", "__main__.py"))


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@functools.cache
def tree_of(path: Path) -> list[ast.AST]:
    """All nodes of a file."""
    return list(ast.walk(ast.parse(path.read_text("utf-8"))))


@functools.cache
def imports_of(path: Path) -> set[str]:
    """Full names of the modules that a file imports, relative imports resolved."""
    found = set()
    for node in tree_of(path):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                base = ["thermsim", *path.relative_to(PACKAGE).parts[: -node.level]]
                found.add(".".join([*base, node.module] if node.module else base))
            elif node.module:
                found.add(node.module)
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_point_to_rooms_below(path):
    room = ROOMS.index(room_of(path))
    for module in imports_of(path):
        parts = module.split(".")
        if parts[0] == "thermsim" and len(parts) > 1:
            assert ROOMS.index(parts[1]) <= room, f"{path.name} imports {module}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_each_room_uses_only_its_packages(path):
    third_party = {
        module.split(".")[0]
        for module in imports_of(path)
        if module.split(".")[0] not in sys.stdlib_module_names | {"thermsim", "__future__"}
    }
    assert third_party <= ALLOWED[room_of(path)]
    if "numba" in third_party:
        assert room_of(path) == "solve" and ("kernels" in path.name or path.name == "compiled.py")


def name_of(path: Path) -> str:
    return ".".join(["thermsim", *path.relative_to(PACKAGE).with_suffix("").parts])


def test_no_modules_import_each_other_in_a_circle():
    names = {name_of(path) for path in FILES}
    waits_for = {name_of(path): imports_of(path) & names for path in FILES}
    free = set()
    while ready := {name for name, needed in waits_for.items() if needed <= free} - free:
        free |= ready
    assert sorted(names - free) == []


TESTS = Path(__file__).parent


@pytest.mark.parametrize("top", [PACKAGE, TESTS], ids=["package", "tests"])
def test_no_folder_holds_more_than_sixteen_files(top):
    folders = {path.parent for path in top.rglob("*.py")}
    assert {str(folder): n for folder in folders if (n := len(list(folder.glob("*.py")))) > 16} == {}


def test_the_tests_mirror_the_package():
    """A folder of tests has the name of a folder of the package, but for checks from outside and by force."""
    folders = {path.parent.relative_to(TESTS) for path in TESTS.rglob("test_*.py")}
    own = [folder for folder in folders if not {"outside", "hostile"} & {*folder.parts}]
    assert sorted(str(folder) for folder in own if not (PACKAGE / folder).is_dir()) == []


@pytest.mark.parametrize("top", [PACKAGE, TESTS], ids=["package", "tests"])
def test_no_file_is_longer_than_a_few_screens(top):
    lengths = {str(path): len(path.read_text("utf-8").splitlines()) for path in top.rglob("*.py")}
    assert {path: length for path, length in lengths.items() if length > 400} == {}


def docstrings_of(path: Path) -> list[str]:
    """Docstrings of a module, its classes and functions."""
    nodes = (ast.Module, ast.ClassDef, ast.FunctionDef)
    return [text for node in tree_of(path) if isinstance(node, nodes) and (text := ast.get_docstring(node))]


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_docstrings_begin_with_a_noun_phrase_or_a_verb(path):
    questions = ("What", "How", "Where", "Whether", "Which", "When", "Why", "Who")
    assert [text.partition("\n")[0] for text in docstrings_of(path) if text.startswith(questions)] == []


def loaded_by(statement: str) -> set[str]:
    """Top-level packages that a statement loads in a fresh process."""
    code = f"{statement}\nimport sys\nprint(*{{name.split('.')[0] for name in sys.modules}})"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return set(done.stdout.split())


HEAVY = {"numpy", "scipy", "numba", "matplotlib", "h5py", "tqdm"}


def test_the_command_line_and_the_package_load_nothing_heavy():
    assert loaded_by("import thermsim, thermsim.cli") & HEAVY == set()


def test_a_simulation_loads_what_it_needs_when_it_needs_it():
    case = PACKAGE.parent / "cases" / "jar.toml"
    code = f"import sys, thermsim; thermsim.simulate(thermsim.read_case({str(case)!r})); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    later = (
        *(f"scipy.{part}" for part in ("optimize", "interpolate", "ndimage", "special", "stats")),
        *(
            "numba",
            "matplotlib",
            "h5py",
            "thermsim.assess.measured",
            "thermsim.assess.study",
            "thermsim.assess.depth",
        ),
    )
    assert not [name for name in done.stdout.split() if name.startswith(later)]


def test_reading_a_case_loads_numpy_alone():
    assert loaded_by("import thermsim; thermsim.read_case") & HEAVY == {"numpy"}


def test_every_public_name_can_be_loaded():
    import thermsim

    assert [name for name in thermsim.__all__ if getattr(thermsim, name) is None] == []
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = thermsim.nothing


def test_every_file_that_the_developers_page_names_is_there():
    root = PACKAGE.parent
    named = re.findall(r"`([\w-]+/[\w./-]+\.\w+)`", (root / "DEVELOPERS.md").read_text("utf-8"))
    assert len(named) > 30
    gone = [
        name for name in named if not any((root / top / name).is_file() for top in ("", "thermsim", "benchmarks"))
    ]
    assert gone == []
