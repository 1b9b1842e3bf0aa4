"""Truing: from readings with ordinary instruments to the as-built shape, a verdict, and what to do."""
