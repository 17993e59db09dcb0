"""One file a sink; each follows the store with a cursor of its own."""
