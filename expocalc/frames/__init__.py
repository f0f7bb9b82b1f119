"""The check: simulated frames and stacks from the same rates as the plan's."""
