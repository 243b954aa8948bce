"""Costs of a run that no single test has: compiled loops, and what lies in memory."""

import gc
import os
import pickle
import subprocess
import sys

import pytest
from places import CASES

#: A jar whose properties change: nearly all loops have their part in it.
CODE = "import sys, thermsim; thermsim.simulate(thermsim.read_case(sys.argv[1]))"

# nothing that is made while tests are collected is let go of: looking for it takes a fifth of that time
gc.disable()


def pytest_collection_finish():
    gc.freeze()
    gc.enable()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_setupnodes():
    """Compile all loops once, before several workers begin, each of which would do so for itself.

    If the case cannot be solved, the tests will tell.
    """
    subprocess.run([sys.executable, "-c", CODE, str(CASES / "jar_composition.toml")], capture_output=True)


@pytest.fixture(scope="session")
def once(tmp_path_factory):
    """What keeps a result that several workers need: the first makes it, the others read it."""
    own = tmp_path_factory.getbasetemp()
    folder = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own

    def made(name, make):
        path = folder / f"{name}.pickle"
        if not path.exists():
            half = own / path.name
            half.write_bytes(pickle.dumps(make()))
            half.replace(path)
        return pickle.loads(path.read_bytes())

    return made
