"""Sizes in which containers are traded, as the inside of a cylinder: cans by their seams, bricks and flat pouches."""

from __future__ import annotations

import math
import re

from thermsim.case.keys.checks import Table
from thermsim.quantities import INCH
from thermsim.text import in_mm, printed

# Narrower than this no can is expected (common practice, no source): 1 whole inch may be 100 mm and more.
NARROWEST = 2 * INCH
_SIZE = re.compile(r"(\d{1,2}\d\d)\s*[xX\u00d7]\s*(\d{1,2}\d\d)", re.ASCII)
_WRITTEN = (
    "it is written diameter x height over the seams, each in whole inches and two digits of sixteenths, for instance "
    '"307x409" for 3 7/16 by 4 9/16 in; in millimetres write diameter_over_seams_mm and height_over_seams_mm'
)


def size(table: Table) -> tuple[float, float] | None:
    """Diameter and height over the seams [m] of a can by its trade size; ``None`` where it is at fault.

    The notation is common practice, no source.
    """
    text = table.word("size")
    if not text:
        return None
    shown = f"size = {printed(text)}"
    match = _SIZE.fullmatch(text.strip())
    if match is None:
        table.fault(f"{shown} is not understood; {_WRITTEN}")
        return None
    outer = []
    for digits in match.groups():
        if int(digits[-2:]) > 15:
            table.fault(f"{shown}: {digits} would be {digits[-2:]} sixteenths, more than 15; {_WRITTEN}")
            return None
        outer.append(INCH * (int(digits[:-2]) + int(digits[-2:]) / 16))
    if outer[0] < NARROWEST:
        table.fault(
            f"{shown} is a can {1000 * outer[0]:.1f} mm wide, narrower than any that is expected; in millimetres, or "
            "if it is so narrow, write inner_diameter_mm and inner_height_mm"
        )
        return None
    return outer[0], outer[1]


def say_size(
    table: Table, over: tuple[float, float], inside: tuple[float, float], sink: float, notes: list[str]
) -> None:
    """Say what a trade size was taken as: over the seams and inside, diameter and height [m]."""
    by_depth = "countersink_mm" in table
    notes += [
        f"Size {printed(table.entries['size'])[1:-1]}: {1000 * over[0]:.1f} mm wide and {1000 * over[1]:.1f} mm high "
        f"over the seams; less {_allowance(table, 'seam_allowance_mm', over[0] - inside[0])} and "
        + (
            f"{in_mm(over[1] - inside[1])} mm for countersinks, base and lid (as given)"
            if by_depth
            else _allowance(table, "countersink_allowance_mm", over[1] - inside[1])
        )
        + f" it is taken as {1000 * inside[0]:.1f} mm wide and {1000 * inside[1]:.1f} mm high inside. Measure a can "
        "and correct the allowances.",
        "A headspace gauged from the top of the seam (gross headspace) is larger than headspace_mm, which counts "
        f"from the inside of the lid, by the lid's countersink: about {1000 * sink:.3g} mm"
        f"{'' if by_depth else ', half the allowance'}.",
    ]


def _allowance(table: Table, name: str, value: float) -> str:
    what = "for the seam" if name == "seam_allowance_mm" else "for the countersinks of both ends"
    known = "as given" if name in table else "common practice, no source"
    return f"{in_mm(value)} mm {what} ({known})"


def brick(table: Table, notes: list[str]) -> tuple[float, float] | None:
    """Diameter and height [m] of the upright cylinder that just encloses a brick; ``None`` where it is at fault.

    A surface held at the medium's temperature and a larger body round the same product: the temperature of the larger
    one is nowhere higher while the medium does not cool (maximum principle of the heat equation). What that means for
    lethality is added to ``notes``.
    """
    value = table.entries["brick_mm"]
    sides = table.numbers("brick_mm")
    if not isinstance(value, list) or any(math.isnan(side) for side in sides):
        return None
    shown = f"brick_mm = {printed(value)}"
    if len(sides) != 3:
        table.fault(f"{shown} must be three numbers, [length, width, thickness]")
        return None
    length, width, thickness = sides
    if thickness > min(length, width):
        table.fault(f"{shown}: the thickness comes last and must be the least of the three, as the brick lies flat")
        return None
    around = math.hypot(length, width)
    if 1000 * around > table.keys["inner_diameter_mm"].high:
        widest = table.keys["inner_diameter_mm"].high
        table.fault(f"{shown} needs a cylinder {in_mm(around)} mm wide; at most {widest:g} mm are allowed")
        return None
    notes += [
        f"The brick of {in_mm(length)} x {in_mm(width)} x {in_mm(thickness)} mm is no body of revolution: maps, "
        "points and probes through the lid or the base are those of the upright cylinder that just encloses it, "
        f"{1000 * around:.1f} mm wide and {in_mm(thickness)} mm high. Its energy is the cylinder's, "
        "volume and mass are the brick's own.",
        "No place in that cylinder heats faster than in the brick, for surfaces at the temperature of a medium that "
        "begins no colder than the product and does not cool (with finite heat-transfer coefficients this is an "
        "estimate): lethality gathered while heating is a lower bound. The cylinder cools more slowly, too: "
        "lethality of the whole process is no bound.",
        "The other bound is the cylinder that just fits into the brick: "
        f"inner_diameter_mm = {in_mm(min(length, width))}, inner_height_mm = {in_mm(thickness)}. Filling and "
        "pressure change a pouch's thickness and shape: take the greatest thickness.",
    ]
    return around, thickness
