"""The check, in one order: simulate | read | measure | tell."""
