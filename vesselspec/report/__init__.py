"""The same results as terminal text, Markdown and JSON."""
