"""What a frame holds: pixels, header, and where each value comes from."""
