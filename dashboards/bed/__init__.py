"""Parts of the bed profile: beads, the ruler of days, the words beside it, and where they stand."""
