"""A small can and probes for it, for the tests of the records."""

from small_jars import ROUGH

from thermsim.case.case import Case, Lethality
from thermsim.case.container import Container, Wall
from thermsim.case.probe import Fitting, Probe, Segment
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import Profile, Rise, straight
from thermsim.physics.materials import Material

PASTE = Material("paste", 0.55, 1050.0, 3700.0, "invented")
STEEL = Material("steel & nickel", 17.0, 7900.0, 460.0, "invented")
PLASTIC = Material("plastic", 0.25, 1300.0, 1700.0, "invented")
TIN = Material("tin", 50.0, 7800.0, 450.0, "invented")


def small_can(**changes):
    """A small can of paste without a headspace, heated and cooled."""
    heating, cooling = Film(900.0, 900.0, 900.0), Film(500.0, 500.0, 500.0, probe=60.0)
    stages = (
        Stage("hold", [0.0, 2400.0], [121.1, 121.1], heating),
        Stage("cool", [2400.0, 3600.0], [25.0, 25.0], cooling),
    )
    case = Case(
        "Paste, small can",
        Container(straight(0.052, 0.070), Wall(TIN, 0.0002), Wall(TIN, 0.0002), Wall(TIN, 0.0002)),
        Product(PASTE, 40.0),
        0.070,
        Headspace("insulated"),
        Process(stages),
        Lethality(121.1, 10.0, 240.0),
        accuracy=ROUGH,  # what is written and drawn of it is the same at any
        output_every=30.0,
    )
    return case.replace(**changes)


#: A body of revolution with a taper, a shoulder and a neck, rounded; a wall thicker at its foot; a base that rises.
SHOULDERED = Container(
    Profile(((0.0, 0.020), (0.020, 0.026), (0.050, 0.026), (0.060, 0.020), (0.070, 0.020)), rounding=0.004),
    Wall(TIN, 0.0004, (0.0004, 0.0003, 0.0003, 0.0003, 0.0003)),
    Wall(TIN, 0.0003),
    Wall(TIN, 0.0002),
    rise=Rise(0.006, 0.030),
)
#: A cup that widens towards its lid, sharp; its base a cone.
TAPERED = Container(
    Profile(((0.0, 0.025), (0.080, 0.035))),
    Wall(PLASTIC, 0.001),
    Wall(PLASTIC, 0.001),
    rise=Rise(0.006, 0.030, "cone"),
)

#: A steel stem in a plastic sleeve, stepped, with a fitting.
STEPPED = Probe(
    "lid",
    "through",
    (Segment(0.006, 0.040, PLASTIC, 0.001, STEEL), Segment(0.003, 0.040, STEEL)),
    insertion=0.036,
    sensing=0.002,
    fitting=Fitting(0.012, 0.003, 0.010, STEEL),
    film=40.0,
    initial=30.0,
    name='stepped "stem"',
)
#: One straight steel stem, its depth to be recommended.
STEM = Probe("lid", "through", (Segment(0.003, 0.080, STEEL),), sensing=0.002, name="3 mm steel")
#: A logger that stands on spacers.
LOGGER = Probe(
    "base",
    "inside",
    (Segment(0.008, 0.010, PLASTIC, spacer=True), Segment(0.014, 0.016, STEEL), Segment(0.003, 0.008, STEEL)),
    sensing=0.001,
    name="logger",
)
