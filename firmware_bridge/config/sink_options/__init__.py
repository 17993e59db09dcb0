"""Options of the sinks that came with the first version, one file each."""
