"""thermsim: ``simulate`` as it stands, with its search for the cold spots and its estimate of uncertainty."""

from __future__ import annotations

import numpy as np

from contestants.answer import Answer
from contestants.jar import REFERENCE, Array, Jar, Z
from thermsim.assess.fields.local_fit import Along
from thermsim.assess.simulate.result import Result
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Accuracy, Case, Lethality
from thermsim.case.container import Container, Wall
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.physics.materials import Material


def case_of(jar: Jar, *, accuracy: float) -> Case:
    """The jar as a case; accuracy of temperatures [K], of lethality a tenth of that a kelvin."""
    radius, bottom, top = jar.product
    names = "come-up", "hold", "cool", "cool"
    stages = tuple(
        Stage(
            name,
            np.array([period.start, period.end]),
            np.array([period.medium, period.medium_end]),
            Film.everywhere(period.film),
        )
        for name, period in zip(names, jar.periods, strict=True)
    )

    def material(name: str, i: int, j: int) -> Material:
        heat = float(jar.heat[i, j])
        density = 1e3 if heat > 1e5 else 1.0
        return Material(name, float(jar.conductivity[i, j]), density, heat / density)

    if jar.columns.size == 2:
        container, headspace = (Container(straight(2 * radius, top - bottom)), Headspace("insulated"))
        product = material("product", 0, 0)
    else:
        thick_side, thick_base, thick_lid = (jar.columns[2] - radius, bottom, jar.levels[4] - jar.levels[3])
        container = Container(
            straight(2 * radius, float(jar.levels[3] - bottom)),
            Wall(material("side", 1, 1), float(thick_side)),
            Wall(material("base", 0, 0), float(thick_base)),
            Wall(material("lid", 0, 3), float(thick_lid)),
        )
        product, headspace = (material("product", 0, 1), Headspace("fixed", material("gas", 0, 2)))
    return Case(
        title=jar.name,
        container=container,
        product=Product(product, jar.initial),
        fill_height=top - bottom,
        headspace=headspace,
        process=Process(stages),
        lethality=Lethality(REFERENCE, Z),
        accuracy=Accuracy(accuracy, accuracy / 10.0),
    )


def read_off(result: Result, places: Array) -> tuple[Array, Array]:
    """Temperatures [degC] over the output times and lethality [s] at places in the product of a straight jar."""
    grid = result.grid
    rows, columns = grid.product_blocks[0]
    along_r = Along.at(grid.columns, rows, np.ascontiguousarray(places[:, 0]), axis=True)
    along_z = Along.at(grid.levels, columns, np.ascontiguousarray(places[:, 1]))
    nodes = along_r.numbers[:, :, None] * grid.shape[1] + along_z.numbers[:, None, :]
    weights = np.zeros((len(places), grid.r.size))
    shares = along_r.weights[:, :, None] * along_z.weights[:, None, :]
    np.add.at(weights, (np.arange(len(places))[:, None, None], nodes), shares)  # beyond the axis nodes are mirrored
    used = np.flatnonzero(weights.any(axis=0))
    weights = weights[:, used].T
    curves = result.temperature.reshape(result.time.size, -1)[:, used] @ weights
    return curves, np.exp(np.log(result.lethality.reshape(-1)[used]) @ weights)


def solve(jar: Jar, places: Array, *, accuracy: float) -> Answer:
    """Temperatures at places, to the accuracy [K] that the case asks for."""
    result = simulate(case_of(jar, accuracy=accuracy))
    curves, gathered = read_off(result, places)
    promised = max(
        value for name, value in result.uncertainty.items() if name.startswith("cold_spot") and "temperature" in name
    )
    return Answer(result.time, curves, result.effort.nodes, result.effort.steps, gathered, promised)
