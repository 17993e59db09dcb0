"""One file a sink: each defines `SINK`. They share the words of the folder above."""
