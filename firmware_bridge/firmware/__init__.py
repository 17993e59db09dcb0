"""Code that runs on the meter node and on the host alike (MicroPython and CPython)."""
