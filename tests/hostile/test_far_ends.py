"""Cases at the far ends of what is allowed: an answer that can be, or a refusal with the reason, in bounded time.

Rung: conservation and bounds.
"""

import math

import pytest
from small_case import SMALL, changed, faults_of
from sound_answers import nonsense, not_for_ever

from thermsim import case_from_text
from thermsim.assess.simulate.simulation import simulate

LOOSE = "\n[accuracy]\ntemperature_K = 1.0\nlethality_percent = 20.0\nplace_mm = 10.0\n"
STAGES, REST = SMALL.index("[[process.stage]]"), SMALL.index("[lethality]")
GAS = 'model = "humid"\nemissivity_product = 0.9\nemissivity_lid = 0.1\nsealed_at_C = 60'
METAL = """[materials."red metal"]
conductivity_W_mK = 400
density_kg_m3 = 8900
specific_heat_J_kgK = 385

[product]"""


def many_stages():
    """500 stages, each with a temperature and a film of its own."""
    table = '[[process.stage]]\nname = "{}"\nminutes = 0.25\nto_C = {}\nfilm_W_m2K = {}\n'
    stages = (
        table.format(*(("hold", 118 + k % 7 * 0.3) if k < 480 else ("cool", 30)), 400 + k % 11) for k in range(500)
    )
    return SMALL[:STAGES] + "".join(stages) + "\n" + SMALL[REST:]


def many_points():
    """200 places to follow."""
    point = '[[points]]\nname = "p{0}"\nr_mm = {1}\nz_mm = {2}\n'
    return SMALL + "".join(point.format(k, k % 20, 6 + k // 2) for k in range(199))


FAR = {
    "500 stages": many_stages(),
    "200 points": many_points(),
    "30 days": changed(("minutes = 75", "minutes = 43200")),
    "30 days under a humid gap": changed(("minutes = 75", "minutes = 43200"), ('model = "insulated"', GAS)),
    "1 m": changed(
        ("inner_diameter_mm = 66.0", "inner_diameter_mm = 1000.0"),
        ("inner_height_mm = 113.0", "inner_height_mm = 1000.0"),
        ("minutes = 75", "minutes = 6000"),
    ),
    "400 beside 0.02 W/mK": changed(
        ('side = { material = "soda-lime glass"', 'side = { material = "red metal"'),
        ("conductivity_W_mK = 0.55", "conductivity_W_mK = 0.02"),
        ("[product]", METAL),
    ),
    "the thinnest walls": changed(
        ("thickness_mm = 3.0", "thickness_mm = 0.02"),
        ("thickness_mm = 5.0", "thickness_mm = 0.02"),
        ("thickness_mm = 0.25", "thickness_mm = 0.02"),
    ),
}


@pytest.mark.whole
@pytest.mark.parametrize("name", FAR)
def test_a_case_at_a_far_end_is_answered(name):
    case = case_from_text(FAR[name] + LOOSE)
    with not_for_ever():
        result = simulate(case)
    assert [*nonsense(case, result)] == []


@pytest.mark.whole
def test_a_medium_of_a_million_samples_is_thinned_and_answered():
    lines = ["Time [s];T [degC]"]
    lines += [
        f"{k};{min(40 + k / 900, 118) + 0.3 * math.sin(k / 50) if k <= 900_000 else 30:.2f}" for k in range(1_000_000)
    ]
    record = '[process]\ncsv = "rows.csv"\nfilm_W_m2K = 500\ncooling_starts_min = 15000\ncooling_film_W_m2K = 300\n\n'
    text = SMALL[: SMALL.index("[process]")] + record + SMALL[REST:] + LOOSE
    with not_for_ever():
        case = case_from_text(text, attachments={"rows.csv": "\n".join(lines)})
        result = simulate(case)
    assert [*nonsense(case, result)] == []
    assert sum(stage.time.size for stage in case.process.stages) < 20_000


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[lethality]", "[accuracy]\ntemperature_K = 1e-6\n[lethality]", "temperature_K = 1e-06 must be at least"),
        ("[lethality]", "[accuracy]\nlethality_percent = 1e-6\n[lethality]", "lethality_percent = 1e-06 must be at"),
        ("thickness_mm = 3.0", "thickness_mm = 0.01", "thickness_mm = 0.01 must be at least 0.02"),
        ("inner_height_mm = 113.0", "inner_height_mm = 66000", "inner_height_mm = 66000 must be"),
        ("minutes = 75", "minutes = 1e9", "minutes = 1000000000.0 must be at"),
    ],
)
def test_what_lies_beyond_is_refused_with_the_bound(old, new, said):
    assert any(said in fault for fault in faults_of(changed((old, new))))
