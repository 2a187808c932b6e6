"""Many dogs at once: the declarations evaluated on columns, and what a population is like."""
