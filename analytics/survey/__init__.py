"""From a few tests of raw water to a treatment: which media fit, bypass, size.

given      what was tested, by drops, as a value or from a report
window     the water a machine should get: a profile with its sources
site       machine, use and what is wanted
possible   figures that cannot be
doubt      tests that contradict each other, and what to go on with
filling    plausible whole waters behind a few tests
behind     water straight behind each family's new bed
blend      the bypass
sizing     capacity, litres and time
scale      calcite in the boilers
rules      why a family fits or does not
judge      one family with one water
plane      scale over hardness and alkalinity
plan       the survey as a whole
"""
