"""Carries the rows on to a time-series store, behind the records and never in their way."""
