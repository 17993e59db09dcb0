"""English: what a person should know of a figure, a text a code of `analytics.remarks`."""

from __future__ import annotations

TEXTS = {
    "remark.raw-water-unknown": "Nothing is known of the raw water yet: do a drop test of it.",
    "remark.start-unknown": "Nobody entered how much had passed this cartridge before: the figure "
    "starts from any share of its life.",
    "remark.no-capacity": "The site file states no capacity: no litres left can be worked out.",
    "remark.cartridge-unannounced": "On {day} the cartridge seems to have been changed without a "
    "word. The old one is closed; enter the change to be sure.",
    "remark.probes-exchanged": "The probes before and behind the filter are exchanged since {day}. "
    "They are read the other way round until they are put right.",
    "remark.drop-test-doubted": "The drop test of {day} ({what}) says {told}, expected was "
    "{range}. It is likely wrong, but both stay possible: the range is wider. Test again.",
    "remark.k-factor-off": "The flow meter counts {factor} times what flows: enter its K-factor "
    "anew.",
    "remark.outlet-film": "A film seems to grow on the probe behind the filter: clean it, then "
    "read both probes in raw water.",
    "remark.inlet-film": "A film seems to grow on the probe before the filter: it reads too low. "
    "Clean it, then read both probes in raw water.",
    "remark.gap-running": "No readings since {moment}. The usual litres are added until they are "
    "back, and the range widens.",
    "remark.gap-unseen": "For {hours} hours in all there were no readings. About {litres} that are "
    "usual at such hours were added; the range is wider for it.",
    "remark.not-flushed": "The first litres of this cartridge read otherwise than those after: it "
    "may not have been flushed. They do not count.",
    "remark.stated-use": "There is no flow meter: the figure goes by the stated use of {litres} a "
    "day and readings by hand.",
    "remark.stated-use-by-hand": "There is no flow meter: the figure goes by readings by hand.",
    "remark.use-unknown": "There is no flow meter and no stated use: state litres a day, or read a "
    "water meter by hand twice.",
    "remark.no-probes": "There is no probe behind the filter: the figure rests on litres and drop "
    "tests.",
    "remark.no-inlet-probe": "There is one probe: another raw water and a turned bypass look alike "
    "until the next drop test.",
    "remark.medium-unseen": "Conductivity hardly shows the end of this medium: the figure rests on "
    "litres, raw hardness and drop tests.",
    "sharpen.drop-test": "A drop test now ({what}) would narrow the days left by about {days}.",
    "sharpen.second-probe": "A second probe, before the filter, would narrow the days left by "
    "about {days}.",
    "sharpen.jug-test": "Checking the flow meter with a jug would narrow the days left by about "
    "{days}.",
    "sharpen.day": "a day",
    "sharpen.days": "{n} days",
    "remark.what.raw-total": "total hardness of raw water",
    "remark.what.raw-alkalinity": "alkalinity of raw water",
    "remark.what.raw-calcium": "calcium of raw water",
    "remark.what.outlet-total": "total hardness of the machine's water",
    "remark.what.outlet-alkalinity": "alkalinity of the machine's water",
    "remark.what.outlet-calcium": "calcium of the machine's water",
}
