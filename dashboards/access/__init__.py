"""Who may see the pages and who may change something: people, sign-in, and the gate before all."""
