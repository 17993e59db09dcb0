"""One file an alarm rule; each defines RULE."""
