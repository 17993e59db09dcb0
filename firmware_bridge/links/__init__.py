"""Bytes in and out: serial lines and, later, buses and sockets."""
