"""The way out: what a sink is, what goes over its wire, and the task that leads it along."""
