"""The error tree, by what to do about each.

LastLitreError               has .hint: one sentence for the person who stands there
  ConfigError                the site file; all faults listed       -> exit 2
  ActRefused                 what a person entered; .faults by field -> told, nothing is kept
  RecordingError             a recording file; names file and line  -> exit 2
  LinkError                  cable, port, broker, time-out          -> back off, retry for ever
  MeterError                 the link is fine, the answer is not    -> drop it, count it
  StoreError                 the site's file cannot be used
    StoreBusy                another daemon has it                  -> exit 2
    StoreFull                no room                                -> thin, alarm, go on
    StoreDamaged             unreadable                             -> set aside, alarm, go on
      StoreForeign           another program's file                 -> exit 2, left alone
    StoreFailing             the disk does not do as it is told     -> try again, for ever
  SinkError                  .retryable                             -> keep and retry
    PartialWrite             .rejected                              -> those aside, rest accepted
  ModelError                 input outside the model's domain       -> keep the last estimate, widen
"""

from __future__ import annotations

from collections.abc import Sequence


class LastLitreError(Exception):
    """Raised when something went wrong that a person can mend.

    `hint` is one sentence that says what to do next.
    """

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.hint = hint


class ConfigError(LastLitreError):
    """Raised when a site file has faults; `faults` holds one sentence for each."""

    def __init__(self, faults: Sequence[str], hint: str = "") -> None:
        super().__init__("\n".join(faults), hint)
        self.faults = tuple(faults)


class ActRefused(LastLitreError):  # noqa: N818 - the act is refused, the program is well
    """Raised when what a person entered cannot be.

    `faults` are (field, code): which field, and the code of the sentence that says what is wrong.
    """

    def __init__(self, faults: Sequence[tuple[str, str]], hint: str = "") -> None:
        super().__init__("; ".join(f"{field}: {code}" for field, code in faults), hint)
        self.faults = tuple(faults)


class RecordingError(LastLitreError):
    """Raised when a recording cannot be read on; the message names the file and the line."""


class LinkError(LastLitreError):
    """Raised when a cable, port or broker does not answer."""


class MeterError(LastLitreError):
    """Raised when a meter answered, but not with anything that can be used."""


class StoreError(LastLitreError):
    """Raised when the site's file cannot be used."""


class StoreBusy(StoreError):  # noqa: N818 - the name is what it is, not that it is an error
    """Raised when another daemon already writes this file."""


class StoreFull(StoreError):  # noqa: N818
    """Raised when there is no room left to write."""


class StoreDamaged(StoreError):  # noqa: N818
    """Raised when the file is not a readable database."""


class StoreForeign(StoreDamaged):
    """Raised when the file is a sound database of another program: it is never touched."""


class StoreFailing(StoreError):  # noqa: N818
    """Raised when the disk refuses to read, write or open; it may do so later."""


class SinkError(LastLitreError):
    """Raised when a sink did not take a batch; `retryable` says whether to try it again."""

    def __init__(self, message: str, hint: str = "", *, retryable: bool = True) -> None:
        super().__init__(message, hint)
        self.retryable = retryable


class PartialWrite(SinkError):  # noqa: N818
    """Raised when a sink took a batch except for some rows.

    `rejected` maps a row's site number (`seq`) to the reason the sink gave.
    """

    def __init__(self, message: str, rejected: dict[int, str]) -> None:
        super().__init__(message, retryable=False)
        self.rejected = rejected


class ModelError(LastLitreError):
    """Raised when an input lies outside what the model can describe."""
