"""What panels are built of: controls, verdict box, quiet figures, tables, the plan's row, the frame."""
