"""The report's tables about a probe: what it reads, what it does to its reading and to the product."""

from __future__ import annotations

from thermsim.assess.probe.effect import ProbeEffect
from thermsim.assess.simulate.result import Result
from thermsim.quantities import minutes
from thermsim.records.report.markup import typeset
from thermsim.records.report.results import happening
from thermsim.records.words.figure_text import bias, figure
from thermsim.records.words.parts import Heading, Part, paragraphs, table
from thermsim.records.words.probe import cooled, offset_text

_AGAINST = (("same place without the probe", "at_place"), ("undisturbed least lethality", "at_cold_spot"))
_FACTORS = (("reading", "factors"), ("same place without the probe", "factors_without"))
_LARGEST = ("largest while heating", "largest in cooling")


def effect_parts(result: Result, effect: ProbeEffect) -> tuple[Part, ...]:
    """Tables of the reading, its bias in both phases, the heat-penetration factors and the product's cold spot."""

    def row(label: str, name: str) -> tuple[str, ...]:
        names = ("lethality", "heating_lethality", "end_of_heating")
        return label, *(typeset(figure(result, f"{name}.{one}")) for one in names)

    phases = ("while heating", "in cooling", "in all") if cooled(result) else ("while heating",)
    parts: list[Part] = [
        Heading("By how much it is off, over time"),
        paragraphs([f"{offset_text(result).capitalize()}. The whole course stands in probe-histories.csv."]),
        Heading("What it reads"),
        table(
            ("", *happening(result)),
            [
                row("the probe's reading", "probe.reading"),
                row("same place without the probe", "probe.without_probe"),
                row("undisturbed least lethality", f"{result.beside}.least_lethality"),
            ],
        ),
        Heading("What it does: the bias of its reading"),
        table(
            ("against", *(f"lethality {phase}" for phase in phases), *_LARGEST[: len(phases)], "T when heating ends"),
            [_bias(result, label, name) for label, name in _AGAINST],
        ),
        Heading("Heat-penetration factors"),
        table(("", "fh", "jh"), [_factors(result, label, name) for label, name in _FACTORS]),
        Heading("The product's least lethality with the probe in it"),
        table(("", "r", "z", *happening(result), "from the undisturbed"), [_moved(result, effect)]),
    ]
    return tuple(parts)


def _bias(result: Result, label: str, name: str) -> tuple[str, ...]:
    one = getattr(result.probe, name)
    phases = ("heating_lethality", "cooling_lethality", "lethality") if cooled(result) else ("heating_lethality",)
    largest = ("temperature", "cooling_temperature") if cooled(result) else ("temperature",)
    return (
        label,
        *(typeset(bias(result, f"probe.{name}.{phase}")) for phase in phases),
        *(
            f"{typeset(bias(result, f'probe.{name}.{kind}'))} after {minutes(time):.0f}\u00a0min"
            for kind, time in ((kind, getattr(one, f"{kind}_time")) for kind in largest)
        ),
        typeset(bias(result, f"probe.{name}.end_of_heating")),
    )


def _factors(result: Result, label: str, name: str) -> tuple[str, ...]:
    if getattr(result.probe, name) is None:
        return label, "no straight part", "none"
    return label, *(typeset(figure(result, f"probe.{name}.{one}")) for one in ("f", "j"))


def _moved(result: Result, effect: ProbeEffect) -> tuple[str, ...]:
    names = ("r", "z", "lethality", "heating_lethality", "end_of_heating")
    return (
        "on the probe's surface" if effect.beside_stem else "not at the probe",
        *(typeset(figure(result, f"probe.least_lethality.{name}")) for name in names),
        typeset(figure(result, "probe.moved")),
    )
