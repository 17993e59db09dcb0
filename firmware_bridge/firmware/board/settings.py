"""What hangs on which pin of this board. Change it, copy it to the board, start the board anew.

Pin numbers are the chip's GPIO numbers. Probe, drive and sample settings that have no pin (range,
pace, one probe or two, the node's number) are set over the line, not here.
"""

NAME = "Harbour Steps, bar"

# The line to the host: ("usb",) or ("uart", number, tx pin, rx pin, bits a second).
LINE = ("usb",)

# Reference resistors in ohm, smallest first, each with the resistance of its pin (about 40 ohm).
PIN_OHM = 40
OHMS = (330 + PIN_OHM, 2200 + PIN_OHM, 15000 + PIN_OHM)

# Each probe: the pins at its references (in the order of OHMS), the pin behind the cell, the ADC.
OUTLET_PROBE = ((2, 3, 4), 5, 26)
INLET_PROBE = ((6, 7, 8), 9, 27)

# Data wires of the one-wire thermometers, each with 4700 ohm to 3.3 V.
OUTLET_THERMOMETER = 14
INLET_THERMOMETER = 15

# Turbines with an open-collector output; None where there is none.
TURBINE_1 = 16
TURBINE_2 = None

# Edges closer than this are one pulse that bounced.
PULSE_GAP_US = 200

# Tie this pin to ground while the board starts to reach it with a terminal; None: no such pin.
STOP_PIN = 22
