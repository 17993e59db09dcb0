"""The wires: everything that fetches, waits, stores, sends or retries."""
