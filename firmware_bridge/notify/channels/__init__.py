"""ONE FILE a way to tell people: each defines NOTIFIER, and OPTIONS for the site file."""
