"""The hand-over book: a boat's record as static pages for whoever comes next, made from what the other layers find."""
