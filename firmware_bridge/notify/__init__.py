"""Telling people about alarms away from the page: what is due, to whom, and by which way."""
