"""From pieces and what the yard sells to a cutting plan; alone knows packing."""
