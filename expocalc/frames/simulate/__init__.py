"""Frames as a camera would take them: detector, scene, subs, masters and stacks from the same rates as the plan."""
