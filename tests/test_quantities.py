"""The rows of quantities: exact conversions, and that keys, columns, variables and labels go by them."""

import ast
import dataclasses
import math
from fractions import Fraction
from pathlib import Path

import h5py
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from probed import advised_by_few
from small_cans import STEM, small_can

from thermsim.assess.measured.model import FITTED
from thermsim.assess.study.plan import FIGURES as STUDY_FIGURES
from thermsim.case.keys.tables import TABLES
from thermsim.quantities import (
    BIAS,
    DIFFERENCE,
    DIFFUSIVITY,
    ENERGY,
    FIGURES,
    HEAT_CAPACITY,
    LENGTH,
    LETHALITY,
    MASS,
    NUMBER,
    PART,
    PRESSURE,
    ROWS,
    TEMPERATURE,
    TIME,
    VOLUME,
    Z,
    quantity_of,
)
from thermsim.records.files.results import save_result
from thermsim.records.files.variables import STORED
from thermsim.records.numbers.summary import summary

PACKAGE = Path(__file__).parent.parent / "thermsim"

#: One of the unit at the edge in the unit inside. Source: definitions and prefixes of the SI, from memory.
EXACT = {
    LENGTH: Fraction(1, 1000),
    TIME: Fraction(60),
    LETHALITY: Fraction(60),
    PART: Fraction(1, 100),
    MASS: Fraction(1, 1000),
    VOLUME: Fraction(1, 10**6),
    PRESSURE: Fraction(1000),
    ENERGY: Fraction(1000),
    DIFFUSIVITY: Fraction(1, 10**6),
    HEAT_CAPACITY: Fraction(10**6),
    TEMPERATURE: Fraction(1),
    DIFFERENCE: Fraction(1),
    NUMBER: Fraction(1),
}


@pytest.fixture(scope="module")
def advised():
    return advised_by_few(small_can(probe=STEM))


@given(st.sampled_from(list(EXACT)), st.floats(1e-6, 1e6))
def test_conversions_are_exact(row, value):
    # what is read is rounded once; what is shown twice, as 1/60 is no binary number
    assert row.si_value(value) == float(Fraction(value) * EXACT[row])
    assert_allclose(row.edge(value), float(Fraction(value) / EXACT[row]), rtol=4e-16, atol=0.0)


def test_a_row_that_converts_is_among_those_that_are_checked():
    converting = {(row.times, row.over) for row in ROWS} - {(1.0, 1.0)}
    assert converting == {(row.times, row.over) for row in EXACT} - {(1.0, 1.0)}
    assert {row.unit for row in ROWS if (row.times, row.over) == (1.0, 1.0) and row.si != row.unit} == {""}


def test_whole_minutes_and_millimetres_stay_whole():
    for whole in range(1, 2000):
        assert TIME.edge(60.0 * whole) == whole
        assert TIME.si_value(float(whole)) == 60.0 * whole


def test_arrays_are_converted_and_what_is_not_there_stays_none():
    np.testing.assert_array_equal(LENGTH.edge(np.array([0.0, 0.5])), [0.0, 500.0])
    assert TIME.edge(None) is None and TIME.si_value(None) is None
    assert LENGTH.record(depth=0.5, stick_out=None, window=(0.25, 0.5)) == {
        "depth_mm": 500.0,
        "stick_out_mm": None,
        "window_mm": [250.0, 500.0],
    }


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # worked by hand
        (LETHALITY.text(354.0), "5.90 min"),
        (LETHALITY.text(27.0), "0.450 min"),
        (LETHALITY.text(353.84, 9.78), "5.90 +- 0.17 min"),
        (LENGTH.text(0.106, 0.0), "106.0 +- 0.1 mm"),
        (LENGTH.text(-1e-5), "0.0 mm"),
        (LENGTH.number(0.05449), "54.5"),
        (PART.text(0.4789, 0.0004, signed=True), "+47.9 +- 0.1 %"),
        (PART.text(-0.02, signed=True), "-2.0 %"),
        (DIFFERENCE.text(0.8149, 0.002, signed=True), "+0.81 +- 0.01 K"),
        (NUMBER.text(1.4, 0.0001), "1.400 +- 0.001"),
        (TEMPERATURE.text(118.0), "118.00 degC"),
    ],
)
def test_values_are_shown_with_the_decimals_of_their_row(text, expected):
    assert text == expected


def test_axes_are_labelled_with_the_unit_as_it_is_set():
    labels = [row.axis() for row in (TIME, TEMPERATURE, LETHALITY, Z, DIFFUSIVITY, HEAT_CAPACITY)]
    assert labels == [
        "Time [min]",
        "Temperature [°C]",
        "Lethality [min]",
        "z [mm]",
        "k/(ρc) [mm²/s]",
        "ρc [MJ/m³K]",
    ]
    assert LENGTH.axis("depth,\n") == "depth,\n[mm]"


def strings_of(path):
    """String constants of a module but for its docstrings."""
    tree = ast.parse(path.read_text("utf-8"))
    alone = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in alone
    ]


@pytest.mark.parametrize("path", sorted((PACKAGE / "figures").rglob("*.py")), ids=lambda path: path.name)
def test_no_figure_writes_a_unit_of_an_axis_itself(path):
    units = {f"[{row.axis().rpartition('[')[2]}" for row in ROWS if row.unit}
    # what a percentage is of stands in the label of the candidates' bars
    assert [text for text in strings_of(path) if any(unit in text for unit in units - {"[%]"})] == []


@pytest.mark.parametrize("room", ["records", "figures"])
def test_conversions_are_done_by_rows(room):
    """No factor of minutes or millimetres beside the rows."""
    found = []
    for path in sorted((PACKAGE / room).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mult | ast.Div):
                sides = {side.value for side in (node.left, node.right) if isinstance(side, ast.Constant)}
                found += [f"{path.name}:{node.lineno}"] if sides & {60, 1000} else []
    assert found == []


#: Numbers of a summary that have no unit, or carry it in their middle; `seconds` is its own.
BARE = {"format", "jh", "correction_factor", "percent_of_volume", "relative_defect", "nodes", "steps"}
BARE |= {"rejected_steps", "refinement", "seconds"}
#: Factors of correction by phase.
BARE |= {"heating", "cooling"}


def numbers_in(tree, key=""):
    """Keys of the numbers in nested dictionaries and lists, each with where it stands."""
    if isinstance(tree, dict):
        for name, value in tree.items():
            yield from numbers_in(value, name)
    elif isinstance(tree, list):
        for value in tree:
            yield from numbers_in(value, key)
    elif isinstance(tree, int | float) and not isinstance(tree, bool):
        yield key


def test_every_number_of_a_summary_ends_with_the_unit_of_a_row(advised):
    keys = set(numbers_in(summary(advised)))
    assert len(keys) > 60
    assert {key for key in keys if quantity_of(key) is NUMBER} <= BARE
    # of the rows' own keys too, though of two in one unit only one can be told by its ending
    for row in (*FIGURES.values(), *BIAS.values()):
        assert quantity_of(row.key()).unit == row.unit


def test_a_summary_holds_its_figures_in_the_units_that_its_keys_say(advised):
    found, least = summary(advised), advised.cold_spot.least_lethality
    stored = found["cold_spot"]["least_lethality"]
    assert_allclose(stored["z_mm"], 1000.0 * least.z, rtol=1e-15, atol=0.0)
    assert_allclose(stored["lethality_min"], least.lethality / 60.0, rtol=4e-16, atol=0.0)
    assert stored["end_of_heating_C"] == least.end_of_heating
    part = found["recommended"]["over_reading_percent"]
    assert_allclose(part, 100.0 * advised.advice.own.recommended(advised.advice.criterion).over_reading, rtol=1e-15)


def test_a_results_file_names_the_units_of_the_rows(advised, tmp_path):
    save_result(advised, tmp_path / "result.h5")
    # what a variable is, by how its name ends; what is none of these is a number without unit
    units = {
        ("time",): "s",
        ("temperature", "end_of_heating", "medium", "initial", "without_probe"): "degC",
        ("lethality",): "s",
        ("r", "z", "column", "level", "column_cell", "level_cell", "r_cell", "z_cell", "stem_x", "depth"): "m",
        ("conductivity",): "W m-1 K-1",
        ("density",): "kg m-3",
        ("specific_heat",): "J kg-1 K-1",
    }
    with h5py.File(tmp_path / "result.h5") as file:
        checked = 0
        for name, data in file.items():
            if not isinstance(data, h5py.Dataset):
                continue
            wanted = [
                unit
                for endings, unit in units.items()
                if any(name == ending or name.endswith(f"_{ending}") for ending in endings)
            ]
            layer = "layer" in name
            assert data.attrs["units"] == ("1" if layer or not wanted else wanted[-1]), name
            checked += bool(wanted)
    assert checked > 40


def test_variables_that_are_kept_have_rows():
    assert {variable.quantity.si for variable in STORED.values()} == {"m", "s", "degC", "1"}
    assert {variable.quantity for variable in STORED.values()} <= set(ROWS)
    assert all(variable.long_name for variable in STORED.values())


def test_columns_of_studies_end_with_the_unit_of_their_row():
    for figure in STUDY_FIGURES.values():
        assert figure.quantity in ROWS
        assert quantity_of(figure.key).unit == figure.quantity.unit
        assert figure.label.endswith(f"[{figure.quantity.unit}]")
    assert STUDY_FIGURES["least_lethality"].key == "least_lethality_min"
    assert STUDY_FIGURES["bias"].label == "bias [%]"


def test_what_is_fitted_and_what_a_case_may_hold_have_rows():
    assert {quantity for quantity, _ in FITTED.values()} <= set(ROWS)
    assert {key.quantity for keys in TABLES.values() for key in keys} <= set(ROWS)


def test_rows_differ_and_each_says_what_it_is():
    assert len(set(ROWS)) == len(ROWS) == len({row.name for row in ROWS})
    for row in ROWS:
        assert row.digits >= 0 and row.times > 0.0 and row.over > 0.0
        assert dataclasses.replace(row).inside().edge(math.pi) == math.pi
