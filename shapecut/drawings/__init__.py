"""Reading outlines from drawings and lists that other programs wrote."""
