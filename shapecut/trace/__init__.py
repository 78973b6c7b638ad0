"""From pixels and a survey to an outline in mm; alone knows colour, edges and line fitting."""
