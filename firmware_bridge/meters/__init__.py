"""One file a meter driver; each defines METER."""
