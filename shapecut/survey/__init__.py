"""From marks to cameras, card places and their uncertainty; alone knows projection and lenses."""
