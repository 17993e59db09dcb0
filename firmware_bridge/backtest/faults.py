"""What can be wrong with a folder of recorded lives."""

from __future__ import annotations

from analytics.errors import RecordingError


class TruthError(RecordingError):
    """Raised when the truth of a life cannot be read."""


class NothingToScoreError(RecordingError):
    """Raised when a folder holds no recording with truth."""
