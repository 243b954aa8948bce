"""The keys of figures in JSON: the attribute's name, in the unit that files use, with that unit at its end."""

from __future__ import annotations

from collections.abc import Mapping

from thermsim.assess.fields.curve import Curve

MM, MIN, PERCENT = 1e3, 1.0 / 60.0, 100.0

Keys = Mapping[str, tuple[str, float]]

#: A figure's key in the file and the factor from its SI unit.
KEYS: Keys = {
    "r": ("r_mm", MM),
    "z": ("z_mm", MM),
    "distance": ("distance_mm", MM),
    "moved": ("moved_mm", MM),
    "lethality": ("lethality_min", MIN),
    "heating_lethality": ("heating_lethality_min", MIN),
    "end_of_heating": ("end_of_heating_C", 1.0),
    "temperature": ("temperature_C", 1.0),
    "part": ("product_percent", PERCENT),
    "least": ("least_lethality_min", MIN),
    "required_hold": ("required_hold_min", MIN),
    "f": ("fh_min", MIN),
    "j": ("jh", 1.0),
}
#: The same for what a reading has more than it should.
BIAS_KEYS: Keys = {
    "lethality": ("lethality_percent", PERCENT),
    "heating_lethality": ("heating_lethality_percent", PERCENT),
    "cooling_lethality": ("cooling_lethality_percent", PERCENT),
    "temperature": ("temperature_K", 1.0),
    "temperature_time": ("temperature_time_min", MIN),
    "cooling_temperature": ("cooling_temperature_K", 1.0),
    "cooling_temperature_time": ("cooling_temperature_time_min", MIN),
    "end_of_heating": ("end_of_heating_K", 1.0),
}
AT_A_PLACE = ("lethality", "heating_lethality", "end_of_heating")
SPOT = ("r", "z", *AT_A_PLACE)


def figures(whole: object, names: tuple[str, ...], keys: Keys = KEYS) -> dict[str, object]:
    """Attributes of a part of the result under their keys, in their units."""
    return {keys[name][0]: getattr(whole, name) * keys[name][1] for name in names}


def course(curve: Curve) -> dict[str, object]:
    """The temperatures of a curve and their times."""
    return {"time_min": (curve.time * MIN).tolist(), "temperature_C": curve.temperature.tolist()}


def uncertain(known: Mapping[str, float], where: str, names: tuple[str, ...], keys: Keys = KEYS) -> dict[str, object]:
    """The uncertainties of figures under the figures' keys; those that are not known are left out.

    Parameters
    ----------
    known : mapping of str to float
        Uncertainties by the dotted names of the attributes.
    where : str
        Dotted name of the part that the attributes belong to.
    names : tuple of str
        The attributes.
    keys : mapping, optional
        Keys and factors by the attributes' names.
    """
    return {keys[name][0]: known[f"{where}.{name}"] * keys[name][1] for name in names if f"{where}.{name}" in known}
