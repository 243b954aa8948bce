"""Cooling in still air, and probes beside labels. Rung: hand-worked, and the correlation's own values."""

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_case import COOL, SMALL, STEM, changed, faults_of

from thermsim import case_from_text
from thermsim.case.file.air_cooling import air_cooled, still_air
from thermsim.case.process import Film, Process, Stage
from thermsim.physics.films import films


def test_film_of_still_air_is_that_of_free_convection_for_this_container():
    case = case_from_text(changed(COOL))
    film = case.process.stages[-1].film
    # by hand: a wall 118.25 mm high at 118 degC in air at 25; air at the mean, 71.5 degC (344.65 K): k 0.0296 W/mK,
    # nu 2.01e-5 and alpha 2.86e-5 m2/s (textbook tables, from memory), Ra 7.6e6; Churchill and Chu give Nu 26.6,
    # 6.7 W/m2K, and radiation of 0.95 adds 0.95 sigma (391.15^2 + 298.15^2)(689.3) = 9.0
    assert_allclose(film.high[0], 6.7 + 9.0, rtol=0.05)  # the table's values are rounded
    assert_allclose(film.side, math.sqrt(film.low[0] * film.high[0]), rtol=1e-12)
    assert film.low[0] < film.side < film.high[0]
    assert film.high[2] > film.high[0]  # a hot lid sheds more heat upwards than the wall
    assert any(note.startswith("Still air at 25 degC round a container at 118 degC") for note in case.notes)


def test_usual_range_stays_where_there_is_nothing_to_cool():
    text = changed(("to_C = 118\nfilm_W_m2K = 450", 'to_C = 40\nmedium = "still air"'))
    known = films()["still air"]
    assert case_from_text(text).process.stages[0].film == Film.of_medium(known)


def test_a_container_that_water_has_cooled_begins_at_the_waters_temperature():
    # water at 30 degC for 20 min, then air at 25: 5 K of difference, not 93
    jump = '[[process.stage]]\nname = "cool"\nminutes = 0\nto_C = 25'
    air = '[[process.stage]]\nname = "cool"\nminutes = 30\nmedium = "still air"'
    text = changed(("film_W_m2K = 300", f"film_W_m2K = 300\n\n{jump}\n\n{air}"))
    case = case_from_text(text)
    assert_allclose(case.process.stages[-1].film.side, still_air(case.container, 30.0, 25.0).side, rtol=1e-12)


def test_air_is_as_warm_as_it_is_on_average_over_the_time_however_closely_its_fall_was_logged():
    container, known = case_from_text(SMALL).container, films()["still air"]
    hold = Stage("hold", [0.0, 600.0], [118.0, 118.0], Film.everywhere(450.0))
    coarse, fine = np.array([600.0, 660.0, 4200.0]), np.array([600.0, *np.linspace(610.0, 660.0, 11), 4200.0])
    stages = [Stage("cool", time, np.interp(time, coarse, [65.0, 25.0, 25.0]), Film.of_medium(known))
              for time in (coarse, fine)]  # fmt: skip
    found = [air_cooled(Process((hold, one)), container, []).stages[1].film.side for one in stages]
    # 25 degC but for a minute in an hour, on average 25.3; by the mean of the knots it was 40 degC
    assert_allclose(found, still_air(container, 118.0, 25.0 + 40.0 / 2 / 60).side, rtol=1e-9)


def test_a_higher_difference_gives_a_higher_film():
    container = case_from_text(SMALL).container
    one, other = still_air(container, 60.0, 25.0), still_air(container, 118.0, 25.0)
    assert one.side < other.side
    assert np.all(np.array(one.high) < other.high)


def test_a_probe_beside_a_label_meets_the_medium_itself():
    # 1/(1/450 + 0.001) = 310.34 through the lid's label, 450 at the stem
    text = changed(("thickness_mm = 0.25 }", "thickness_mm = 0.25, contact_m2K_W = 0.001 }")) + STEM
    case = case_from_text(text)
    film = case.process.facing("lid", None).stages[0].film
    assert_allclose([film.lid, film.probe], [1 / (1 / 450 + 0.001), 450.0], rtol=1e-12)
    assert case.process.facing("lid", 60.0).stages[0].film.probe == 60.0


def test_a_label_changes_the_ends_of_a_mediums_range_too():
    text = changed(
        ("to_C = 118\nfilm_W_m2K = 450", 'to_C = 118\nmedium = "water spray"'),
        ("thickness_mm = 3.0 }", "thickness_mm = 3.0, contact_m2K_W = 0.001 }"),
    )
    film, known = case_from_text(text).process.stages[0].film, films()["water spray"]
    assert_allclose(film.low, [1 / (1 / known.low + 0.001), known.low, known.low], rtol=1e-12)
    assert_allclose(film.high, [1 / (1 / known.high + 0.001), known.high, known.high], rtol=1e-12)


def test_a_surface_held_at_the_mediums_temperature_has_its_labels_film():
    # inf behind 0.001 m2K/W is 1000 W/m2K
    text = changed(("thickness_mm = 0.25 }", "thickness_mm = 0.25, contact_m2K_W = 0.001 }"))
    assert case_from_text(text).process.stages[1].film.lid == 1000.0


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"low": (1.0, 1.0, 1.0)}, "film: low and high belong together: give both or neither"),
        ({"low": (9.0, 1.0, 1.0), "high": (8.0, 2.0, 2.0)}, "film: low must be above 0 W/m2K and nowhere above high"),
    ],
)
def test_ranges_that_cannot_be_are_refused(changes, fault):
    with pytest.raises(ValueError, match=fault):
        dataclasses.replace(Film.everywhere(5.0), **changes)


def test_a_negative_label_is_refused():
    (fault,) = faults_of(changed(("thickness_mm = 0.25 }", "thickness_mm = 0.25, contact_m2K_W = -1 }")))
    assert "contact_m2K_W = -1 must be" in fault
