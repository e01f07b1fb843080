"""Use again what was rendered: lamp by lamp, and say what and why."""
