"""The virtual fleet: fifty invented sites on the real path, for the demonstration."""
