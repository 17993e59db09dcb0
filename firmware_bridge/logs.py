"""How the daemon writes its log: one line an event, plain in a terminal, to standard error."""

from __future__ import annotations

import logging
import sys

import structlog
from structlog.typing import EventDict, WrappedLogger

from firmware_bridge.secrets import without_secrets


def set_up_logs(level: int = logging.INFO) -> None:
    """Lines of time, level, event and what belongs to it."""
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            hide_secrets,
            structlog.dev.ConsoleRenderer(colors=sys.stderr.isatty()),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(level),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
    )


def hide_secrets(_: WrappedLogger, __: str, entry: EventDict) -> EventDict:
    """The entry with stars for every secret that found its way into it, tracebacks included."""
    return {
        name: value
        if isinstance(value, int | float | None)
        else without_secrets(value if isinstance(value, str) else repr(value))
        for name, value in entry.items()
    }


def hush_logs() -> None:
    """For commands that talk to a person: what goes wrong is said by them, not logged beside it."""
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
