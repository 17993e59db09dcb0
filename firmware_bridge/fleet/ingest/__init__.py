"""Takes what all sites publish, keeps each row once, and says what is safe."""
