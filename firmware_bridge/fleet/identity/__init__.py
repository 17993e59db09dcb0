"""Who may speak for a site: codes to enrol by, logins at the broker, tokens of programs."""
