"""What is said before loops are compiled."""

from __future__ import annotations

from numba.core import event

import thermsim.solve.march.changing_kernels  # noqa: F401  (loads the loops)
from thermsim.cli import main
from thermsim.solve.compiled import tell_once


def compile_one():
    with event.trigger_event("numba:compile"):
        pass


def test_who_waits_is_told_once():
    told = []
    tell_once(lambda: told.append(1))
    compile_one()
    compile_one()
    assert told == [1]
    tell_once(lambda: told.append(1))
    tell_once(None)
    compile_one()
    assert told == [1]


def test_the_command_line_says_what_takes_so_long_and_is_silent_when_asked_to_be(capsys):
    for words, said in ((["keys"], 1), (["keys", "--quiet"], 0)):
        main(words)
        capsys.readouterr()
        compile_one()
        assert capsys.readouterr().err.count("compiling what properties that change with temperature need") == said
