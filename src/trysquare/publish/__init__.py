"""Paper: labels, sheets, later the book. Everything here turns values into pages; the command writes them."""
