"""Many sites from one place: their messages kept as records and series, and what follows."""
