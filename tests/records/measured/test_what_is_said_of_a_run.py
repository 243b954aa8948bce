"""What JSON, screen, report and figures say of a comparison: each figure under its name, in its unit, in its place.

Rung: hand-worked. Nothing is computed: each figure of the comparison is another number, and is looked for where it
belongs, by divisions written here.
"""

import dataclasses
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.figure import Figure
from measured_runs import TIME, made_comparison
from numpy.testing import assert_allclose

from thermsim.assess.measured.result import ENDED_OTHERWISE, Check
from thermsim.figures.measured.curves import plot_measured, plot_measured_lethality
from thermsim.figures.measured.penetration import plot_penetration
from thermsim.notice import Notice
from thermsim.records.measured.report import measured_report_html, paper_sections
from thermsim.records.measured.rows import rows_table
from thermsim.records.measured.sentences import measured_answer
from thermsim.records.measured.sheets import sheets
from thermsim.records.measured.summary import measured_summary

FACTORS, FITTED = "Heat-penetration factors and fits", ("diffusivity", "initial", "offset")
#: One multiplication apart.
EXACT = {"rtol": 1e-12, "atol": 0}


@pytest.fixture(scope="module")
def found():
    return made_comparison()


@pytest.fixture(scope="module")
def page(found):
    html = measured_report_html(found, {}, program="program 1", when="now")
    return ElementTree.fromstring(html.partition("\n")[2])


def words(element):
    return " ".join(" ".join(element.itertext()).replace("\u00a0", " ").split())


def tables(tree):
    """Rows of all tables, by what stands in their first cell."""
    return [[words(cell) for cell in row] for row in tree.iter("tr")]


def factors(one):
    line, broken = one.line, one.broken
    return {
        "medium_C": one.medium, "start_C": one.start, "zero_min": one.zero / 60, "f_min": line.f / 60,
        "f_interval_min": [line.f_low / 60, line.f_high / 60], "j": line.j, "j_interval": [line.j_low, line.j_high],
        "straight_min": [line.start / 60, line.end / 60], "straight_found": line.automatic, "samples": line.samples,
        "remark": one.remark,
        "break": {
            "at_min": broken.time / 60, "f_before_min": broken.before / 60, "f_after_min": broken.after / 60,
            "clear": True,
        },
    }  # fmt: skip


def misfit(of):
    return {"bias_K": of.bias, "rms_K": of.rms, "largest_K": of.largest, "largest_at_min": of.time / 60}


def against(of):
    return {**misfit(of.misfit), "heating": factors(of.heating), "cooling": factors(of.cooling)}


def expected(one):
    """The tree of a container, by hand."""
    general, spot = one.general, one.corrected
    tree = {
        "name": one.name, "channel": one.channel, "insertion_mm": 1000 * one.insertion, "samples": TIME.size,
        "logger": {
            "lethality_min": general.lethality / 60, "heating_lethality_min": general.heating / 60,
            "trapezoids_min": general.trapezoids / 60, "trapezoidal_error_min": general.trapezoidal_error / 60,
        },
        "heating": factors(one.heating), "cooling": factors(one.cooling), "against_case": against(one.as_case),
        "against_fit": against(one.fitted),
        "depth_found": {
            "best_mm": 1000 * one.depth.best, "low_mm": 1000 * one.depth.low, "high_mm": 1000 * one.depth.high,
            "others_mm": [1000 * one.depth.others[0]], "gain": one.depth.gain,
        },
    }  # fmt: skip
    if spot:
        tree["corrected"] = {
            "r_mm": 1000 * spot.r, "z_mm": 1000 * spot.z, "lethality_min": spot.lethality / 60,
            "low_min": spot.low / 60, "high_min": spot.high / 60, "numerical_uncertainty_min": spot.numerical / 60,
            "heating_lethality_min": spot.heating_lethality / 60, "end_of_heating_C": spot.end_of_heating,
            "logger_over_reads_percent": 100 * spot.over_reading,
            "logger_over_reads_until_heating_ends_percent": 100 * spot.heating_over_reading,
        }  # fmt: skip
    if one.predicted:
        tree["predicted_lethality_min"] = one.predicted / 60
    if one.there:
        tree["corrected_as_found_min"] = one.there / 60
    if one.seen:
        tree["cold_spot_up_to_the_last_sample_min"] = one.seen / 60
    if one.failure:
        tree["failure"] = {"kind": "freezes", "time_min": one.failure.time / 60}
    tree |= {"in_doubt": one.name != "B", "factors_in_doubt": False}
    return tree


def same(tree, wanted, where=""):
    """Compare trees, numbers to a rounding."""
    if isinstance(wanted, dict):
        assert tree.keys() == wanted.keys(), where
        for key, value in wanted.items():
            same(tree[key], value, f"{where}.{key}")
    elif isinstance(wanted, list):
        assert len(tree) == len(wanted), where
        for k, value in enumerate(wanted):
            same(tree[k], value, f"{where}.{k}")
    elif isinstance(wanted, float):
        assert_allclose(tree, wanted, err_msg=where, **EXACT)
    else:
        assert tree == wanted, where


def test_json_has_each_figure_under_its_name_in_its_unit(found):
    tree = measured_summary(found)
    for one, made in zip(tree["containers"], found.containers, strict=True):
        fit, flags = one.pop("fit"), one.pop("flags")
        same(one, expected(made))
        assert [flag["text"] for flag in flags] == [flag.text for flag in made.flags]
        keys, units = ("name", "value", "low", "high", "start", "at_bound"), ("m2/s", "degC", "s")
        for shown, estimate, unit in zip(fit["parameters"], made.fit.estimates, units, strict=True):
            same(shown, {**{key: getattr(estimate, key) for key in keys}, "unit": unit})
        assert fit["correlation"] == made.fit.correlation.tolist()
    assert tree["slowest"] == "B"
    same(tree["lethality"], {"reference_C": 121.1, "z_K": 10.0, "target_min": found.plan.target / 60})
    assert tree["come_up_credit"] == 0.37
    assert [check["within"] for check in tree["checks"]] == [True, False, None, False]
    for shown, row in zip(tree["process_design"], found.design, strict=True):
        hold, heating = (None if value is None else value / 60 for value in (row.hold, row.heating))
        wanted = {
            "deviation": row.name, "lethality_of_planned_time_min": row.lethality / 60, "hold_min": hold,
            "hold_uncertainty_min": row.uncertainty / 60, "steam_on_to_cooling_min": heating, "remark": row.remark,
        }  # fmt: skip
        same(shown, wanted)


def test_the_screen_says_first_what_the_slowest_gets_and_what_its_logger_makes_of_it(found):
    slow = found.containers[1]
    spot, read = slow.corrected, slow.general
    for full in (False, True):
        text = " ".join(" ".join(measured_answer(found, full=full)).split())
        interval = f"({spot.low / 60:.2f} to {spot.high / 60:.2f})"
        assert (
            f"= {spot.lethality / 60:.2f} min {interval} at the cold spot of "
            f'"B", without its probe; its logger says {read.lethality / 60:.2f} min, +{100 * spot.over_reading:.1f} %'
        ) in text
        assert "Target NOT reached: found four; target limit four" in text
        assert "Outside limits second; figures are IN DOUBT, see the flags Decision" in text
        for one, found_at in zip(found.containers, ("DOUBTFUL", "", "REFUSED"), strict=True):
            line, depth = one.heating.line, one.depth
            others = "".join(f" or {1000 * other:.1f}" for other in depth.others)
            row = (
                f"{one.name} {one.channel} {1000 * one.insertion:.4g} {1000 * depth.low:.1f} to "
                f"{1000 * depth.high:.1f}{others}{'' if one.name == 'A' else ' ?'} {line.f / 60:.1f} {line.j:.2f} "
                f"{one.general.lethality / 60:.2f} "
            )
            (told,) = [" ".join(cells) for cells in rows_table(found).rows if cells[0] == one.name]
            assert told.startswith(row)
            after = told.split(row)[1]
            if one.corrected:
                corrected = one.corrected
                figures = (corrected.lethality / 60, corrected.low / 60, corrected.high / 60)
                assert "{:.2f} ({:.2f} to {:.2f})".format(*figures) in after
            assert found_at in after


def test_what_is_outside_its_limits_is_told_once_a_container(found):
    names = ("clocks", '"A: x": residuals', '"B": residuals', '"A: x": fh against conduction', "cold spot")
    of = dataclasses.replace(found, checks=tuple(Check(name, "", "", False) for name in names))
    text = " ".join(" ".join(measured_answer(of)).split())
    told = 'Outside limits clocks, cold spot; "A: x": residuals, fh against conduction; "B": residuals; figures are'
    assert told in text


def test_the_full_screen_tells_each_containers_figures(found):
    text = " ".join(" ".join(measured_answer(found, full=True)).split())
    for one in found.containers:
        general, case, fitted = one.general, one.as_case.misfit, one.fitted.misfit
        pieces = [
            f"Probe {1000 * one.insertion:.4g} mm deep",
            f"Lethality read {general.lethality / 60:.2f} min, {general.heating / 60:.2f} min before heating ends",
            f"summed: {general.trapezoids / 60:.2f} min, of which {general.trapezoidal_error / 60:+.3f} min",
            *(
                f"Against {name} mean {of.bias:+.2f} K, root mean square {of.rms:.2f} K, largest {of.largest:+.2f} K "
                f"at {of.time / 60:.1f} min"
                for name, of in (("case", case), ("fit", fitted))
            ),
            *(
                f"{title} f{letter} = {of.line.f / 60:.2f} min "
                f"({of.line.f_low / 60:.2f} to {of.line.f_high / 60:.2f}), "
                f"j{letter} = {of.line.j:.3f} ({of.line.j_low:.3f} to {of.line.j_high:.3f}); straight part "
                f"{of.line.start / 60:.1f} to {of.line.end / 60:.1f} min ({how}, {of.line.samples} samples)"
                for title, letter, of, how in (
                    ("Heating", "h", one.heating, "found"), ("Cooling", "c", one.cooling, "given")
                )
            ),
        ]  # fmt: skip
        if one.corrected:
            spot = one.corrected
            pieces.append(
                f"({spot.low / 60:.2f} to {spot.high / 60:.2f}), numerical uncertainty {spot.numerical / 60:.2f} "
                f"min, at r = {1000 * spot.r:.1f} mm, z = {1000 * spot.z:.1f} mm; {spot.end_of_heating:.2f} degC "
                f"when heating ends Logger's error {100 * spot.over_reading:+.1f} % against that; until heating ends "
                f"{100 * spot.heating_over_reading:+.1f} %"
            )
        (factor, start, clock), bound = one.fit.estimates, "stopped by its bound"
        said = [
            f"{name} {scale * of.value:.4g} ({scale * of.low:.4g} to {scale * of.high:.4g}) {unit}, "
            f"from {scale * of.start:.4g}"
            for name, of, scale, unit in (
                ("diffusivity", factor, 1e6, "mm2/s"), ("initial", start, 1.0, "degC"), ("offset", clock, 1.0, "s")
            )
        ]  # fmt: skip
        pieces.append(f"Fitted {'; '.join(said)}, {bound}")
        for piece in pieces:
            assert piece in text, piece
    unfitted = dataclasses.replace(found, containers=(dataclasses.replace(found.containers[1], fit=None),), slowest=0)
    assert "Fitted" not in " ".join(measured_answer(unfitted, full=True))


def test_spreadsheets_have_each_number_under_its_head(found):
    (_, heads, rows), (_, curve_heads, curves), (_, fit_heads, fits) = sheets(found)
    for one, cells in zip(found.containers, rows, strict=True):
        row, depth, spot = dict(zip(heads, cells, strict=True)), one.depth, one.corrected
        wanted = {
            "tip as said [mm]": 1e3 * one.insertion, "tip found [mm]": 1e3 * depth.best,
            "tip found, from [mm]": 1e3 * depth.low, "tip found, to [mm]": 1e3 * depth.high,
            "fh [min]": one.heating.line.f / 60, "jh": one.heating.line.j, "fc [min]": one.cooling.line.f / 60,
            "jc": one.cooling.line.j, "diffusivity [mm2/s]": 1e6 * one.fit.estimates[0].value,
            "start [degC]": one.fit.estimates[1].value, "lethality read [min]": one.general.lethality / 60,
        }  # fmt: skip
        if spot:
            wanted |= {
                "lethality corrected [min]": spot.lethality / 60, "lethality corrected, from [min]": spot.low / 60,
                "lethality corrected, to [min]": spot.high / 60,
            }  # fmt: skip
        # as many digits as are written
        assert_allclose([row[head] for head in wanted], list(wanted.values()), rtol=0, atol=1e-6)
        assert (row["can"], row["channel"]) == (one.name, str(one.channel))
        assert row["in doubt or refused"] == ("no" if one.name == "B" else "YES")
        of_one = [dict(zip(fit_heads, fit, strict=True)) for fit in fits if fit[0] == one.name]
        for fit, estimate, scale in zip(of_one, one.fit.estimates, (1e6, 1.0, 1.0), strict=True):
            assert fit["parameter"] == estimate.name
            values = [scale * getattr(estimate, name) for name in ("value", "low", "high")]
            assert_allclose([fit[head] for head in ("value", "from", "to")], values, rtol=1e-6)
    table = dict(zip(curve_heads, np.array(curves, dtype=object).T, strict=True))
    assert_allclose(table["time [min]"].astype(float), TIME / 60, rtol=1e-3)
    for one in found.containers[:2]:
        for name, values in (
            ("read", one.temperature),
            ("fitted", one.fitted.temperature),
            ("cold spot", one.corrected.temperature),
        ):
            assert_allclose(table[f"{one.name}, {name} [degC]"].astype(float), values, rtol=0, atol=1e-4)


def test_verdict_holds_and_films_stand_in_their_columns_of_the_report(found, page):
    rows = tables(page)
    for check, stands in zip(found.checks[:3], ("within", "OUTSIDE", "cannot be told"), strict=True):
        assert [check.name, stands, check.statement, check.limit] in rows
    for row in found.design:
        if row.hold is None:
            hold = [row.remark, "-"]
        else:
            hold = [f"{row.hold / 60:.1f} ± {max(row.uncertainty / 60, 0.1):.1f} min", f"{row.heating / 60:.1f} min"]
        assert [row.name, f"{row.lethality / 60:.2f} min", *hold] in rows
    for stage in found.process.stages:
        film = stage.film
        assert [stage.name, f"{film.side:g}", f"{film.base:g}", f"{film.lid:g}"] in rows


@pytest.mark.parametrize(("slowest", "designed", "said"), [
    (1, 1, 'Holds with the product as fitted in "B", the slowest container.'),
    (0, 1, 'as fitted in "B", the slowest container that stands; "A", slower, is IN DOUBT and not counted.'),
    (0, 0, 'Holds with the product as fitted in "A", the slowest container, which is IN DOUBT as all others are.'),
    (1, None, 'Holds with the product as fitted in "B", the slowest container.'),
])  # fmt: skip
def test_the_table_of_holds_names_its_container_and_a_slower_one_in_doubt(found, slowest, designed, said):
    """Of the made-up containers "A" is in doubt."""
    one = dataclasses.replace(found, slowest=slowest, designed=designed)
    assert said in " ".join(" ".join(measured_answer(one, full=True)).split())
    assert measured_summary(one)["process_design_of"] == (None if designed is None else "AB"[designed])


@pytest.mark.parametrize("doubted", [True, False])
def test_factors_of_a_run_whose_end_of_heating_is_in_doubt_carry_that_wherever_they_stand(found, doubted):
    flag = Notice(ENDED_OTHERWISE if doubted else "outlier", "danger", "logger", "HEATING ENDED.", {}, "whose clock?")
    one = dataclasses.replace(found.containers[1], flags=(flag,))
    of = dataclasses.replace(found, containers=(one,), slowest=0, designed=0, notices=(flag,))
    line, mark = one.heating.line, " ?" if doubted else ""
    text = " ".join(" ".join(measured_answer(of, full=True)).split())
    assert f" {line.f / 60:.1f}{mark} {line.j:.2f}{mark} " in text and "DOUBTFUL" in text and ", IN DOUBT, at" in text
    assert 'Holds with the product as fitted in "B", the slowest container, which is IN DOUBT' in text
    tree, (_, heads, (row,)) = measured_summary(of), sheets(of)[0]
    assert tree["containers"][0]["factors_in_doubt"] is doubted and tree["process_design_in_doubt"]
    row = dict(zip(heads, row, strict=True))
    assert (row["f and j in doubt"], row["in doubt or refused"]) == ("YES" if doubted else "no", "YES")
    html = measured_report_html(of, {}, program="program 1", when="now")
    rows = [row for row in tables(ElementTree.fromstring(html.partition("\n")[2])) if row[0].startswith("measured, ")]
    paper = {section.title: section.parts for section in paper_sections(of)}[FACTORS][0].rows[0]
    titles = [title for ax in plot_penetration(of, one).axes if (title := ax.get_title(loc="left"))]
    assert len(titles) == 2
    cells = [cell for row in rows for cell in row[1:3]]
    for place in (*cells, *paper[1:5], *titles, text.split(" Heating ")[1]):
        assert ("IN DOUBT" in place) is doubted


def test_the_report_has_each_phases_factors_in_its_own_row(found, page):
    rows = tables(page)
    for one in found.containers:
        for name, reading in (("measured", one), ("case", one.as_case), ("fitted model", one.fitted)):
            for phase, of in (("heating", reading.heating), ("cooling", reading.cooling)):
                line = of.line
                (row,) = [
                    row for row in rows if row[0] == f"{name}, {phase}" and f"= {line.f / 60:.2f} min" in row[1]
                ]
                assert f"f{phase[0]} = {line.f / 60:.2f} min" in row[1] and f"j{phase[0]} = {line.j:.3f}" in row[2]
    for first, *others in zip(
        ("diffusivity", "initial", "offset"), *found.containers[0].fit.correlation, strict=True
    ):
        assert [first, *(f"{value:+.2f}" for value in others)] in rows


def test_on_paper_each_container_has_its_factors_and_fitted_parameters_in_a_row(found):
    factors_, fits = {section.title: section.parts for section in paper_sections(found)}[FACTORS]
    assert factors_.heads[:5] == ("can", "fh", "jh", "fc", "jc") and fits.heads == ("can", *FITTED)
    for one, row, fit in zip(found.containers, factors_.rows, fits.rows, strict=True):
        values = [(of.line.f / 60, of.line.j) for of in (one.heating, one.cooling)]
        wanted = [f"= {value:.{digits}f}" for pair in values for value, digits in zip(pair, (2, 3), strict=True)]
        wanted += [f"{of.misfit.rms:.2f} K" for of in (one.as_case, one.fitted)]
        assert row[0] == fit[0] == one.name
        assert all(value in cell for value, cell in zip(wanted, row[1:], strict=True))
        for name, of, scale, cell in zip(FITTED, one.fit.estimates, (1e6, 1.0, 1.0), fit[1:], strict=True):
            assert cell.startswith(f"{name} {scale * of.value:.4g} ({scale * of.low:.4g} to {scale * of.high:.4g})")


def curve(ax, start):
    (line,) = [line for line in ax.lines if str(line.get_label()).startswith(start)]
    return line.get_xdata(), line.get_ydata()


def test_figures_say_of_a_corrected_record_that_it_is_in_doubt(found):
    for one, doubted in zip(found.containers, (True, False), strict=False):
        for figure in (
            plot_measured(found, one, figure=Figure()),
            plot_measured_lethality(found, one, figure=Figure()),
        ):
            labels = [str(line.get_label()) for line in figure.axes[0].lines]
            assert [label.endswith("IN DOUBT") for label in labels if label.startswith("cold spot")] == [doubted]


def test_figures_draw_minutes_kelvin_and_measured_less_computed(found):
    one = found.containers[1]
    upper, lower = plot_measured(found, one, figure=Figure()).axes[:2]
    for ax, start, wanted in (
        (upper, "measured", one.temperature),
        (upper, "fitted", one.fitted.temperature),
        (lower, "case", np.full(TIME.size, 2.0)),
        (lower, "fitted", np.full(TIME.size, 0.5)),
    ):
        x, y = curve(ax, start)
        assert_allclose(x, TIME / 60, **EXACT)
        assert_allclose(y, wanted, rtol=1e-9)
    ax = plot_measured_lethality(found, one, figure=Figure()).axes[0]
    for start, last in (("the logger", one.general.course[-1]), ("cold spot", one.corrected.lethality)):
        x, y = curve(ax, start)
        assert_allclose([x[-1], y[-1]], [TIME[-1] / 60, last / 60], **EXACT)
    band = ax.collections[0].get_paths()[0].vertices
    assert_allclose(band[:, 1].max(), one.corrected.high / 60, **EXACT)
    assert_allclose(curve(ax, "target")[1], found.plan.target / 60, **EXACT)
    heating, cooling = plot_penetration(found, one, figure=Figure()).axes[:2]
    for ax, of, sign, begin, end in (
        (heating, one.heating, 1, 0, found.process.heated_until),
        (cooling, one.cooling, -1, found.process.heated_until, TIME[-1]),
    ):
        within = (one.time >= begin) & (one.time <= end)
        x, y = curve(ax, "measured")
        assert_allclose(x, TIME[within] / 60, **EXACT)
        left = sign * (of.medium - one.temperature[within])
        assert_allclose(y[~np.isnan(y)], left[~np.isnan(y)], rtol=1e-9)
        x, y = curve(ax, "straight")
        line = of.line
        assert_allclose(x, [line.start / 60, line.end / 60], **EXACT)
        assert_allclose(y, abs(of.medium - of.start) * line.j * 10 ** (-(x * 60 - line.zero) / line.f), rtol=1e-9)
        assert f"{line.f / 60:.1f} min, j{'h' if sign > 0 else 'c'} {line.j:.2f}" in ax.get_title(loc="left")
