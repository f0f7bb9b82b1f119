"""The ground: quantities, curves, tables and zero points."""
