"""Probes and hardware at hand go through the codec without loss, and only known words come back."""

import dataclasses

import pytest
from small_cans import LOGGER, PASTE, PLASTIC, STEM, STEPPED, small_can

from thermsim.case.case import Case
from thermsim.case.probe import Gap, Stock
from thermsim.records.files.codec import decode, encode

GAPPED = dataclasses.replace(STEPPED, gap=Gap(0.0002, PLASTIC), name="gapped")


def there_and_back(case):
    kept = {}

    def put(trail, value):
        if isinstance(value, str):
            return None
        kept[".".join(trail)] = value
        return ".".join(trail)

    return decode(Case, encode(case, put), kept.__getitem__), encode(case, put), kept


@pytest.mark.parametrize(
    "stock",
    [
        None,
        Stock(),
        Stock(lengths=(0.05, 0.08), travel=(0.01, 0.03)),
        Stock(spacers=(0.005,), most_spacers=2),
    ],
)
@pytest.mark.parametrize("probe", [None, STEM, STEPPED, GAPPED, LOGGER])
def test_probe_further_probes_and_stock_come_back_equal(probe, stock):
    case = small_can(probe=probe, probes=(STEM, GAPPED) if probe else (), stock=stock)
    back, _, _ = there_and_back(case)
    assert (back.probe, back.probes, back.stock) == (case.probe, case.probes, case.stock)


def test_change_in_a_probe_is_not_lost():
    changed = dataclasses.replace(GAPPED, gap=Gap(0.0003, PASTE), entry="base")
    back, _, _ = there_and_back(small_can(probe=changed))
    assert back.probe == changed
    assert back.probe != GAPPED


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda probe: probe.update(entry="top"), "part probe.entry must be one of lid, base, side, not 'top'"),
        (lambda probe: probe.update(mount="glued"), "part probe.mount must be one of through, inside, not 'glued'"),
        (lambda probe: probe.update(entry=None), "part probe.entry must be one of lid, base, side, not None"),
        (lambda probe: probe.update(fitting=3), "part probe.fitting must be Fitting, not 3"),
        (lambda probe: probe["segments"][0].update(wall="thin"), r"part probe.segments.0.wall must be float"),
        (lambda probe: probe["segments"][1].update(colour=1), r"part probe.segments.1.colour is not known"),
    ],
)
def test_probe_that_does_not_fit_is_refused_by_the_name_of_the_part(change, reason):
    _, tree, kept = there_and_back(small_can(probe=GAPPED))
    change(tree["probe"])
    with pytest.raises(ValueError, match=reason):
        decode(Case, tree, kept.__getitem__)


def test_case_of_an_older_file_has_no_probe():
    _, tree, kept = there_and_back(small_can())
    for name in ("probe", "probes", "stock"):
        del tree[name]
    back = decode(Case, tree, kept.__getitem__)
    assert (back.probe, back.probes, back.stock) == (None, (), None)
