"""What a diagnosis can say, as sentences with gaps: each is what its translation is found by.

`words` fills the gaps. Whatever translates these has every one of them from `every_message`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from station.diagnosis.circuit.network import CABLE, STATION
from station.diagnosis.named.explanations import LOOSE_PART, TERMINALS
from station.diagnosis.named.suspect import Found, PartKind

UNEXPLAINED = "No single part explains this: two faults at once, or one that is not foreseen."
NOTHING = "Impedance and sound of every section fit parts inside their tolerances."
NO_NETLIST = "The limit file has no netlist, so the parts cannot be told apart."
NO_IMPEDANCE = "There is no impedance to look into."
HIGH_VOLTAGE = "High voltage: only a trained person may open the panel."

# The parts that are called by what they are; a designator such as C2 is the same everywhere.
PARTS = ("woofer", "midrange", "tweeter", "panel", LOOSE_PART, TERMINALS, CABLE, STATION)
BOX = "{part}'s box"
WITH_ARTICLE = "the {part}"
PAIR = "{part} and {beside}"
OR = "or"

SAID: Mapping[Found, str] = {
    Found.OPEN: "{part} seems open",
    Found.BRIDGED: "{part} seems bridged",
    Found.COIL: "the voice coil of the {part} seems to be another one",
    Found.ANOTHER: "another driver seems to be fitted as the {part}",
    Found.SWAPPED: "{part} and {beside} seem to stand in each other's place",
    Found.TORN: "the surround of the {part} seems torn: it is softer, and the box leaks",
    Found.LEAK: "the {part} seems to leak",
    Found.REVERSED: "the leads of the {part} are reversed",
    Found.COIL_RUB: "the voice coil of the {part} seems to rub",
    Found.LOOSE: "something loose seems to buzz in or at the box",
    Found.ARCING: "the {part} seems to arc",
    Found.SENSE: "the station's current sense seems off: every impedance is, by one ratio",
}
WRONG = "{part} seems wrong"
MEASURED: Mapping[Found, str] = {
    Found.VALUE: "{part} reads {value}, nominal {nominal}",
    Found.RESISTANCE: "{part} has {value} in series, nominal {nominal}",
    Found.MOTOR: "the force factor of the {part} is {value}, nominal {nominal}",
    Found.MASS: "the moving mass of the {part} is {value}, nominal {nominal}",
    Found.SUSPENSION: "the stiffness of the {part} is {value}, nominal {nominal}",
    Found.LOSSES: "the mechanical losses of the {part} are {value}, nominal {nominal}",
    Found.CONTACT: "the leads to the unit have {value}, nominal {nominal}",
}
STANDARD_HINT = "{words}; a part of {value} would read so"
QUIETER = "the {part} is {value} quieter while its impedance is right"
LOUDER = "the {part} is {value} louder while its impedance is right"
LOW_BIAS = "{words}: its bias is low or missing"
TURNS = "about {percent} % of the turns of the {part} seem shorted"
WINDING_TURNS = "{part} seems to have shorted turns: it reads {value}"

DRIVER_CHECK = "Disconnect the {part} and measure it alone."
COMPONENT_CHECK = "Unsolder one end of {part} and measure it."
PANEL_CHECK = "Measure the capacitance of the {part} at its leads."
CHECKS: Mapping[Found, str] = {
    Found.ANOTHER: "Compare the type on the {part} with the parts list.",
    Found.COIL: DRIVER_CHECK,
    Found.MOTOR: DRIVER_CHECK,
    Found.MASS: "Look for something stuck to the cone of the {part}, then compare its type.",
    Found.SUSPENSION: "Feel the surround and the spider of the {part}, then measure it alone.",
    Found.LOSSES: DRIVER_CHECK,
    Found.SWAPPED: "Read the values printed on {part} and {beside}.",
    Found.TORN: "Look at the surround of the {part}, and listen for air at it.",
    Found.LEAK: "Press on the seals and the terminal plate while a low tone plays.",
    Found.LEVEL: "Exchange the {part} for a good one and measure again.",
    Found.BIAS: "Check the bias supply and its lead.",
    Found.REVERSED: "Swap red and black at the {part}.",
    Found.COIL_RUB: "Move the cone of the {part} by hand and feel for the coil.",
    Found.LOOSE: "Listen with a slow sweep and press on what may be loose.",
    Found.ARCING: "Look for dust and damage on the panel in the dark.",
    Found.CONTACT: "Clean the contacts of the fixture and measure again.",
    Found.SENSE: "Calibrate the current, then measure the reference unit.",
}
PART_CHECKS: Mapping[tuple[PartKind, Found], str] = {
    (PartKind.COMPONENT, Found.OPEN): "Check the joints of {part}, then unsolder one end and "
    "measure it.",
    (PartKind.COMPONENT, Found.BRIDGED): "Look for a solder bridge at {part}, then unsolder one "
    "end and measure it.",
    (PartKind.DRIVER, Found.OPEN): "Measure the {part} at its own terminals: no resistance means "
    "a broken coil or lead.",
    (PartKind.DRIVER, Found.BRIDGED): "Look for a short at the terminals of the {part}.",
    (PartKind.DRIVER, Found.SHORTED_TURNS): DRIVER_CHECK,
    (PartKind.DRIVER, Found.RESISTANCE): "Check the leads and terminals of the {part}, then "
    "measure it alone.",
    (PartKind.TRANSFORMER, Found.OPEN): "Measure the windings of {part}.",
}
# Behind these checks stands HIGH_VOLTAGE.
DANGEROUS = frozenset(
    {
        PANEL_CHECK,
        CHECKS[Found.BIAS],
        CHECKS[Found.ARCING],
        PART_CHECKS[PartKind.TRANSFORMER, Found.OPEN],
    }
)


def every_message() -> Iterator[str]:
    """Yield every sentence, some more than once."""
    yield from (UNEXPLAINED, NOTHING, NO_NETLIST, NO_IMPEDANCE, HIGH_VOLTAGE)
    yield from (*PARTS, BOX, WITH_ARTICLE, PAIR, OR)
    yield from (*SAID.values(), WRONG, *MEASURED.values(), STANDARD_HINT)
    yield from (QUIETER, LOUDER, LOW_BIAS, TURNS, WINDING_TURNS)
    yield from (*CHECKS.values(), *PART_CHECKS.values(), COMPONENT_CHECK, PANEL_CHECK)
