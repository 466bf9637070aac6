"""Numbers only: what a conductor carries, what protects it, what flows. No rule and no opinion."""
