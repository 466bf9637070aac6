"""Independent engines that solve the same circuits, and random circuits for all of them."""
