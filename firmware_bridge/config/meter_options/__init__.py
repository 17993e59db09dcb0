"""Options of the drivers that came with the first version, one file each."""
