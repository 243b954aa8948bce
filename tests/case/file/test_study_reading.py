"""How [study] is read, and how numbers of a case are found and changed by their paths: hand-worked."""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose
from small_case import SMALL, STEM, faults_of

from thermsim import case_from_text
from thermsim.case.file.reader import varied_case
from thermsim.case.keys.paths import changed, every_place, place_of
from thermsim.case.keys.syntax import parsed
from thermsim.case.study import Study, Vary
from thermsim.errors import CaseError, InputError

TABLES = parsed(SMALL + STEM, "jar.toml")
HEADSPACE = 'vary = [{ key = "fill.headspace_mm", low = 4, high = 20, steps = 5 }]'


def read(study, text=SMALL):
    return case_from_text(f"{text}\n[study]\n{study}\n").study


@pytest.mark.parametrize(
    ("path", "value", "unit"),
    [
        ("fill.headspace_mm", 12.0, "mm"),
        ("product.initial_C", 40.0, "degC"),
        ("materials.dense paste.conductivity_W_mK", 0.55, "W/mK"),
        ('materials."dense paste".density_kg_m3', 1050.0, "kg/m3"),
        ("process.stage.come-up.minutes", 12.0, "min"),
        ("process.stage.1.film_W_m2K", 450.0, "W/m2K"),
        ("process.stage.hold.film_W_m2K.base", 60.0, "W/m2K"),
        ("container.side.thickness_mm", 3.0, "mm"),
        ("points.mid-height.z_mm", 59.0, "mm"),
        ("probe.segments.1.diameter_mm", 3.0, "mm"),
        ("stock.stick_out_mm.2", 45.0, "mm"),
        ("probe.film_W_m2K", None, "W/m2K"),  # may stand there, but does not
    ],
)
def test_a_path_leads_to_its_number(path, value, unit):
    place = place_of(TABLES, path)
    assert (place.value, place.unit) == (value, unit)
    assert place.path == path.replace('"', "")


def test_every_place_is_found_again_by_its_own_path():
    places = every_place(TABLES)
    assert len(places) > 40
    assert [place for place in places if place_of(TABLES, place.path) != place] == []


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("fill.headspac_mm", 'leads to no number of this case; did you mean "fill.headspace_mm"?'),
        ("process.stage.hold.film_W_m2K", 'did you mean "process.stage.hold.film_W_m2K.lid"?'),
        ("title", "leads to no number of this case"),
        ("format", "leads to no number of this case"),
        ("study.samples", "leads to no number of this case"),
        ("headspace.model", "leads to no number of this case"),
    ],
)
def test_a_path_to_no_number_is_one_line_with_the_nearest(path, said):
    with pytest.raises(InputError) as refused:
        place_of(TABLES, path)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_name_that_two_stages_bear_is_answered_with_their_numbers():
    tables = parsed(SMALL.replace('name = "come-up"', 'name = "hold"'), "jar.toml")
    with pytest.raises(InputError, match=r"process\.stage\.1\.minutes or process\.stage\.2\.minutes"):
        place_of(tables, "process.stage.hold.minutes")


def test_a_material_whose_name_holds_points_is_found():
    tables = {"materials": {"paste no. 2.5": {"density_kg_m3": 1000}}}
    assert place_of(tables, "materials.paste no. 2.5.density_kg_m3").value == 1000.0


def test_changing_copies_the_tables():
    place = place_of(TABLES, "process.stage.hold.film_W_m2K.lid")
    after = changed(TABLES, {place.trail: 77.0})
    assert after["process"]["stage"][1]["film_W_m2K"]["lid"] == 77.0
    assert TABLES["process"]["stage"][1]["film_W_m2K"]["lid"] == float("inf")


def test_a_varied_case_is_the_case_with_that_number_written():
    text = f'{SMALL}\n[study]\nkind = "scan"\n{HEADSPACE}\n'
    trail = place_of(parsed(text, ""), "fill.headspace_mm").trail
    varied = varied_case(text, {trail: 20.0}, name="jar.toml", attachments={})
    written = case_from_text(SMALL.replace("headspace_mm = 12.0", "headspace_mm = 20.0"))
    assert varied.study is None
    assert varied.fill_height == written.fill_height
    assert varied.container == written.container


def test_a_varied_case_out_of_range_is_refused_with_the_readers_words():
    text = f'{SMALL}\n[study]\nkind = "scan"\n{HEADSPACE}\n'
    with pytest.raises(CaseError, match=r"jar\.toml \[fill\]: headspace_mm = 200.* leaves no room"):
        varied_case(text, {("fill", "headspace_mm"): 200.0}, name="jar.toml", attachments={})


def test_a_scan_from_low_to_high_has_its_values():
    study = read(f'kind = "scan"\n{HEADSPACE}')
    assert study.vary == (Vary("fill.headspace_mm", (4.0, 8.0, 12.0, 16.0, 20.0), 4.0, 20.0),)
    assert study.runs == 5


def test_decimal_steps_stay_what_was_asked_for():
    study = read('kind = "scan"\nvary = [{ key = "fill.headspace_mm", low = 0.1, high = 0.7, steps = 7 }]')
    assert study.vary[0].values == (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7)


def test_runs_are_counted():
    ends = ', low = 1, high = 2, distribution = "uniform" }'
    two = f'vary = [{{ key = "fill.headspace_mm"{ends}, {{ key = "product.initial_C"{ends}]'
    assert read(f'kind = "spread"\nsamples = 16\n{two}').runs == 16 * 4
    assert read(f'kind = "spread"\nsamples = 16\nindices = false\n{two}').runs == 16
    plain = two.replace(', distribution = "uniform"', "")
    assert read(f'kind = "tornado"\n{plain}').runs == 5


def test_a_spread_has_its_defaults_and_its_distributions():
    study = read("""kind = "spread"
recommend_depth = true
tip_tolerance_mm = 1.5
[[study.vary]]
key = "fill.headspace_mm"
distribution = "triangular"
low = 4
mode = 5
high = 9
[[study.vary]]
key = "process.stage.come-up.film_W_m2K"
distribution = "normal"
mean = 400
deviation = 50
low = 300
[[study.vary]]
key = "product.initial_C"
distribution = "discrete"
values = [20, 40]
weights = [1, 3]
""", SMALL + STEM)  # fmt: skip
    assert (study.samples, study.sampler, study.seed, study.indices) == (64, "sobol", 1, True)
    assert_allclose(study.tip_tolerance, 0.0015, rtol=1e-12)
    triangle, normal, discrete = study.vary
    assert (triangle.low, triangle.mode, triangle.high) == (4, 5, 9)
    assert (normal.mean, normal.deviation, normal.low, normal.high) == (400, 50, 300, None)
    assert (discrete.values, discrete.weights) == ((20, 40), (1, 3))
    assert isinstance(study, Study)


@pytest.mark.parametrize(
    ("study", "said"),
    [
        ('kind = "sweep"\n' + HEADSPACE, 'kind = "sweep" is unknown'),
        ('kind = "scan"', "[study]: nothing is varied; write [[study.vary]] with a key for each quantity"),
        ('kind = "scan"\nvary = [{ key = "fill.headspace_mm", low = 4, high = 20 }]', 'key "steps" is missing'),
        ('kind = "scan"\nvary = [{ key = "fill.headspace_mm", values = [1] }]', "values must be two numbers or more"),
        ('kind = "scan"\nvary = [{ key = "fill.headspace_mm", values = [2, 1] }]', "values must grow"),
        (
            'kind = "tornado"\nvary = [{ key = "fill.headspace_mm", low = 9, high = 4 }]',
            "low = 9 must be below high = 4",
        ),
        ('kind = "tornado"\n' + HEADSPACE, "steps has no meaning with a tornado; it takes low, high"),
        (
            'kind = "tornado"\nvary = [{ key = "fil.headspace_mm", low = 4, high = 9 }]',
            'did you mean "fill.headspace_mm"',
        ),
        ('kind = "scan"\nseed = 3\n' + HEADSPACE, 'seed has a meaning only with kind = "spread"'),
        ('kind = "scan"\nrequired_hold = true\n' + HEADSPACE, "give target_min in [lethality]"),
        ('kind = "scan"\nrecommend_depth = true\n' + HEADSPACE, "recommend_depth needs a probe"),
        ('kind = "scan"\ntip_tolerance_mm = 1\n' + HEADSPACE, "only beside recommend_depth = true"),
        (
            'kind = "spread"\nsamples = 100\nvary = [{ key = "fill.headspace_mm", distribution = "uniform", '
            "low = 1, high = 2 }]",
            "samples = 100 must be a power of 2 with the sobol sampler: 64 or 128",
        ),
        ('kind = "spread"\nvary = [{ key = "fill.headspace_mm", distribution = "normal", mean = 1 }]', '"deviation"'),
        (
            'kind = "spread"\nvary = [{ key = "fill.headspace_mm", distribution = "triangular", low = 1, high = 2, '
            "mode = 3 }]",
            "mode = 3 must lie from low = 1 to high = 2",
        ),
        (
            'kind = "spread"\nvary = [{ key = "fill.headspace_mm", distribution = "discrete", values = [1, 2], '
            "weights = [1] }]",
            "there are 1 weights and 2 values",
        ),
        (
            'kind = "tornado"\nvary = [{ key = "fill.headspace_mm", low = 1, high = 2 }, '
            '{ key = "fill.headspace_mm", low = 1, high = 2 }]',
            "is varied by an earlier one already",
        ),
    ],
)  # fmt: skip
def test_a_faulty_study_is_refused_in_one_line(study, said):
    faults = faults_of(f"{SMALL}\n[study]\n{study}\n")
    assert len(faults) == 1, faults
    assert said in faults[0]
    assert faults[0].startswith(("jar.toml [study]: ", "jar.toml [[study.vary]] no. "))


def test_a_scan_of_three_quantities_is_refused():
    rows = ", ".join(f'{{ key = "{key}", values = [1, 2] }}' for key in (
        "fill.headspace_mm", "product.initial_C", "container.base.thickness_mm"))  # fmt: skip
    (fault,) = faults_of(f'{SMALL}\n[study]\nkind = "scan"\nvary = [{rows}]\n')
    assert "a scan varies one or two quantities, not 3" in fault
