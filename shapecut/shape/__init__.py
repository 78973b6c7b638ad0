"""The outline and its geometry: rings of lines and arcs, treatments, allowances, clipping."""
