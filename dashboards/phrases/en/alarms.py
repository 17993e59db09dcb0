"""English: what each alarm means and what to do, in a barista's words.

A rule NAME has `alarm.NAME` (what it says), `.cause`, `.consequence` and `.do`; where there are
variants `alarm.NAME.VARIANT` says it instead; `.figures` follows where the figures are known.
"""

from __future__ import annotations

from dashboards.phrases.both_probes import probe_alarms

HARDNESS = {
    "alarm.outlet-hardness-high": "The machine gets hard water.",
    "alarm.outlet-hardness-high.figures": "About {outlet}; it should be at most {limit}.",
    "alarm.outlet-hardness-high.cause": "The cartridge is used up, the bypass is open too far, or "
    "the water main became harder.",
    "alarm.outlet-hardness-high.consequence": "Scale begins to grow in the machine.",
    "alarm.outlet-hardness-high.do": "Do a drop test of the machine's water. If it is hard too, "
    "change the cartridge.",
    "alarm.breakthrough": "The cartridge is used up.",
    "alarm.breakthrough.figures": "That is {chance} sure.",
    "alarm.breakthrough.cause": "It has taken all it can take.",
    "alarm.breakthrough.consequence": "The machine gets harder water every day and begins to "
    "scale.",
    "alarm.breakthrough.do": "Do a drop test of the machine's water, and change the cartridge.",
    "alarm.capacity-low": "The cartridge comes to its end: plan the change.",
    "alarm.capacity-low.figures": "About {left} left, {days} days.",
    "alarm.capacity-low.cause": "It has taken most of what it can take.",
    "alarm.capacity-low.consequence": "In a few weeks at most the water becomes hard.",
    "alarm.capacity-low.do": "Have the next cartridge at hand and settle the day of the change.",
    "alarm.change-now": "Change the cartridge now.",
    "alarm.change-now.figures": "About {left} left, {days} days.",
    "alarm.change-now.cause": "Hardly anything of it is left.",
    "alarm.change-now.consequence": "In a few days at most the water becomes hard.",
    "alarm.change-now.do": "Change the cartridge today or tomorrow, or call the service company.",
    "alarm.time-limit-near": "The cartridge soon comes to the end of its time.",
    "alarm.time-limit-near.figures": "It may stay for {days} more days.",
    "alarm.time-limit-near.cause": "A cartridge is to be changed after its months, however little "
    "it was used.",
    "alarm.time-limit-near.consequence": "Germs can grow in an old cartridge.",
    "alarm.time-limit-near.do": "Have the next cartridge at hand and settle the day of the change.",
    "alarm.time-limit": "The cartridge has been in for too long.",
    "alarm.time-limit.figures": "It was to be changed {days} days ago.",
    "alarm.time-limit.cause": "Its months are over, however little it was used.",
    "alarm.time-limit.consequence": "Germs can grow in an old cartridge.",
    "alarm.time-limit.do": "Change the cartridge.",
    "alarm.carbon-spent": "The cartridge's carbon is used up.",
    "alarm.carbon-spent.cause": "It has seen the litres it is made for.",
    "alarm.carbon-spent.consequence": "Chlorine and taste of the main come through.",
    "alarm.carbon-spent.do": "Change the cartridge.",
}

WATER = {
    "alarm.raw-water-changed": "The water main delivers another water.",
    "alarm.raw-water-changed.together": "The water main delivers another water: before and behind "
    "the cartridge it changed within hours.",
    "alarm.raw-water-changed.outlet-alone": "The water main probably delivers another water: "
    "behind the cartridge it changed too fast for a used-up one.",
    "alarm.raw-water-changed.figures": "Raw water is about {raw}.",
    "alarm.raw-water-changed.cause": "The water company has gone over to another source, or a "
    "valve was turned.",
    "alarm.raw-water-changed.consequence": "The cartridge lasts for more or fewer litres, and the "
    "bypass may no longer fit.",
    "alarm.raw-water-changed.do": "Do a drop test of raw water and one of the machine's water; "
    "check the bypass.",
    "alarm.bypass-off": "The bypass does not work as it is set.",
    "alarm.bypass-off.figures": "Set to {set}, it works like {bypass}.",
    "alarm.bypass-off.cause": "Somebody turned it, it was set wrong, or it sticks.",
    "alarm.bypass-off.consequence": "The machine gets harder or thinner water than planned, and "
    "the cartridge lasts otherwise.",
    "alarm.bypass-off.do": "Look at the setting on the head, then do a drop test of the machine's "
    "water.",
    "alarm.water-hard": "The machine's water is harder than the profile asks for.",
    "alarm.water-hard.figures": "About {hardness}; it should be at most {limit}.",
    "alarm.water-hard.cause": "The bypass is open too far, or the cartridge comes to its end.",
    "alarm.water-hard.consequence": "The cup tastes flat and scale can grow.",
    "alarm.water-hard.do": "Do a drop test of the machine's water; close the bypass a little.",
    "alarm.water-thin": "The machine's water is too soft.",
    "alarm.water-thin.figures": "About {hardness}; it should be at least {limit}.",
    "alarm.water-thin.cause": "The bypass is closed too far, or the water main became softer.",
    "alarm.water-thin.consequence": "The cup tastes thin and sour.",
    "alarm.water-thin.do": "Do a drop test of the machine's water; open the bypass a little.",
    "alarm.water-scaling": "The machine's water leaves scale in the boiler.",
    "alarm.water-scaling.figures": "Saturation index {si} at 95 °C.",
    "alarm.water-scaling.cause": "It holds more lime than hot water can keep.",
    "alarm.water-scaling.consequence": "Scale grows where the water is hottest.",
    "alarm.water-scaling.do": "Do a drop test of hardness and alkalinity; close the bypass a "
    "little, or ask the service company for another cartridge.",
    "alarm.water-corrosive": "The machine's water can attack metal.",
    "alarm.water-corrosive.figures": "Alkalinity about {alkalinity}, pH about {ph}.",
    "alarm.water-corrosive.cause": "It has too little alkalinity: the bypass is closed too far, or "
    "the water main became softer.",
    "alarm.water-corrosive.consequence": "Boilers and pipes corrode; lead, copper and nickel can "
    "get into the cup.",
    "alarm.water-corrosive.do": "Do a drop test of alkalinity; open the bypass a little.",
    "alarm.cold-water-warm": "The cold water is too warm.",
    "alarm.cold-water-warm.figures": "{temp}; it should be at most {limit_temp}.",
    "alarm.cold-water-warm.cause": "The pipe lies beside something hot, or warm water pushes back "
    "into it.",
    "alarm.cold-water-warm.consequence": "Germs grow in water above 25 °C.",
    "alarm.cold-water-warm.do": "Let it run until it is cold. If it stays warm, call a plumber.",
    "alarm.water-stood": "The water has stood for too long.",
    "alarm.water-stood.figures": "For {hours} hours; flush with {flush}.",
    "alarm.water-stood.cause": "Nothing was drawn for days.",
    "alarm.water-stood.consequence": "Germs and metals gather in standing water.",
    "alarm.water-stood.do": "Let the water run to the drain before you serve any.",
}

FLOW = {
    "alarm.leak": "Water runs while the place is shut.",
    "alarm.leak.figures": "{litres} in the last hour.",
    "alarm.leak.cause": "A pipe, a valve or the machine leaks, or a tap was left open.",
    "alarm.leak.consequence": "Water damage, and the cartridge is used up for nothing.",
    "alarm.leak.do": "Go and look. Shut the valve before the cartridge if you cannot find it.",
    "alarm.no-flow": "No water has run for hours, though the place is open.",
    "alarm.no-flow.figures": "None for {hours} hours of opening.",
    "alarm.no-flow.cause": "A valve is shut, the main is off, or the machine is filled past the "
    "cartridge. Or the place is closed and nobody said so.",
    "alarm.no-flow.consequence": "The machine can run dry, or gets water that is not treated.",
    "alarm.no-flow.do": "Draw a cup. If no litres are counted, look at the valves and at the flow "
    "meter. If the place is closed, enter the closure.",
    "alarm.flow-above-rating": "Water is drawn too fast for the cartridge.",
    "alarm.flow-above-rating.figures": "Up to {flow}; it is made for {limit_flow}.",
    "alarm.flow-above-rating.cause": "More machines draw at a time than the cartridge is made for, "
    "or a filling valve is open too far.",
    "alarm.flow-above-rating.consequence": "Some hardness slips through the cartridge.",
    "alarm.flow-above-rating.do": "Throttle the filling, or ask for a larger cartridge.",
}

_PROBE_CASES = {
    "failure-no-reading": "The {meter} gives no reading.",
    "failure-dry": "The {meter} is dry or its cable is off.",
    "failure-short": "The {meter} is shorted.",
    "failure-no-temp": "The {meter}'s thermometer is broken.",
    "failure-stuck": "The {meter} always shows the same.",
    "out-of-specification-swapped": "The probes before and behind the cartridge seem to be "
    "swapped.",
    "out-of-specification-doubtful": "The {meter} doubts its own readings.",
    "out-of-specification-warm": "The water at the {meter} is warmer than it is made for.",
    "maintenance-required-clean": "The {meter} reads otherwise than before, the water does not: it "
    "wants cleaning.",
}

_PROBE_TOLD = {
    "failure": "The {meter} has failed.",
    "failure.cause": "The probe is dry, broken, or its cable is off.",
    "failure.consequence": "The figure rests on litres and drop tests alone.",
    "failure.do": "Look at its cable and whether it sits in water; else replace it.",
    "care": "The {meter} wants care.",
    "care.cause": "It is dirty, in the wrong place, or works beyond what it is for.",
    "care.consequence": "The figure becomes less sure.",
    "care.do": "Look at the probe; clean it, and check it in a standard solution.",
}

METERS = {
    **probe_alarms(
        "probe behind the cartridge", "probe before the cartridge", _PROBE_CASES, _PROBE_TOLD
    ),
    "alarm.flow-meter-failure": "The flow meter has failed.",
    "alarm.flow-meter-failure.failure-no-reading": "The flow meter gives no count.",
    "alarm.flow-meter-failure.cause": "It is broken, or its cable is off.",
    "alarm.flow-meter-failure.consequence": "Litres are not counted; the figure becomes less sure.",
    "alarm.flow-meter-failure.do": "Look at its cable; else replace it.",
    "alarm.flow-meter-care": "The flow meter wants care.",
    "alarm.flow-meter-care.out-of-specification-doubtful": "The flow meter doubts its own count.",
    "alarm.flow-meter-care.maintenance-required-resets": "The flow meter starts counting anew "
    "again and again.",
    "alarm.flow-meter-care.cause": "Its power or its cable comes loose now and then.",
    "alarm.flow-meter-care.consequence": "Litres can be missed.",
    "alarm.flow-meter-care.do": "Look at its power and its cable.",
}

BOX = {
    "alarm.data-gap": "The meters are silent.",
    "alarm.data-gap.figures": "No reading for more than {minutes} minutes.",
    "alarm.data-gap.cause": "The meter box has no power, or its cable is off.",
    "alarm.data-gap.consequence": "The figure grows old, and nothing that goes wrong is seen.",
    "alarm.data-gap.do": "Look at the power and the cable of the meter box.",
    "alarm.clock-unsure": "The box does not know what time it is.",
    "alarm.clock-unsure.cause": "It started without a network and has no clock of its own.",
    "alarm.clock-unsure.consequence": "Readings wait for their date; the figure stands still.",
    "alarm.clock-unsure.do": "Look at the box's network.",
    "alarm.disk-low": "The box has little room left to write.",
    "alarm.disk-low.full": "The box has no room left to write.",
    "alarm.disk-low.figures": "{free} left.",
    "alarm.disk-low.cause": "Its card is too small, or something else fills it.",
    "alarm.disk-low.consequence": "Readings are kept more sparsely, and at last not at all.",
    "alarm.disk-low.do": "Make room, or put in a larger card.",
    "alarm.record-damaged": "The record was damaged and has been mended.",
    "alarm.record-damaged.cause": "The card or disk is failing, or the power went while it wrote.",
    "alarm.record-damaged.consequence": "A little of the record may be gone; the damaged file is "
    "kept beside it. A disk that fails once fails again.",
    "alarm.record-damaged.do": "Make a backup now, and have the card or disk replaced.",
    "alarm.sink-behind": "The record is not being sent.",
    "alarm.sink-behind.figures": "Nothing got across for {hours} hours.",
    "alarm.sink-behind.cause": "The network is down, or the receiver does not answer.",
    "alarm.sink-behind.consequence": "Nothing is lost: it is kept here and sent later. Who watches "
    "from afar sees an old state.",
    "alarm.sink-behind.do": "Look at the network; tell the service company if it stays.",
}

NOTICES = {
    "within.hour": "within an hour",
    "within.hours": "within {n} hours",
    "within.day": "within a day",
    "within.days": "within {n} days",
    "notice.raised": "{site}: {title}",
    "notice.raised-line": "{site}, {line}: {title}",
    "notice.again": "Still so: {title}",
    "notice.escalated": "Nobody has answered: {title}",
    "notice.cleared": "No longer so: {title}",
    "notice.several": "{site}: {n} messages",
    "notice.digest": "{site}: how things stood at {clock} on {day}",
    "notice.digest-none": "No alarm stands.",
    "notice.digest-new": "New in the last day: {n}.",
    "notice.since": "Since {moment}.",
    "notice.do": "What to do, {within}: {do}",
    "notice.why": "Likely cause: {cause} What it leads to: {consequence}",
    "notice.priority": "Priority: {priority}.",
    "notice.seen": "Acknowledged.",
    "notice.not-seen": "Not acknowledged.",
}

TEXTS = {**HARDNESS, **WATER, **FLOW, **METERS, **BOX, **NOTICES}
