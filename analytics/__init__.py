"""The thinking: pure functions over plain values. No clock, no file, no socket, no log."""
