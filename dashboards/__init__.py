"""The faces: every page, paper and command shown to a person."""
