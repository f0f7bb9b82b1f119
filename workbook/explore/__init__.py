"""Maps of hours: what sub length, sky and filter width do together."""
