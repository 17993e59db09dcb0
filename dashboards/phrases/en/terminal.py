"""English: what commands say in a terminal - status, logbook, meters, replay, backup."""

from __future__ import annotations

COMMANDS = {
    "status.file": "{path}: rows numbered up to {newest}, {used} MB of {limit} MB with all that "
    "lies beside it.",
    "status.thinned": "Line {line}: readings before {day} are kept as values by the minute.",
    "status.sink": "Sink {sink}: confirmed up to row {row}, {waiting} to go.",
    "status.refused.one": "One row was refused and is kept aside:",
    "status.refused.many": "{n} rows were refused and are kept aside:",
    "status.reason": "{n} x {reason} (last: row {row})",
    "status.more.one": "and one more reason.",
    "status.more.many": "and {n} more reasons.",
    "status.counted": "Counted {name}: {n}",
    "note.written": "Entry {n}, signed {who}.",
    "paper.written": "{path}: {size} kB",
    "record.copied": "{path}: {size} MB, every page checked, rows up to number {newest}.",
    "record.aside": "The record that was there is now {path}.",
    "record.restored": "{record} is restored from {backup}; new rows are numbered from {newest}.",
}

METERS = {
    "scan.port": "port {port}",
    "scan.port-now": "port {port} (now {device})",
    "scan.none": "No serial port has anything plugged in.",
    "scan.none-mend": "Is the cable a data cable? Name a port to look there all the same: meters "
    "scan PORT",
    "scan.nothing": "nothing answers.",
    "scan.asked": "Asked for: a node, text, Modbus units {span}. A device with another unit or "
    "pace?",
    "scan.try": "Try: --units 1-247, --baud 4800; swap A and B; is it switched on?",
    "scan.answers": "answers: {said}",
    "scan.next": "Next: put this into the site file, then: lastlitre check SITE.toml",
    "scan.busy": "The site is running and holds the ports.",
    "scan.next-watch": "Next: lastlitre meters watch {path}",
    "scan.meter": "{meter} on {port}: {said}",
    "scan.rows": "{n} rows",
    "scan.silent": "silent",
    "watch.here": "{site}, meters read here. Conductivity as read, not referred to 25 °C.",
    "watch.file": "{site}, the site is running: read from its file. Conductivity as read, not "
    "referred to 25 °C.",
    "watch.head.time": "time",
    "watch.head.meter": "meter",
    "watch.head.outlet": "outlet",
    "watch.head.inlet": "inlet",
    "watch.head.pulses": "pulses",
    "watch.head.age": "age",
    "watch.head.rate": "rows/min",
    "watch.head.quality": "quality",
    "watch.silent": "said nothing within {seconds} s; try: lastlitre meters scan",
    "watch.good": "good",
    "watch.old": "old",
    "watch.outlet-doubtful": "outlet doubtful",
    "watch.inlet-doubtful": "inlet doubtful",
    "watch.flow-doubtful": "flow doubtful",
    "watch.clock-not-set": "clock not set",
    "watch.counter-anew": "counter began anew",
    "watch.simulated": "not a real meter",
}

REPLAY = {
    "replay.line": "{site}, line {line}: {medium} cartridge",
    "replay.no-rows": "The recording has no usable rows.",
    "replay.rows": "{rows} rows over {days} days ({first} to {last}), {draws} draws, {litres} L "
    "through the head; read in {seconds} s ({rate} rows/s).",
    "replay.bad-lines.one": "One line could not be read and was left out.",
    "replay.bad-lines.many": "{n} lines could not be read and were left out.",
    "replay.backwards.one": "One row ran backwards in time and was left out.",
    "replay.backwards.many": "{n} rows ran backwards in time and were left out.",
    "replay.leaps.one": "One row leapt far ahead in time and was left out.",
    "replay.leaps.many": "{n} rows leapt far ahead in time and were left out.",
    "replay.cut-short": "The file is cut short; what was there was used.",
    "replay.nothing-known": "No estimate: nothing was known to weigh.",
    "replay.end": "At the end, {day}:",
    "replay.left": "litres left to the end of capacity: {litres}",
    "replay.days": "days left: {days}, likely until {day}",
    "replay.hardness.total": "total hardness to the machine: {hardness}",
    "replay.hardness.carbonate": "carbonate hardness to the machine: {hardness}",
    "replay.hardness.calcium": "calcium hardness to the machine: {hardness}",
    "replay.rests": "the figure rests on litres {litres}, conductivity {conductivity}, drop tests "
    "{tests}",
    "replay.no-alarm": "No alarm was raised.",
    "replay.alarms": "Alarms raised: {names}.",
    "replay.none": "none",
    "replay.written": "Written: {estimates}, {alarms}",
}

TEXTS = {**COMMANDS, **METERS, **REPLAY}
