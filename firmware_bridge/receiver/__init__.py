"""The far end of the stream: takes what sites publish, keeps it once, and says what is safe."""
