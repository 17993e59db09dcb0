"""The steps in the order a good installer works, and which of them a line has."""

from __future__ import annotations

from typing import Final

from analytics.media import media
from analytics.setup import LineSetup
from analytics.survey.behind import has_bypass, typical
from dashboards.commissioning.progress import Progress

STEPS: Final = (
    "flush",
    "cartridge",
    "raw",
    "proposal",
    "dry",
    "standard",
    "zero",
    "jugs",
    "bypass",
    "blended",
    "run",
    "handover",
)
NEEDS_PROBE: Final = ("dry", "standard", "zero", "run")


def passed_over(step: str, line: LineSetup) -> str:
    """Why a line has no such step, as a code; nothing where it has."""
    if step in NEEDS_PROBE and not line.outlet_probe:
        return "no-probe"
    if step == "jugs" and not line.flow_meter:
        return "no-flow"
    if step == "bypass" and not turns(line):
        return "no-bypass"
    return ""


def turns(line: LineSetup) -> bool:
    """Whether the line's medium has a bypass to set."""
    medium = media().get(line.medium)
    return medium is not None and has_bypass(typical(line.medium, medium))


def after(step: str, line: LineSetup) -> str:
    """The next step that this line has; the last one stays."""
    rest = [s for s in STEPS[STEPS.index(step) + 1 :] if not passed_over(s, line)]
    return rest[0] if rest else step


def number(step: str) -> int:
    """Place of a step, from 1."""
    return STEPS.index(step) + 1


def probes(line: LineSetup) -> tuple[str, ...]:
    """The line's probes by side, the outlet's first."""
    return tuple(s for s in ("outlet", "inlet") if getattr(line, f"{s}_probe"))


def kinds_tested(water: str, line: LineSetup) -> tuple[str, ...]:
    """What is titrated: calcium where the medium takes nothing else."""
    calcium = ("calcium",) if line.medium == "magnesium" else ()
    return ("hardness", "alkalinity", *calcium)


def next_probe(page: Progress, step: str, line: LineSetup) -> str:
    """The probe whose turn it is in a step that takes them one by one; none: all are taken."""
    have = page.done.dry if step == "dry" else page.done.standard
    return next((probe for probe in probes(line) if probe not in have), "")
