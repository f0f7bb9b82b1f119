"""What arrives: targets, the natural sky, town light and the air."""
