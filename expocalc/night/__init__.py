"""When: darkness, Moon and target, the worth of each hour, the schedule and how many nights it takes."""
