"""Numbers, dates and states in words, for one reader's language and units."""
