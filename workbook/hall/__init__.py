"""The notebooks as pages: on one's own machine, for a hall full of guests, on a stick, on a hub."""
