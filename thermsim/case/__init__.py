"""The user's input: the case file, its nouns, the materials, and the reader of data loggers' files."""

from thermsim.case.case import Accuracy, Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.file.reader import case_from_text, read_case
from thermsim.case.keys.template import key_table, starting_case
from thermsim.case.probe import Fitting, Gap, Probe, Segment, Stock
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.loggers.logger import Log, read_log
from thermsim.physics.materials import Material, find_material, library

__all__ = [
    "Accuracy",
    "Case",
    "Container",
    "Film",
    "Fitting",
    "Gap",
    "Headspace",
    "Lethality",
    "Log",
    "Material",
    "Point",
    "Probe",
    "Process",
    "Product",
    "Segment",
    "Stage",
    "Stock",
    "Wall",
    "case_from_text",
    "find_material",
    "key_table",
    "library",
    "read_case",
    "read_log",
    "starting_case",
]
