"""Stock: what the machine needs, piece by piece, and which step picks each piece up."""
