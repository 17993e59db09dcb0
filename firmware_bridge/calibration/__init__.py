"""Calibrating the meters of a line: where rows come from, when a reading stands, what was done."""
