"""English: the wiring guide."""

from __future__ import annotations

TEXTS = {
    "wiring.title": "Wiring",
    "wiring.title-what": "How probes, thermometers and turbines are wired to the node, with "
    "cautions.",
    "wiring.first": "Wire the meters.",
    "wiring.then": "One small board reads one or two conductivity probes, a thermometer at each, "
    "and one or two turbine meters, and sends it all over one cable.",
    "wiring.next": "Read the cautions before you open a pipe or a box.",
    "wiring.electric": "Electricity",
    "wiring.electric-note": "before you touch a wire",
    "wiring.electric.1": "Pull the plug of the board, and of everything it is wired to, before you "
    "touch a wire.",
    "wiring.electric.2": "In the wet zone only low voltage: 5 V at most, from a supply with double "
    "insulation (safety extra-low voltage). Nothing here opens or joins a mains wire: that is an "
    "electrician's work.",
    "wiring.electric.3": "The board and every joint sit in a closed box in the dry, higher than "
    "the pipe. Each cable hangs in a loop before it goes in, so that drops fall off.",
    "wiring.electric.4": "The machine's frame is earthed and the water touches it. Feed the board "
    "so that no current can go from earth through the water to a probe: a supply without an earth "
    "contact, and an isolator in the USB cable if the computer is earthed. A current from "
    "elsewhere spoils the reading; the self test names it.",
    "wiring.food": "Drinking water",
    "wiring.food-note": "before you open a pipe",
    "wiring.food.1": "The machine's water is food. Every wetted part must be made and approved for "
    "drinking water where you are (in the European Union: Directive (EU) 2020/2184, Article 11; in "
    "North America: NSF/ANSI/CAN 61).",
    "wiring.food.2": "Electrodes of stainless steel 1.4404 (316L) or graphite. No solder, no flux, "
    "no brass electrode, no glue in the water.",
    "wiring.food.3": "Thermometers stay outside the water: in a pocket, or strapped to the pipe "
    "under insulation.",
    "wiring.food.4": "Mains pressure, backflow prevention and joints in a drinking-water pipe: "
    "local code and a licensed plumber. Clean hands and clean parts; flush ten litres to drain "
    "before the machine gets water again.",
    "wiring.places": "Places",
    "wiring.places-note": "what sits where",
    "wiring.places-drawn": "From left to right: stop valve, turbine, inlet probe, filter head with "
    "its bypass, outlet probe, machine. Above them, in the dry, the board in its box.",
    "wiring.dry": "dry zone",
    "wiring.wet": "wet zone",
    "wiring.board": "board",
    "wiring.to-host": "to the computer",
    "wiring.place.1": "stop valve",
    "wiring.place.2": "turbine, before the head, its arrow with the flow: it counts all the water, "
    "the bypass too",
    "wiring.place.3": "inlet probe and thermometer (may be left out: then set probes to 1)",
    "wiring.place.4": "filter head and cartridge",
    "wiring.place.5": "outlet probe and thermometer, behind the bypass, where the water flows up "
    "past the electrodes so that bubbles leave",
    "wiring.place.6": "machine",
    "wiring.two-probes": "Two probes in one pipe see each other's current. The board reads them in "
    "turn and lets go of every pin of one while it drives the other. Two instruments that drive "
    "all the time must be isolated from each other, each with a supply of its own.",
    "wiring.probe": "A probe",
    "wiring.probe-note": "drawn: the outlet probe",
    "wiring.probe-drawn": "Three pins go through a resistor each to one joint. The joint goes to "
    "the ADC pin and to one electrode. The other electrode goes to a fourth pin.",
    "wiring.probe.1": "Two bare electrodes with a cell constant of about 1 per cm, and three "
    "resistors of 1 %. The board drives the probe one way as long as the other, so that no charge "
    "stays on the electrodes, and takes the resistor that suits the water.",
    "wiring.probe.2": "Cable of two cores and a screen, three metres at most; the screen to ground "
    "at the board only.",
    "wiring.probe.3": "The probe's own cell constant is entered in LastLitre, not on the board.",
    "wiring.rest": "The others",
    "wiring.rest-note": "thermometers and turbines",
    "wiring.rest-drawn": "A one-wire thermometer on supply, data and ground, with a resistor from "
    "data to supply. A turbine on supply, pulse and ground.",
    "wiring.cell": "cell",
    "wiring.thermometer": "thermometer",
    "wiring.supply": "3.3 V",
    "wiring.pull-up": "4.7 kΩ",
    "wiring.turbine": "turbine",
    "wiring.rest.1": "One-wire digital thermometers of 12 bits, each on its own pin, so that a "
    "broken cable silences one of them only and none can be taken for the other.",
    "wiring.rest.2": "Turbines with an open-collector output; the board pulls it up. An output "
    "that gives 5 V needs a divider (10 and 20 kilo-ohm): the pins bear 3.3 V.",
    "wiring.rest.3": "The pulses of a litre are measured with a jug and entered in LastLitre.",
    "wiring.pins": "Pins",
    "wiring.pins-note": "as the program comes; change settings.py",
    "wiring.pin.outlet": "outlet probe: resistors, far electrode, ADC",
    "wiring.pin.inlet": "inlet probe: resistors, far electrode, ADC",
    "wiring.pin.ohms": "resistors, in the order of their pins",
    "wiring.pin.thermometers": "thermometers: outlet, inlet",
    "wiring.pin.turbine": "turbine (a second one: any free pin)",
    "wiring.pin.stop": "tie to ground at the start to reach the board with a terminal",
    "wiring.program": "Program",
    "wiring.program.1": "lastlitre firmware FOLDER writes the board's program into a folder, with "
    "a text on how to copy it to the board.",
    "wiring.program.2": "The program as written is tried on virtual parts and in a real "
    "interpreter; no test can try your soldering. Do the calibration before you trust a figure.",
}
