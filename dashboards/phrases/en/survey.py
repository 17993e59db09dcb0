"""English: the survey - its report, its plane, what speaks for and against a family.

`survey.CODE` (`survey.CODE.VARIANT`) are the reasons of `analytics.survey`, `survey.mend.*` what to
do about tests that contradict each other, `caution.*` the cautions of `analytics.media`, `family.*`
the families within a sentence.
"""

from __future__ import annotations

FAMILIES = {
    "family.carbon": "carbon",
    "family.hydrogen": "decarbonising (hydrogen)",
    "family.magnesium": "magnesium",
    "family.membrane": "membrane with remineraliser",
    "family.mixed": "mixed (hydrogen and magnesium)",
    "family.polyphosphate": "polyphosphate dosing",
    "family.sodium": "softening (sodium)",
    "family.remineralise": "remineralising (calcite bed)",
    "family.carbon.short": "carbon",
    "family.hydrogen.short": "hydrogen",
    "family.magnesium.short": "magnesium",
    "family.membrane.short": "membrane",
    "family.mixed.short": "mixed",
    "family.polyphosphate.short": "polyphosphate",
    "family.sodium.short": "sodium",
    "family.remineralise.short": "remineralise",
    "family.carbon.does": "takes chlorine; hardness, alkalinity and conductivity stay",
    "family.hydrogen.does": "takes the calcium and magnesium that go with alkalinity and gives "
    "hydrogen, which makes CO2 of the bicarbonate; permanent hardness stays",
    "family.magnesium.does": "swaps calcium for magnesium; total hardness and alkalinity stay, "
    "calcium falls",
    "family.membrane.does": "holds back nearly all ions, then puts calcium and alkalinity back",
    "family.mixed.does": "lowers carbonate hardness and swaps part of the calcium for magnesium",
    "family.polyphosphate.does": "sequesters calcium and magnesium with a few mg/L of "
    "polyphosphate; hardness stays",
    "family.sodium.does": "swaps calcium and magnesium for sodium; hardness falls to nearly "
    "nothing, alkalinity stays",
    "family.remineralise.does": "puts calcium and alkalinity into water that is thin",
}

CAUTIONS = {
    "caution.hygiene": "Water that is not safe to drink is not made safe by this cartridge.",
    "caution.flush": "After days without use, flush before drinking.",
    "caution.confirm": "An estimate is not a test: confirm with a drop test before a decision that "
    "can cost a machine.",
    "caution.plumbing": "Mains pressure, backflow prevention and drinking-water connections: local "
    "code and a licensed plumber.",
    "caution.electricity": "Electricity beside water: isolate it first, low voltage only in the "
    "wet zone.",
    "caution.corrosion.new": "Behind a new cartridge pH is about {found} with {alkalinity} of "
    "alkalinity: such water corrodes boilers and pipes (lead, copper, nickel). Blend it.",
    "caution.corrosion.spent": "Once the minerals are used up pH is about {found} with "
    "{alkalinity} of alkalinity: such water corrodes boilers and pipes (lead, copper, nickel). "
    "Change it in time.",
    "caution.chloride": "Chloride is about {found} and stays in the water: stainless and brass "
    "boilers corrode. Only a membrane takes it out.",
    "caution.sodium-diet": "Softening adds {added} of sodium: tell people on a low-sodium diet.",
    "caution.sodium-limit": "Sodium reaches {found}, above the drinking-water limit of {limit}. "
    "Blend, or choose another medium.",
    "caution.faint.one-rises": "At the end of capacity conductivity rises by only {change} of raw "
    "water: one outlet probe cannot tell the end. The estimate rests on litres, raw hardness and "
    "drop tests.",
    "caution.faint.one-falls": "At the end of capacity conductivity falls by only {change} of raw "
    "water: one outlet probe cannot tell the end. The estimate rests on litres, raw hardness and "
    "drop tests.",
    "caution.faint.pair-rises": "At the end of capacity conductivity rises by only {change} of raw "
    "water: conductivity, even with a pair of probes, cannot tell the end. The estimate rests on "
    "litres, raw hardness and drop tests.",
    "caution.faint.pair-falls": "At the end of capacity conductivity falls by only {change} of raw "
    "water: conductivity, even with a pair of probes, cannot tell the end. The estimate rests on "
    "litres, raw hardness and drop tests.",
    "caution.not-visible.carbon": "Conductivity tells nothing about carbon: only litres and months "
    "count.",
    "caution.not-visible.dose": "Conductivity and drop tests tell nothing about the dose: only "
    "litres and months count.",
    "caution.films": "Films and sludge can block the water passages of an espresso machine, as "
    "small as 0.5 mm: not advised before one.",
    "caution.steam-boiler": "Magnesium minerals can still deposit in a steam boiler.",
    "caution.calcium-test": "Total hardness hardly changes: only a calcium drop test shows where "
    "this medium stands.",
    "caution.magnesium-rich": "{found} of the raw hardness is magnesium already: the bed takes "
    "less calcium than it is rated for.",
    "caution.sodium-first.hydrogen": "Alkalinity exceeds hardness: sodium breaks through first, so "
    "outlet conductivity climbs early while hardness is still low. It is not the end of capacity.",
    "caution.sodium-first.mixed": "Alkalinity exceeds hardness: sodium breaks through first, so "
    "outlet conductivity climbs early and leakage moves with the sodium in raw water. Neither is "
    "the end of capacity.",
    "caution.permanent": "Permanent hardness of about {stays} stays in the water and can still "
    "scale.",
    "caution.leakage": "A new cartridge lets about {through} of the carbonate hardness through; "
    "the end of capacity is counted from there.",
    "caution.permeate": "Permeate of a sound membrane conducts about {passed} of raw water: judge "
    "the membrane by a probe before the remineraliser. Behind it, a fall is its end.",
}

NAMES = {
    "survey.name.hardness": "total hardness",
    "survey.name.alkalinity": "alkalinity",
    "survey.name.ec25": "conductivity",
    "survey.name.calcium": "calcium",
    "survey.name.magnesium": "magnesium",
    "survey.name.sodium": "sodium",
    "survey.name.chloride": "chloride",
    "survey.name.sulphate": "sulphate",
    "survey.name.nitrate": "nitrate",
    "survey.name.ph": "pH",
    "survey.and": "{first} and {last}",
    "survey.cases": "{n} of 100 cases",
    "survey.kind.total": "total hardness",
    "survey.kind.carbonate": "carbonate hardness",
    "survey.kind.calcium": "calcium hardness",
}

REASONS = {
    "survey.hardness.above": "hardness {found} is above {limit}",
    "survey.hardness.below": "hardness {found} is below {limit}",
    "survey.alkalinity.above": "alkalinity {found} is above {limit}",
    "survey.alkalinity.below": "alkalinity {found} is below {limit}",
    "survey.changes-nothing.outside": "Raw {parts}; carbon changes neither.",
    "survey.changes-nothing.seldom": "Raw water is in the window in only {found}; carbon changes "
    "neither figure.",
    "survey.scale.machine": "In the brew boiler at {boiler} the saturation index is {found}, above "
    "{limit}: scale.",
    "survey.scale.carbon": "In the brew boiler at {boiler} the saturation index is {found}, above "
    "{limit}: scale. Carbon takes no lime.",
    "survey.not-needed.carbon": "Raw water is in the window already: carbon is enough.",
    "survey.not-needed.membrane": "Raw water is in the window already: a membrane is not called "
    "for.",
    "survey.alkalinity-not-high.below": "It lowers alkalinity, but that of raw water ({found}) is "
    "below the window already ({low} to {high}).",
    "survey.alkalinity-not-high.within": "It lowers alkalinity, but that of raw water ({found}) is "
    "within the window already ({low} to {high}).",
    "survey.permanent-stays": "It takes only the hardness that goes with alkalinity: {found} would "
    "stay, above {limit}. The rest is permanent (gypsum, salt).",
    "survey.floor": "Alkalinity exceeds hardness: {found} of it goes with sodium and stays, above "
    "{limit}.",
    "survey.too-soft-behind": "It takes hardness with the alkalinity: once alkalinity is in the "
    "window only {found} of hardness is left, below {limit}.",
    "survey.hardness-stays": "Total hardness stays: {found} is too far above the window's {limit}.",
    "survey.already-soft.swap": "Raw water has only {found} of hardness: there is nothing to swap.",
    "survey.already-soft.take": "Raw water is soft already ({found}): there is nothing to take.",
    "survey.alkalinity-stays": "Alkalinity stays: {found}, above the window's {limit}: a flat cup.",
    "survey.magnesium-rich": "Only {found} of the hardness is calcium: swapping it for magnesium "
    "changes little.",
    "survey.permanent-to-sodium": "Most of {found} is permanent hardness (gypsum, salt): it would "
    "come back as sodium salt in the cup. A membrane takes it out.",
    "survey.low-sodium": "It adds sodium, and the water must stay low in sodium.",
    "survey.not-thin.too-much": "It adds hardness and alkalinity, and the water has too much "
    "already.",
    "survey.not-thin.enough": "Raw water has minerals enough: nothing needs to be put back.",
    "survey.already-thin": "Raw water is thin already: putting minerals back does it without a "
    "membrane.",
    "survey.chloride.stays": "Chloride of about {found} stays, above {limit}: it corrodes "
    "stainless steel and brass. Only a membrane takes it out.",
    "survey.films": "It leaves hardness where it is, and its films and sludge can block the water "
    "passages of an espresso machine, as small as 0.5 mm.",
    "survey.hardness-high": "The machine would still get hardness of {found}, above {limit}.",
    "survey.hardness-low": "The machine would get hardness of only {found}, below {limit}.",
    "survey.alkalinity-high": "The machine would still get alkalinity of {found}, above {limit}.",
    "survey.alkalinity-low": "The machine would get alkalinity of only {found}, below {limit}.",
    "survey.calcium-high": "The machine would still get calcium of {found}, above {limit}.",
    "survey.calcium-low": "The machine would get calcium of only {found}, below {limit}.",
    "survey.hardly-treats": "With {round} round the bed it would hardly treat the water.",
    "survey.just-outside": "Just outside the window: {parts}.",
    "survey.sodium-limit.raw": "Raw sodium is above {limit} already and stays.",
    "survey.sodium-limit.reached": "Sodium would reach {found}, above the limit of {limit}.",
    "survey.half-way": "A calcite bed alone reaches {hardness} of hardness and {alkalinity} of "
    "alkalinity; for more it needs carbon dioxide or dosed minerals.",
    "survey.unsure": "With what is known the machine's water is in the window in {found}: confirm "
    "by a drop test behind the filter before the bypass is left alone.",
    "survey.ph.below": "pH at the tap is about {found}, below {limit} of the window. It rises to "
    "about {open} as carbon dioxide leaves; until then it attacks copper, brass and lead.",
    "survey.ph.above": "pH at the tap is about {found}, above {limit} of the window. In air it "
    "falls to about {open}.",
    "survey.low-ph": "pH {found} at the tap is low for copper, brass and lead until the CO2 has "
    "left.",
    "survey.corrosion": "With only {found} of alkalinity this water hardly buffers acid: boilers "
    "and pipes corrode (lead, copper, nickel).",
    "survey.chloride-thickens": "In the steam boiler it stands {many} times as high.",
    "survey.chloride-untested": "Chloride was not tested; {low} to {high} is plausible, above "
    "{limit} in {over}: test it before anything is bought.",
    "survey.chloride.unknown": "Chloride {found} is above {limit}: watch the boiler's metal for "
    "pitting.",
    "survey.chloride.stainless": "Chloride {found} is above {limit}: watch stainless steel for "
    "pitting.",
    "survey.chloride.brass": "Chloride {found} is above {limit}: watch brass for pitting.",
    "survey.brew-scale": "Some scale at {boiler}: saturation index {found}, up to {lime} of lime.",
    "survey.steam-scale": "The steam boiler thickens its water ({many} times): up to {lime} of "
    "lime in its feed can settle. Change its water often.",
    "survey.steam-magnesium": "Magnesium minerals can deposit there too.",
    "survey.sodium-diet.over": "Adds {added} of sodium, {found} in all (drinking-water limit "
    "{limit}): tell people on a low-sodium diet, for whom {diet} is advised.",
    "survey.sodium-diet.under": "Adds {added} of sodium, {found} in all (drinking-water limit "
    "{limit}): tell people on a low-sodium diet; {diet} is advised to them.",
    "survey.tds": "TDS {found} (EC25 times {factor}, a convention) is outside {low} to {high}.",
    "survey.taste": "It takes calcium and magnesium, which extract: good for the machine, poor for "
    "the cup.",
    "survey.effort.membrane": "It sends part of the water to the drain, needs line pressure or a "
    "pump, and often a tank: ask for its recovery before it is fitted.",
    "survey.effort.calcite": "How much a calcite bed dissolves hangs on free carbon dioxide: "
    "measure pH at the tap.",
    "survey.softened-already": "Hardly any hardness, but plenty of alkalinity: a softener stands "
    "before this tap, or the sample was taken behind one. Survey the water of the main.",
    "survey.alkalinity-exceeds-hardness": "Alkalinity exceeds total hardness by {floor}: that part "
    "goes with sodium. A test of 'carbonate hardness' shows it too; it is no fault of the test.",
    "survey.hardness-inferred.alone": "Hardness is inferred from alkalinity or calcium alone: "
    "count its drops.",
    "survey.hardness-inferred.conductivity": "Hardness is inferred from conductivity, which sees "
    "all salts: count its drops.",
    "survey.report-differs": "The test finds {what} {tested}, the report states {stated}. The test "
    "is taken; the report may be of another zone or year, or the main is fed from several sources.",
}

DOUBTS = {
    "survey.calcium-above-hardness.unit": "Calcium ({calcium}) is above total hardness "
    "({hardness}), of which it is a part. Read as mg/L of CaCO3 instead of calcium it would be "
    "{slipped} and fit: the calcium figure's unit is likely wrong.",
    "survey.calcium-above-hardness.hardness": "Calcium ({calcium}) is above total hardness "
    "({hardness}), of which it is a part. Conductivity and alkalinity side with calcium: the "
    "hardness test is likely wrong.",
    "survey.calcium-above-hardness.calcium": "Calcium ({calcium}) is above total hardness "
    "({hardness}), of which it is a part. A calcium test needs pH 12 and reads high without it: "
    "calcium is likelier wrong.",
    "survey.parts-not-hardness": "Calcium and magnesium together are {both}, total hardness is "
    "{whole}: they should be one. Two figures of one analysis outweigh a test: total hardness is "
    "likely wrong, or the water has changed.",
    "survey.conductivity-too-low.test": "{found} is too little for this {known}: these ions alone "
    "conduct at least {least} at 25 °C. Conductivity agrees with {others}: {wrong} is likely wrong "
    "(another drop size, or another water).",
    "survey.conductivity-too-low.conductivity": "{found} is too little for this {known}: these "
    "ions alone conduct at least {least} at 25 °C. They agree with each other: conductivity is "
    "likely wrong.",
    "survey.conductivity-too-low.either": "{found} is too little for this {known}: these ions "
    "alone conduct at least {least} at 25 °C. One of the two is wrong; a conductivity reading goes "
    "astray more easily than drops.",
    "survey.too-few-cations.hardness": "Alkalinity and chloride come to {anions}, but hardness and "
    "sodium to at most {cations}: there are not enough cations to go with them. Conductivity "
    "agrees with the alkalinity: the hardness test is likely wrong.",
    "survey.too-few-cations.alkalinity": "Alkalinity and chloride come to {anions}, but hardness "
    "and sodium to at most {cations}: there are not enough cations to go with them. Two tests "
    "stand against one: alkalinity is likely wrong.",
    "survey.ph-too-high": "At pH {found} this hardness and alkalinity would drop lime in the main "
    "(saturation index {index}). pH is likely wrong: a sample that stood loses CO2 and rises.",
    "survey.ph-too-low": "At pH {found} this alkalinity goes with {co2} of free carbon dioxide, "
    "more than a main carries. pH is likely wrong.",
    "survey.mend.unit": 'Say what the milligrams are of: "40 mg/L" is calcium, "100 mg/L as CaCO3" '
    "hardness.",
    "survey.mend.drops": "Test total hardness again and check how much one drop stands for.",
    "survey.mend.again": "Test both again, calcium with its alkaline buffer.",
    "survey.mend.kit": "Test it again and check how much one drop stands for.",
    "survey.mend.probe": "Check the meter in a standard (1413 µS/cm), its unit (mS/cm?) and "
    "whether it refers to 25 °C: without that it reads 30 % low at 10 °C.",
    "survey.mend.alkalinity": "A test of alkalinity tells which is right.",
    "survey.mend.ph": "Measure pH at once at the tap, with a meter set in two buffers.",
}

TEXTS = {**FAMILIES, **CAUTIONS, **NAMES, **REASONS, **DOUBTS}
