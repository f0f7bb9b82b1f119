"""For stages larger than a hall: one server a guest, started by a hub."""
