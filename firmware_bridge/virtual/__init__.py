"""A café that exists only in numbers: water, week, pipes and a bed, behind a node's real logic."""
