"""What a short delivers at every terminal, and what protective devices make of it."""
