"""Forms by which people write into the logbook, and the logbook itself; usable without scripts."""
