"""What light and gear add up to: rates, noise, sub length and hours."""
