"""What every language says of either probe, said once with a blank for which of the two it is."""

from __future__ import annotations

from collections.abc import Mapping


def probe_alarms(
    outlet: str, inlet: str, cases: Mapping[str, str], told: Mapping[str, str]
) -> dict[str, str]:
    """Texts of the alarms of both probes, by key.

    `outlet` and `inlet` are how a language calls the probes, put into the blank `{meter}`. `cases`
    are what is found, by its code; `told` is what is said besides, by "failure" or "care" and what
    of it ("failure", "failure.cause", "care.do").
    """
    texts: dict[str, str] = {}
    for name, spoken in (("outlet-probe", outlet), ("inlet-probe", inlet)):
        for case, text in cases.items():
            kind = "failure" if case.startswith("failure") else "care"
            texts[f"alarm.{name}-{kind}.{case}"] = text.format(meter=spoken)
        for part, text in told.items():
            texts[f"alarm.{name}-{part}"] = text.format(meter=spoken)
    return texts
