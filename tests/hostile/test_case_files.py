"""Altered case files: read or refused in our own words, in bounded time; what is accepted is solved without nonsense.

Rung: conservation and bounds. Each cause that was found stands here with its smallest file.
"""

import random
import re

import pytest
from mutated_cases import ATTACHMENTS, bases, dumped, garbled, mutated
from small_case import LOGGER, SMALL, STEM, changed, faults_of, recorded

from thermsim import case_from_text
from thermsim.case.keys.template import key_table, table_list
from thermsim.errors import LONGEST, MOST_FAULTS, CaseError

KNOWN = bases()
TEXTS = [dumped(tables) for tables in KNOWN]


def read_or_refused(seed):
    """Whether the altered case of a seed is read; any other error comes out."""
    chooser = random.Random(seed)
    text = garbled(chooser, chooser.choice(TEXTS)) if seed % 5 == 0 else dumped(mutated(chooser, KNOWN))
    try:
        case_from_text(text, name="jar.toml", attachments=ATTACHMENTS)
    except CaseError as refused:
        assert len(refused.faults) <= MOST_FAULTS + 1
        assert all(fault.isprintable() and len(fault) <= LONGEST + 3 for fault in refused.faults)
        return False
    return True


@pytest.mark.parametrize(
    "seeds",
    [range(150), *(pytest.param(range(k, k + 1000), marks=pytest.mark.whole) for k in range(0, 10_000, 1000))],
)
def test_an_altered_case_is_read_or_refused_in_few_printable_lines(seeds):
    read = [read_or_refused(seed) for seed in seeds]
    # the alterations are neither all harmless nor all fatal
    assert 0.1 < sum(read) / len(read) < 0.5


def repeated(table, count):
    """The tables of a list, numbered, as one inline array."""
    return "[" + ",\n".join(table.format(k) for k in range(count)) + "]"


START = SMALL[: SMALL.index("[container]")]
REST = "\n" + SMALL[SMALL.index("[container]") :]
WITHOUT_POINTS = REST[: REST.index("[[points]]")]
BEFORE, AFTER = SMALL[: SMALL.index("[[process.stage]]")], "\n" + SMALL[SMALL.index("[lethality]") :]
POINT, STAGE = '{{name = "p{}", r_mm = 0, z_mm = 59}}', '{{name = "hold", minutes = 1, film_W_m2K = 400}}'
SEGMENT = '{{ diameter_mm = 3.0, length_mm = 94.0, material = "stainless steel" }}'
NUMBER = "{0}.5"

TOO_MANY = [
    (START + "points = " + repeated(POINT, 201) + WITHOUT_POINTS, "points holds 201 tables; at most 200"),
    (START + "probes = " + repeated("{{name = \"s{}\"}}", 21) + REST, "probes holds 21 tables; at most 20"),
    (BEFORE + "stage = " + repeated(STAGE, 501) + AFTER, "stage holds 501 tables; at most 500"),
    (changed(("z_C = 10.0", "z_C = 10.0\nreach_C = " + repeated(NUMBER, 101))), "reach_C holds 101 numbers; at most"),
    (SMALL + STEM.replace("[60, 94]", repeated(NUMBER, 101)), "probe_lengths_mm holds 101 numbers; at most 100"),
    (SMALL + LOGGER.replace("[5, 10, 20]", repeated(NUMBER, 21)), "spacers_mm holds 21 numbers; at most 20"),
    (
        changed(("segments = [" + SEGMENT.format() + "]", "segments = " + repeated(SEGMENT, 51)), text=SMALL + STEM),
        "segments holds 51 tables; at most 50",
    ),
    (
        SMALL + '\n[study]\nkind = "tornado"\nvary = ' + repeated('{{key = "fill.headspace_mm"}}', 51),
        "vary holds 51 tables; at most 50",
    ),
    (
        SMALL
        + '[study]\nkind = "scan"\nvary = [{key = "product.initial_C", values = ' + repeated(NUMBER, 1001) + "}]",
        "values holds 1001 numbers; at most 1000",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "fault"), TOO_MANY, ids=[fault[:30] for _, fault in TOO_MANY])
def test_long_lists_are_refused_in_one_line(text, fault):
    (line,) = faults_of(text)
    assert fault in line


def test_as_many_as_are_allowed_are_read():
    text = START + "points = " + repeated(POINT, 200) + WITHOUT_POINTS
    assert len(case_from_text(text).points) == 200
    assert len(case_from_text(BEFORE + "stage = " + repeated(STAGE, 500) + AFTER).process.stages) == 500


def test_the_keys_own_texts_say_how_many():
    shown = " ".join((key_table("process") + key_table("lethality") + key_table("study") + table_list()).split())
    for count in ("(at most 500)", "(at most 100)", "(at most 50)", "at most 200", "at most 20 further ones"):
        assert count in shown


def test_the_first_twenty_faults_are_told_and_how_many_more():
    told = faults_of(SMALL + "".join(f"[thing{k}]\n" for k in range(25)))
    assert len(told) == 21
    assert told[-1] == "and 5 more faults; mend these first"
    # one more than are told is told all the same
    assert len(faults_of(SMALL + "".join(f"[thing{k}]\n" for k in range(20)))) == 20


def test_the_same_fault_in_many_stages_is_one_line():
    (line,) = faults_of(BEFORE + "stage = " + repeated(STAGE.replace("1,", "-1,"), 11) + AFTER)
    assert line == (
        "jar.toml [[process.stage]] no. 1, 2, 3, 4, 5, 6, 7, 8, 9, 10 and 11: minutes = -1 must be at least 0 "
        "and at most 100000 min"
    )
    (line,) = faults_of(BEFORE + "stage = " + repeated(STAGE.replace("1,", "-1,"), 400) + AFTER)
    assert "no. 1, 2, 3, 4, 5, 6, 7, 8, 9, 10 and 390 more: minutes = -1" in line


def test_a_list_of_the_same_fault_is_one_line():
    (line,) = faults_of(changed(("z_C = 10.0", 'z_C = 10.0\nreach_C = ["hot", "hot", "hot"]')))
    assert line == 'jar.toml [lethality]: reach_C = "hot" is not a number (3 times)'


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (
            recorded(("cooling_starts_min = 20", "cooling_starts_min = 1e-9")),
            "leaves no heating; it must be at least",
        ),
        (recorded(("z_C = 10.0", "z_C = 1e-5")), "z_C = 1e-05 must be at least 1 and at most 200 K"),
        (
            changed(("r_mm = 0.0", "r_mm = " + "9" * 400))
            + '[study]\nkind = "tornado"\nvary = [{key = "y", low = 1, high = 2}]',
            'key = "y" leads to no number of this case',
        ),
        (SMALL + "x" + ".b" * 100_000 + " = 1", "has more parts between dots than any key"),
        (SMALL + "[x" + ".b" * 100_000 + "]", "has more parts between dots than any key"),
    ],
)
def test_what_once_broke_the_reader_is_refused(text, fault):
    assert any(fault in line for line in faults_of(text, attachments=ATTACHMENTS))


def test_a_fault_of_a_loggers_file_names_the_case_too():
    (line,) = faults_of(recorded(), attachments={"retort.csv": "Time [min];T\n0;40\n0;41\n"})
    assert line.startswith("jar.toml [process]: retort.csv: all samples have the same time")


def test_no_message_shows_a_control_character():
    hostile = "a\\u202egnp\\u001b[31m"
    for text in (
        SMALL + f'["{hostile}"]\nx = 1',
        changed(('"dense paste"', f'"{hostile}"'), ("density_kg_m3 = 1050", "density_kg_m3 = -1")),
        changed(('name = "come-up"', f'name = "{hostile}"')),
        SMALL.replace("[[points]]", f'[[points]]\nname = "{hostile}"\nr_mm = 500\nz_mm = 1\n\n[[points]]'),
        SMALL + f'[study]\nkind = "tornado"\nvary = [{{key = "fill.{hostile}", low = 1, high = 2}}]',
    ):
        assert all(line.isprintable() for line in faults_of(text))


def test_materials_that_are_not_used_are_one_note():
    text = SMALL + "".join(
        f'[materials."m{k}"]\nconductivity_W_mK = 0.5\ndensity_kg_m3 = 1000\nspecific_heat_J_kgK = 3700\n'
        for k in range(500)
    )
    (note,) = [note for note in case_from_text(text).notes if "not used" in note]
    assert re.search(r'"m19" and 480 more is described but not used', note)
