"""What a file from a CAD system holds: its bodies, and what each of them is."""
