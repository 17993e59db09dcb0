"""How far the wheel turns in each step of a long run."""


def pulses_of(step):
    """One to sixteen pulses, without a pattern."""
    return 1 + ((step * 1103515245 + 12345) >> 16) % 16
