"""What the teaching notebooks are put together from: choosers, live pictures, tables."""
