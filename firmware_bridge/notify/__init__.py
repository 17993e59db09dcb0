"""One file a channel by which a person is told."""
