"""One file a medium family; each defines MEDIUM."""
