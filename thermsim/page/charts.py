"""Charts that the pointer reads: histories with the lethality gathered, and a number varied."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.lethality import gathered_course
from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.page.scan import Scan
from thermsim.quantities import LETHALITY, TEMPERATURE, TIME, Z, minutes
from thermsim.systems import row_shown

#: Colours of kept answers, by their number.
KEPT = (*style.POINTS, "#7b5ea7", "#444444", "#a0522d", "#2e8b8b", "#b0413e", "#6b8e23")


def histories(result: Result, kept: Sequence[tuple[str, Result]] = ()) -> dict[str, Any]:
    """Temperatures and lethality at the cold spots over time, with those of kept answers laid over."""
    least, slowest = result.spots
    process, symbol = result.case.process, result.case.lethality.symbol
    medium, temperatures = process.knots
    degrees = row_shown(TEMPERATURE)
    series = [
        _line("heating medium", medium, temperatures, style.MEDIUM, width=1.5),
        _line("place of least lethality", least.time, least.temperature, style.LEAST_LETHALITY),
        _line("slowest-heating place", slowest.time, slowest.temperature, style.SLOWEST_HEATING, kind="dashed"),
    ]
    series += [
        _line(point.name, point.time, point.temperature, style.POINTS[k % 4], width=1.2)
        for k, point in enumerate(result.points)
    ]
    if result.probe is not None:
        reading = result.probe.reading
        series.append(_line("reading of the probe", result.time, reading.temperature, style.READING))
    gathered = minutes(gathered_course(least, result.case))
    series.append(
        _line(f"{symbol} at least lethality", least.time, gathered, style.LEAST_LETHALITY, of_f=True, kind="dotted")
    )
    for k, (name, other) in enumerate(kept):
        spot = other.spots[0]
        course = minutes(gathered_course(spot, other.case))
        series.append(_line(name, spot.time, spot.temperature, KEPT[k % len(KEPT)], width=1.5))
        series.append(_line(f"{symbol}, {name}", spot.time, course, KEPT[k % len(KEPT)], of_f=True, kind="dotted"))
    if result.case.lethality.target is not None:
        line = {"yAxis": minutes(result.case.lethality.target), "name": "target"}
        label = {"formatter": f"target {symbol}", "position": "insideStartTop"}
        series[-1 - 2 * len(kept)]["markLine"] = _mark(line, style.TARGET, label)
    return {
        "animation": False,
        "grid": {"left": 58, "right": 62, "top": 54, "bottom": 42},
        "legend": {"type": "scroll", "top": 2, "itemWidth": 22, "textStyle": {"fontSize": 11}},
        "tooltip": {"trigger": "axis", ":valueFormatter": "value => Number(value).toFixed(2)", "confine": True},
        "xAxis": {**_axis(TIME.axis()), "max": minutes(process.end)},
        "yAxis": [
            {**_axis(degrees.axis(), gap=36), "scale": True},
            {**_axis(LETHALITY.axis(), gap=36), "min": 0, "splitLine": {"show": False}},
        ],
        "series": series,
    }


def scan_chart(scan: Scan, label: str) -> dict[str, Any]:
    """Lethality and height of the cold spot over a number, its present value marked."""
    height = row_shown(Z)
    f = [[value, minutes(one)] for value, one in zip(scan.values, scan.lethality, strict=True)]
    z = [[value, height.edge(one)] for value, one in zip(scan.values, scan.height, strict=True)]
    now = _mark({"xAxis": scan.place.value}, style.LINE, {"formatter": "now"})
    looks = {"type": "line", "symbolSize": 7}
    colours = style.LEAST_LETHALITY, style.SLOWEST_HEATING
    return {
        "animation": False,
        "grid": {"left": 58, "right": 62, "top": 40, "bottom": 42},
        "legend": {"top": 2},
        "tooltip": {"trigger": "axis", ":valueFormatter": "value => Number(value).toFixed(3)", "confine": True},
        "xAxis": {**_axis(label), "scale": True},
        "yAxis": [
            {**_axis(LETHALITY.axis(), gap=40), "scale": True},
            {**_axis(height.axis("z of the cold spot"), gap=40), "scale": True, "splitLine": {"show": False}},
        ],
        "series": [
            {**looks, "name": "least lethality", "data": f, "color": colours[0], "markLine": now},
            {**looks, "name": "height of the cold spot", "data": z, "color": colours[1], "yAxisIndex": 1},
        ],
    }


def _axis(name: str, gap: int = 26) -> dict[str, Any]:
    return {"type": "value", "name": name, "nameLocation": "middle", "nameGap": gap}


def _mark(line: dict[str, Any], colour: str, label: dict[str, str]) -> dict[str, Any]:
    return {"silent": True, "symbol": "none", "lineStyle": {"color": colour}, "label": label, "data": [line]}


def _line(
    name: str,
    time: NDArray[np.float64],
    values: NDArray[np.float64],
    colour: str,
    *,
    width: float = 2.0,
    kind: str = "solid",
    of_f: bool = False,
) -> dict[str, Any]:
    shown = values if of_f else row_shown(TEMPERATURE).edge(values)
    data = np.stack([minutes(time), shown], axis=1).round(4).tolist()
    return {
        "type": "line",
        "name": name,
        "data": data,
        "color": colour,
        "showSymbol": False,
        "lineStyle": {"width": width, "type": kind},
        "yAxisIndex": int(of_f),
    }
