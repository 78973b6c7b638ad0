"""From an outline and a board to rows and pieces; alone knows the carpenter's rules."""
