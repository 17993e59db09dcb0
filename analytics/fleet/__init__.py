"""Thinking over many sites: who is due, in which order, with which parts, and what they teach."""
